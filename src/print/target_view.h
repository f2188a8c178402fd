/* A found chart: for the files that read it only. */
#ifndef MILORI_TARGET_VIEW_H
#define MILORI_TARGET_VIEW_H

#include "print/target_parts.h"

typedef struct mil_view {
    mil_grid grid;
    double to_xyz[3][3]; /* of the scan's light */
    mil_look look;
    mil_target target;
    mil_bead *bead;
    size_t beads;
    mil_warp warp;
    bool mirrored; /* on the stored scan */
} mil_view;

/* The scan's light at a reduced scale, and its look. */
milori_status mil_view_open(milori_context *ctx, const char *path, double dpi, milori_notes *notes,
                            mil_view *view);
/* Finds the chart on it. */
milori_status mil_view_find(milori_context *ctx, const char *shown, mil_view *view);
void mil_view_free(mil_view *view);

/* A square of the chart, read so that what differs from most of it has no say. */
typedef struct mil_square {
    double L, a, b; /* of the mean light */
    double spread;  /* robust, of L within */
    double odd;     /* share that had no say */
    double clipped; /* share of px at an end of the codes */
    double share;   /* of it that lies on the scan */
} mil_square;

/* x, y: its middle in mm; half: half its side. */
mil_square mil_view_square(const mil_view *view, double x, double y, double half);
/* How many of a cell's four beads were found. */
int mil_view_beads(const mil_view *view, int column, int row);

/* Takes what is smooth over the sheet off the patches of a tone target, and drops
 * those that their repeats do not bear out. */
milori_status mil_patches_even(milori_context *ctx, const mil_target *target, mil_patches *patches);

#endif
