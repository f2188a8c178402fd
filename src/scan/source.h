/* A picture file read as rows, top to bottom in stored order, behind one face. */
#ifndef MILORI_SOURCE_H
#define MILORI_SOURCE_H

#include "base/base.h"

typedef enum mil_space {
    MIL_SPACE_NONE = 0, /* the file says nothing */
    MIL_SPACE_ICC,      /* icc, icc_size */
    MIL_SPACE_SRGB,     /* PNG sRGB chunk, Exif ColorSpace 1 */
    MIL_SPACE_GAMMA     /* PNG gAMA, perhaps cHRM */
} mil_space;

typedef struct mil_source_info {
    const char *path;
    milori_format format;
    uint32_t width, height; /* px as stored, before orientation */
    int orientation;        /* 1..8, TIFF 6.0's meaning */
    int channels;           /* delivered: 1 grey (0 black), 3 red green blue */
    int bits;      /* stored per sample: 8 or 16 (1, 2, 4 of grey or indexed files are 8) */
    bool lossy;    /* JPEG, or JPEG or WebP (which may be lossy) in TIFF */
    double dpi[2]; /* x, y as stored; 0 if absent */
    mil_space space;
    const uint8_t *icc;
    size_t icc_size;
    double gamma;  /* MIL_SPACE_GAMMA: encoding exponent as in gAMA, 0.45455 */
    bool has_chrm; /* then: white x y, red x y, green x y, blue x y */
    double chrm[8];
    uint32_t pages;  /* 1 or more; the first is read */
    const char *xmp; /* packet, or NULL */
    size_t xmp_size;
    const char *software; /* what the file says wrote it, or NULL */
    size_t held;          /* bytes charged because this file cannot be streamed; 0 */
} mil_source_info;

typedef struct mil_source mil_source;

/* Opens path read-only and reads its header. Notes go to notes: "pages" when
 * more than one, "alpha" when alpha was laid on white, and the like. Refuses
 * what is not a regular file. */
milori_status mil_source_open(milori_context *ctx, const char *path, milori_notes *notes,
                              mil_source **source);
const mil_source_info *mil_source_info_of(const mil_source *source);
/* The next count rows (never past height), interleaved samples 0..65535
 * whatever the depth (8 bit codes x 257), width * channels of them a row. A
 * short or broken file fails; it is never padded. */
milori_status mil_source_read(mil_source *source, uint32_t count, uint16_t *rows);
/* Back before row 0, by a fresh decoding if need be. */
milori_status mil_source_rewind(mil_source *source);
void mil_source_close(mil_source *source);

/* XXH3 128 bit digest of the file's bytes, as 32 hex digits and a NUL. */
milori_status mil_file_digest(milori_context *ctx, const char *path, char digest[33]);

#endif
