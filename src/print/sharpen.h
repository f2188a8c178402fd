/* Unsharp masking of lightness on the print, its reach in mm there. */
#ifndef MILORI_SHARPEN_H
#define MILORI_SHARPEN_H

#include "render/render.h"

typedef struct mil_sharpen mil_sharpen;

/* Rows of width words of light (height of them in all) go in by mil_sharpen_taker();
 * they come out to `to`, as many, in order. sigma_px: of the Gaussian blur taken off
 * lightness, above 0. What is added is the difference from the blur, held softly
 * under 8 L*, so that a hard edge gets no bright seam. Memory: about 6 sigma rows. */
milori_status mil_sharpen_new(milori_context *ctx, uint32_t width, uint32_t height, double sigma_px,
                              const mil_taker *to, mil_sharpen **sharpen);
mil_taker mil_sharpen_taker(mil_sharpen *sharpen);
void mil_sharpen_free(mil_sharpen *sharpen);

#endif
