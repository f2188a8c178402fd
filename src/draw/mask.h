/* Where ink goes and how much: the shape of words and marks. */
#ifndef MILORI_MASK_H
#define MILORI_MASK_H

#include "base/base.h"

typedef struct mil_mask {
    uint32_t width, height;
    uint8_t *cover; /* width * height, 0 none .. 255 full */
} mil_mask;

/* Empty, or fails. */
milori_status mil_mask_new(milori_context *ctx, uint32_t width, uint32_t height, mil_mask *mask);
void mil_mask_free(mil_mask *mask);
/* Left to right, in place. */
void mil_mask_mirror(mil_mask *mask);
/* A quarter turn clockwise. */
milori_status mil_mask_turn(milori_context *ctx, mil_mask *mask);

#endif
