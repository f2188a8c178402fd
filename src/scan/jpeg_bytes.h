/* A small picture as the bytes of a JPEG, to stand inside another file. */
#ifndef MILORI_JPEG_BYTES_H
#define MILORI_JPEG_BYTES_H

#include "base/base.h"

/* rgb: width * height px of 3 bytes in sRGB, no profile said. bytes: to free(). */
milori_status mil_jpeg_bytes(milori_context *ctx, uint32_t width, uint32_t height,
                             const uint8_t *rgb, int quality, uint8_t **bytes, size_t *size);

#endif
