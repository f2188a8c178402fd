/* The grid of the positive's pixels, laid straight over a turned frame of the stored scan. */
#ifndef MILORI_STRAIGHT_H
#define MILORI_STRAIGHT_H

#include "render/render.h"

/* The straight grid lies along the frame, in the stored scan's order of rows. Grid point (u, v),
 * px from the grid's middle, is scan point (cx + u cos - v sin, cy + u sin + v cos). */
typedef struct mil_straight {
    double cx, cy;       /* px of the stored scan */
    double cosine, sine; /* 1 and 0 where the tilt moves no px by a quarter px */
    uint32_t width, height;
    int turn; /* orientation (TIFF 6.0) from the grid to the positive */
} mil_straight;

/* The crop and turn that choices ask for: to the frame, or to the outline. The crop is the
 * rectangle itself, rounded to whole px; where it is not tilted its corner lies on a px's, so that
 * scan pixels are copied and never softened. */
milori_status mil_straight_of(milori_context *ctx, const mil_measured *measured, int index,
                              const milori_choices *choices, mil_straight *straight);
/* Size in px of the positive. */
void mil_straight_size(const mil_straight *straight, uint32_t *width, uint32_t *height);

/* A part of the grid at a scale. */
typedef struct mil_raster {
    bool sharp;                        /* scale 1: resampled by the kernel; else averaged */
    double qx, qy;                     /* px of the straight grid an output px takes */
    uint32_t left, top, width, height; /* output px, in the straight grid's order */
} mil_raster;
void mil_raster_of(const mil_straight *straight, const mil_part_rect *part, double scale,
                   mil_raster *raster);
/* Its size as the positive lies. */
void mil_raster_size(const mil_straight *straight, const mil_raster *raster, uint32_t *width,
                     uint32_t *height);

#endif
