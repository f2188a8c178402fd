/* Dodging and burning in by a grey picture laid over the frame. */
#ifndef MILORI_DODGE_H
#define MILORI_DODGE_H

#include "render/straight.h"

/* The picture reduced to at most MIL_DODGE_SIDE px a side by averaging, turned to lie as the
 * straight grid does, in stops. */
enum { MIL_DODGE_SIDE = 2048 };
typedef struct mil_dodge {
    uint32_t width, height;
    float *stops;
    double ax, bx, cx, ay, by, cy; /* grid px (x, y) to picture px (ax + bx x + cx y, ...) */
} mil_dodge;

/* Reads the picture named by choices, laid over the frame as the finished positive shows it: the
 * code for mid grey (128 of 255, 32768 of 65535) changes nothing, white adds dodge_stops, black
 * takes them, in a straight line of codes between. Of a colour picture the mean of the channels
 * counts. The picture is stretched to the frame. */
milori_status mil_dodge_read(milori_context *ctx, const milori_choices *choices,
                             const mil_straight *straight, const mil_rect *frame, mil_dodge *dodge);
/* Stops at grid px (x0 + i dx, y), smoothly interpolated (cubic B-spline); 0 outside the frame. */
void mil_dodge_row(const mil_dodge *dodge, double x0, double dx, double y, uint32_t count,
                   float *stops);
void mil_dodge_free(mil_dodge *dodge);

#endif
