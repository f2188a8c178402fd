/* One channel of light, made larger or smaller: zimg, in 16 bit words. */
#ifndef MILORI_PRINT_RESAMPLE_H
#define MILORI_PRINT_RESAMPLE_H

#include "draw/canvas.h"
#include "render/render.h"

/* Takes the part of a canvas of one channel (px, may be broken; NULL all), resampled
 * to width x height px, to taker in rows. Spline over 36 px ("spline36"), widened
 * where it makes smaller. Px beyond the part but on the canvas weigh in at its edges,
 * so that parts agree with the whole to within a word or two. Words, because zimg's
 * floats differ between processors. Memory: the rows that a band of output stands on. */
milori_status mil_print_resample(milori_context *ctx, mil_canvas *canvas, const mil_part_rect *part,
                                 uint32_t width, uint32_t height, const mil_taker *taker);

#endif
