/* The first pass: every row of a scan read once into cells of fixed size in mm. */
#ifndef MILORI_GRID_H
#define MILORI_GRID_H

#include "colour/decode.h"

/* How light becomes absorption: density -log10 R. Kubelka and Munk's K/S is made
 * of it afterwards (separate.h). */
typedef struct mil_absorb {
    const mil_decode *decode;
    float floor;     /* least light taken as real */
    float *table[3]; /* code to absorption, of a decode with tables; else NULL */
} mil_absorb;

milori_status mil_absorb_init(milori_context *ctx, const mil_decode *decode, mil_absorb *absorb);
void mil_absorb_free(mil_absorb *absorb);
/* One light value. */
float mil_absorb_light(const mil_absorb *absorb, float light);
/* count pixels, interleaved codes, to absorption values, interleaved. scratch:
 * channels * count floats (used by a decode without tables). */
void mil_absorb_row(const mil_absorb *absorb, const uint16_t *codes, uint32_t count, float *scratch,
                    float *out);

/* Cells in stored order. A cell (i, j) covers px [i*cell, (i+1)*cell) and so on;
 * the last ones may cover fewer. Planes hold nx * ny values, row by row. */
typedef struct mil_grid {
    uint32_t width, height; /* px of the stored scan */
    int orientation;        /* 1..8 */
    int channels;
    int bits;
    bool lossy;    /* compressed with loss: fine detail kept in lightness only */
    double mm_px;  /* mm a pixel (mean of x and y) */
    bool mm_known; /* false: 300 dpi assumed; the file gave none, or none to believe */
    uint32_t cell; /* px a side: about 0.34 mm (4 px at 300 dpi) */
    int nx, ny;
    float *light[3];    /* mean linear light */
    float *absorb[3];   /* mean absorption */
    float *cov[6];      /* covariance of absorption within the cell (over n - 1): rr rg rb gg gb bb;
                           grey: [0] */
    float *clip_low[3]; /* share of px at code 0, 0..1 */
    float *clip_high[3];                /* at code 65535 */
    uint32_t codes_used[3];             /* how many different codes (of 256 or 65536) occur */
    uint32_t code_low[3], code_high[3]; /* extreme codes, 0..65535 */
} mil_grid;

/* dpi: the user's, or NaN for the file's own (believed from 30 to 20000 and for a bed up to
 * 700 mm). Reads every row; progress runs from 0 to 0.5. */
milori_status mil_grid_build(milori_context *ctx, mil_source *source, const mil_absorb *absorb,
                             double dpi, mil_grid *grid);
void mil_grid_free(mil_grid *grid);

#endif
