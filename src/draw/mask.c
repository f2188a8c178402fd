#include "draw/mask.h"

#include <stdlib.h>

milori_status mil_mask_new(milori_context *ctx, uint32_t width, uint32_t height, mil_mask *mask) {
    *mask = (mil_mask){0};
    if (width && height > SIZE_MAX / width)
        return mil_fail(ctx, MILORI_ERR_MEMORY, "a mark of %u x %u px is too large; make it less",
                        width, height);
    mask->cover = mil_alloc(ctx, width, height);
    if (!mask->cover)
        return MILORI_ERR_MEMORY;
    mask->width = width;
    mask->height = height;
    return MILORI_OK;
}

void mil_mask_free(mil_mask *mask) {
    free(mask->cover);
    *mask = (mil_mask){0};
}

void mil_mask_mirror(mil_mask *mask) {
    for (uint32_t y = 0; y < mask->height; y++) {
        uint8_t *row = mask->cover + (size_t)y * mask->width;
        for (uint32_t i = 0, j = mask->width; i + 1 < j; i++) {
            uint8_t kept = row[--j];
            row[j] = row[i];
            row[i] = kept;
        }
    }
}

milori_status mil_mask_turn(milori_context *ctx, mil_mask *mask) {
    mil_mask turned;
    milori_status status = mil_mask_new(ctx, mask->height, mask->width, &turned);
    if (status != MILORI_OK)
        return status;
    for (uint32_t y = 0; y < mask->height; y++)
        for (uint32_t x = 0; x < mask->width; x++)
            turned.cover[(size_t)x * turned.width + (mask->height - 1 - y)] =
                mask->cover[(size_t)y * mask->width + x];
    mil_mask_free(mask);
    *mask = turned;
    return MILORI_OK;
}
