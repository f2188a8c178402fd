/* Where the sheets and their frames are. */
#ifndef MILORI_FIND_H
#define MILORI_FIND_H

#include "sheet/geometry.h"
#include "sheet/grid.h"

/* One sheet of a scan. Everything in px of the stored scan. */
typedef struct mil_found {
    mil_rect outline; /* the cut paper */
    milori_origin outline_origin;
    mil_rect frame;
    milori_shape shape;         /* MILORI_ROUND: the ellipse inscribed in frame */
    mil_rect exposed;           /* what looks exposed: the frame, unless corners were given */
    milori_origin frame_origin; /* MILORI_ASSUMED unless all four sides were seen or given */
    bool side_found[4];         /* top right bottom left of frame */
    double corner_sigma_px;     /* standard uncertainty of a corner that shows */
    double angle_sigma;         /* of frame.angle, radians */
    char frame_name[24];
    bool margin_known;  /* unexposed margin was seen round the frame */
    milori_notes notes; /* codes that start with "frame": a doubt about the crop */
} mil_found;

/* Finds the sheets in reading order (upright scan: rows of sheets from the top,
 * left to right) and the frame of each. Never fails for want of a frame: what
 * was assumed is said. Fails with MILORI_ERR_SHEET if there is no sheet at all.
 * MILORI_ERR_ARGUMENT if the corners or spots that choices give cannot be of this scan.
 * Uses choices' frame_mm, shape, corners_px, spot_px. *found: count of them, to be freed
 * by mil_found_free(). */
milori_status mil_find(milori_context *ctx, const char *path, const mil_grid *grid,
                       const milori_choices *choices, mil_found **found, int *count);
void mil_found_free(mil_found *found, int count);

/* Which part of the scan a cell shows, for the separation: 0 bed or edge, 1 bare paper,
 * 2 coated unexposed margin, 3 inside the frame, 4 near a border between these (in doubt).
 * map: nx * ny. */
typedef enum mil_part { MIL_BED = 0, MIL_BARE, MIL_MARGIN, MIL_FRAME, MIL_DOUBT } mil_part;
milori_status mil_parts(milori_context *ctx, const mil_grid *grid, const mil_found *found,
                        uint8_t *map);

#endif
