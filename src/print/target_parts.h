/* What the files of the charts share and nobody else needs. */
#ifndef MILORI_TARGET_PARTS_H
#define MILORI_TARGET_PARTS_H

#include "print/target.h"
#include "sheet/grid.h"

/* The next number of a stream that is the same everywhere. */
uint64_t mil_target_random(uint64_t *state);
/* The message of 49 bits and back; false if it is none. */
uint64_t mil_target_message(const mil_target *target);
bool mil_target_of_message(uint64_t message, mil_target *target);
bool mil_target_bit(uint64_t message, int column, int row);

/* Where the first bead lies on a film, mm from its left top as the print reads. */
void mil_target_origin(const mil_target *target, const double film_mm[2], double origin[2]);
/* Full ink of a group, 0..15 each. */
void mil_target_group_ink(const mil_target *target, int group, int ink[3]);

/* Median; sorts. NaN of nothing. */
double mil_median(double *value, size_t n);
/* Robust deviation, that of a normal spread, about the median; overwrites. */
double mil_deviation(double *value, size_t n, double *middle);

/* ---- finding ------------------------------------------------------------ */

/* A print as it is looked at: lightness 0..100 of the channel in which the blue
 * shows most, a value a cell of the grid. */
typedef struct mil_look {
    int nx, ny;
    double mm; /* a cell's side */
    float *value;
} mil_look;

/* A small light spot on darker ground. */
typedef struct mil_blob {
    double x, y, across; /* cells; cell (0, 0) covers 0..1 */
} mil_blob;

/* Spots between least and most cells across, in the order they are met. free() them. */
milori_status mil_target_blobs(milori_context *ctx, const mil_look *look, double pitch,
                               mil_blob **blob, size_t *count);
/* The greatest square lattice of about that pitch among the spots, or count 0. Beads
 * have their own numbering; pierced is not set. */
milori_status mil_target_lattice(milori_context *ctx, const mil_blob *blob, size_t blobs,
                                 double pitch, mil_bead **bead, size_t *count);
/* Sets how surely each bead is pierced. */
void mil_target_look_in(const mil_look *look, double pitch, mil_bead *bead, size_t count);
/* Whether (column, row) runs the other way about than (x, y). */
bool mil_target_is_mirrored(const mil_bead *bead, size_t count);

/* From places on the chart to cells: a smooth bend that goes through the beads. */
typedef struct mil_warp {
    double coefficient[2][10]; /* cubic in columns and rows about the middle */
    double middle[2], half;
    size_t count;
    double (*bead)[4]; /* column, row, and what is left of x and y there */
} mil_warp;

/* Drops beads that do not lie where their neighbours say. */
milori_status mil_warp_fit(milori_context *ctx, mil_bead *bead, size_t *count, mil_warp *warp);
void mil_warp_free(mil_warp *warp);
/* x, y: mm on the chart; out: cells. */
void mil_warp_at(const mil_warp *warp, double x, double y, double out[2]);

#endif
