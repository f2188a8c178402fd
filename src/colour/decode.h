/* From a scan's code values to linear light, through its profile. */
#ifndef MILORI_DECODE_H
#define MILORI_DECODE_H

#include "scan/source.h"

typedef enum mil_decode_kind {
    MIL_DECODE_TABLES, /* matrix profile or grey: one table a channel */
    MIL_DECODE_GRID    /* profile with look-up tables: through lcms2 */
} mil_decode_kind;

/* Linear light 0..1 (1 = the profile's white): the scan's own primaries where its
 * profile is a matrix, linear light in ROMM (ProPhoto) primaries, D50, where it
 * is a table (then lights beyond the profile's white may pass 1). Never negative,
 * and in a table never falling. */
typedef struct mil_decode {
    mil_decode_kind kind;
    int channels;        /* 1 or 3 */
    float *table[3];     /* MIL_DECODE_TABLES: 65536 entries each */
    double to_xyz[3][3]; /* linear light to XYZ, D50 (ICC PCS); grey: the white's XYZ in row 0 */
    char name[128];      /* the profile's description, or "sRGB (assumed)" */
    bool assumed;
    void *transform; /* lcms2, of MIL_DECODE_GRID */
} mil_decode;

/* Takes the profile, PNG's gAMA/cHRM or sRGB as the file says; without any,
 * sRGB (grey: its tone curve) is assumed, with a note "profile". A profile that
 * does not fit the picture's channels, or is malformed, is refused. */
milori_status mil_decode_new(milori_context *ctx, const mil_source_info *info, milori_notes *notes,
                             mil_decode **decode);
/* count pixels, interleaved; light has channels * count values. Any thread. */
void mil_decode_row(const mil_decode *decode, const uint16_t *codes, uint32_t count, float *light);
void mil_decode_free(mil_decode *decode);

#endif
