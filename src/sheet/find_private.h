/* What the parts of finding share. */
#ifndef MILORI_FIND_PRIVATE_H
#define MILORI_FIND_PRIVATE_H

#include "sheet/find.h"

/* ---- small sums (stats.c) ---- */

/* The value at share q (0..1) of count values, which are reordered. */
double mil_quantile(float *values, size_t count, double q);

/* A straight line through points: y = at + slope * x, weights that give outliers nothing
 * (Tukey's biweight about a Theil-Sen start). sigma: residuals' robust deviation; used: share of
 * the points' weight that the line keeps. False if there are fewer than three points. */
typedef struct mil_line {
    double at, slope, sigma, used;
} mil_line;
bool mil_line_fit(const double *x, const double *y, const double *weight, size_t count,
                  mil_line *line);

/* Densities of one place less those of another. */
typedef struct mil_difference {
    float d[3];
} mil_difference;

/* ---- the mix of densities that shows exposure (dye.c) ---- */

/* Mean outer product of the count differences whose length is not among the greatest 1 - share.
 * work: count floats. */
void mil_covariance(const mil_difference *d, size_t count, int channels, double share, float *work,
                    double cov[3][3]);
/* The weights that make picture stand out most against noise (both mean outer products of
 * differences), held near the known sense of exposure where the sheet itself says little. Blue dye
 * counts positive. */
void mil_dye_axis(double picture[3][3], double noise[3][3], double weights[3]);

/* ---- sheets on the bed (bed.c, outline.c) ---- */

typedef enum mil_lid { MIL_LID_NONE, MIL_LID_WHITE, MIL_LID_BLACK } mil_lid;

/* The empty bed as the scan's border shows it. */
typedef struct mil_bed {
    mil_lid lid;
    double light[3];
    double noise; /* standard deviation of mil_bed_signal() on the bed */
} mil_bed;

milori_status mil_bed_estimate(milori_context *ctx, const mil_grid *grid, mil_bed *bed);
/* How far a cell's light is from any the bed can have, shadows included: 0 on the bed, and
 * linear in the share of the cell that a sheet covers. Signed. */
double mil_bed_signal(const mil_grid *grid, const mil_bed *bed, size_t cell);

/* Pieces of the map that are not bed: map is 0 on the bed, 1 .. count in the pieces, which are
 * sorted by nothing. nx * ny bytes to free(). */
milori_status mil_pieces(milori_context *ctx, const mil_grid *grid, const mil_bed *bed,
                         uint8_t **map, int *count);
/* The rectangle of one piece; false if it is too small to be a sheet. */
milori_status mil_outline_fit(milori_context *ctx, const mil_grid *grid, const mil_bed *bed,
                              const uint8_t *map, int piece, mil_rect *outline, bool *good);

/* ---- one sheet laid straight (patch.c) ---- */

/* The sheet resampled along its own sides, one sample a cell's width. */
typedef struct mil_patch {
    int nx, ny, channels;
    double pitch;     /* px of the scan a sample */
    double mm;        /* mm a sample */
    mil_rect outline; /* the sheet, px */
    float *density[3];
    float *dye; /* exposedness: grows with picture dye, blind to coat and texture as far as the
                   sheet allows; in units of its own noise between windows 1 mm apart */
    float
        *unrest; /* how far it steps, up or down, beyond what margin does; 0..1 (frame_search.c) */
    uint8_t *valid; /* 1 on the paper, clear of its cut edge */
} mil_patch;

milori_status mil_patch_make(milori_context *ctx, const mil_grid *grid, const mil_rect *outline,
                             mil_patch *patch);
void mil_patch_free(mil_patch *patch);
/* The dye axis and the map of exposedness (dye.c). */
milori_status mil_patch_dye(milori_context *ctx, mil_patch *patch);
/* Exposedness between samples; false outside what is valid. */
bool mil_patch_at(const mil_patch *patch, double x, double y, double *dye);
/* A rectangle in samples of the patch to px of the scan. */
void mil_patch_to_scan(const mil_patch *patch, const mil_rect *in, mil_rect *out);

#endif
