/* A page of 16 bit codes that is drawn on in any order and read once, in rows. */
#ifndef MILORI_CANVAS_H
#define MILORI_CANVAS_H

#include "draw/mask.h"

typedef struct mil_canvas mil_canvas;

/* width x height px of channels (1..4) codes, all of them background (channels
 * values). Small ones lie in memory, larger ones in an unlinked file in $TMPDIR
 * or /tmp, 2 bytes a code. */
milori_status mil_canvas_new(milori_context *ctx, uint32_t width, uint32_t height, int channels,
                             const uint16_t *background, mil_canvas **canvas);
uint32_t mil_canvas_width(const mil_canvas *canvas);
uint32_t mil_canvas_height(const mil_canvas *canvas);
int mil_canvas_channels(const mil_canvas *canvas);
/* Everything drawn is cut off at the page's edges; x and y may be negative. A
 * failure (a full disk) is kept, and said by mil_canvas_get(). */
void mil_canvas_put(mil_canvas *canvas, int64_t x, int64_t y, uint32_t width, uint32_t height,
                    const uint16_t *codes);
void mil_canvas_fill(mil_canvas *canvas, int64_t x, int64_t y, uint32_t width, uint32_t height,
                     const uint16_t *code);
/* Lays code on as far as the mask covers, its left top at (x, y): codes are mixed
 * in proportion, which is right for small marks and words alone. */
void mil_canvas_ink(mil_canvas *canvas, int64_t x, int64_t y, const mil_mask *mask,
                    const uint16_t *code);
/* Rows first .. first + count - 1, width * channels codes each. */
milori_status mil_canvas_get(mil_canvas *canvas, uint32_t first, uint32_t count, uint16_t *rows);
void mil_canvas_free(mil_canvas *canvas);

#endif
