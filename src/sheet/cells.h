/* One sheet's cells taken out of the grid, and what the separation finds of them. */
#ifndef MILORI_CELLS_H
#define MILORI_CELLS_H

#include "sheet/separate.h"

/* Planes of nx * ny values, row by row; cell (0, 0) is the grid's (x0, y0). */
typedef struct mil_cells {
    const mil_grid *grid;
    int x0, y0, nx, ny;
    double mm;         /* a cell's side */
    uint8_t *part;     /* mil_part */
    float *density[3]; /* mean absorption of the px */
    float *ks[3];      /* K/S of the mean light */
    float *coat;       /* log of the coat's thickness against the margin's; 0 where unknown */
    float *exposed;    /* broad picture dye per coat, K/S of red; rough */
    float *z;          /* see mil_separation */
    float *amount;     /* before fog, then after */
    float *fog;
    float *edge; /* mm inside the sheet's outline */
    float *work, *work2;
    size_t margin, frame; /* cells of MIL_MARGIN, MIL_FRAME */
    double clear;         /* amount of a coat without fog, 0 or less: the margin's middle is 0 */
} mil_cells;

milori_status mil_cells_make(milori_context *ctx, const mil_grid *grid, const mil_found *found,
                             mil_cells *cells);
void mil_cells_free(mil_cells *cells);
size_t mil_cells_count(const mil_cells *cells);

/* Value at share q of a plane over the cells of one part. */
double mil_cells_quantile(mil_cells *cells, const float *plane, mil_part part, double q);
/* Mean of a plane within a Gaussian of sigma cells over the cells whose part's
 * bit is in parts (1 << MIL_FRAME ...): smooth may not be plane; cells of other
 * parts get their neighbours' mean. */
void mil_cells_smooth(mil_cells *cells, const float *plane, unsigned parts, double sigma,
                      float *smooth);
/* A plane of knots for a surface; false without memory. */
milori_status mil_cells_surface(milori_context *ctx, const mil_cells *cells, const float *plane,
                                mil_surface *surface);

/* Planes of the channels less smooth ones; within: with how the px within a cell vary (for planes
 * of density alone). */
typedef struct mil_fine {
    float *const *plane, *const *smooth; /* 3 each */
    bool within;
} mil_fine;

/* Covariance of that over the cells of a part, the margin's restless ones left out (fine.c). */
void mil_fine_covariance(mil_cells *cells, mil_part part, const mil_fine *fine, double out[3][3]);
/* Of what is finer than a mm or so, between cells; z, amount and fog are overwritten. */
void mil_fine_between(mil_cells *cells, float *const plane[3], mil_part part, double out[3][3]);

/* The colours of one sheet, in K/S of the scan's channels. */
typedef struct mil_dyes {
    double paper[3];  /* bare paper */
    double yellow[3]; /* what the unexposed coat adds */
    double image[3];  /* what picture dye adds, the yellow it used up taken away; red 1 */
    bool paper_seen;
} mil_dyes;

/* Paper and yellow, and picture dye's usual colour (dyes.c). */
void mil_dyes_find(mil_cells *cells, mil_dyes *dyes);
/* The picture dye's own colour: the direction in which the frame's detail differs
 * most from the margin's, which is a sample of all that is no picture. */
void mil_dyes_image(mil_cells *cells, double image[3]);
/* Each cell's coat and exposure (coat.c). */
void mil_coat_find(mil_cells *cells, const mil_dyes *dyes);
/* Covariance of the absorptions of px within the margin's cells, by medians (mix.c);
 * cells->exposed is overwritten. */
void mil_margin_covariance(mil_cells *cells, double out[3][3]);
/* The mix of channels that shows the dye and little else, given that covariance;
 * detail: the one for what is finer than the smooth planes of density. leave: how much z changes
 * with the log of the coat at each cell (nx * ny). */
void mil_mix_find(mil_cells *cells, const mil_dyes *dyes, const double cov[3][3], double mix[3],
                  double detail[3], float *const smooth[3], float *leave);
/* noise^-1 signal, scaled to answer 1 to signal: the least noisy such mix. */
void mil_least_noisy(const double noise[3][3], const double signal[3], double mix[3]);
/* Mixes for damaged scans (mix_damaged.c). Compressed with loss: mix becomes the one for detail,
 * for densities that the dye changes as signal, red 1; it stays where nothing is to be gained.
 * Stretched levels: signal and mix from the sheet's own variations; z, amount and fog are
 * overwritten. */
void mil_mix_detail(mil_cells *cells, float *const smooth[3], const double signal[3],
                    double mix[3]);
void mil_mix_blind(mil_cells *cells, double signal[3], double mix[3]);
/* Variance of z within cells of the margin: the grain. */
double mil_mix_grain(const double cov[3][3], const double mix[3]);

/* Fog from the margin into the frame (fog.c): cells->fog from cells->amount,
 * its mean uncertainty inside the frame in *sigma. */
milori_status mil_fog_find(milori_context *ctx, mil_cells *cells, double *sigma);

/* The sun's track (sun.c): its cells become MIL_DOUBT, so that it sets no scale;
 * core (nx * ny) is 1 in its reversed core. Returns that core's share of the
 * frame. */
double mil_sun_find(mil_cells *cells, const mil_dyes *dyes, float *core);

#endif
