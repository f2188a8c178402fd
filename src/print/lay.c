#include "print/lay.h"

#include <stdlib.h>
#include <string.h>

#include "print/resample.h"
#include "print/sharpen.h"

typedef struct laying {
    const mil_lay *lay;
    uint32_t y;    /* rows laid */
    uint16_t *row; /* one, as the canvas takes it */
    mil_sharpen *sharpen;
    mil_taker taker; /* of the picture's words */
} laying;

static milori_status take_rows(void *data, uint32_t count, const uint16_t *words) {
    laying *l = data;
    const mil_lay *lay = l->lay;
    size_t channels = lay->code ? (size_t)mil_canvas_channels(lay->canvas) : 1;
    for (uint32_t j = 0; j < count; j++) {
        for (uint32_t i = 0; i < lay->width; i++) {
            uint16_t place = lay->tones->place[*words++];
            if (lay->pixels)
                lay->pixels[place]++;
            if (lay->code)
                memcpy(l->row + i * channels, lay->code + place * channels,
                       channels * sizeof *l->row);
            else
                l->row[i] = place;
        }
        mil_canvas_put(lay->canvas, lay->x, (int64_t)lay->y + l->y++, lay->width, 1, l->row);
    }
    return MILORI_OK;
}

/* Everything is to be freed by end(), on failure too. */
static milori_status begin(milori_context *ctx, const mil_lay *lay, laying *l) {
    *l = (laying){.lay = lay, .taker = {take_rows, l}};
    l->row = mil_alloc(ctx, (size_t)lay->width * (size_t)mil_canvas_channels(lay->canvas),
                       sizeof *l->row);
    if (!l->row)
        return MILORI_ERR_MEMORY;
    if (!(lay->sharpen_px > 0))
        return MILORI_OK;
    milori_status status =
        mil_sharpen_new(ctx, lay->width, lay->height, lay->sharpen_px, &l->taker, &l->sharpen);
    if (status == MILORI_OK)
        l->taker = mil_sharpen_taker(l->sharpen);
    return status;
}

static void end(laying *l) {
    mil_sharpen_free(l->sharpen);
    free(l->row);
}

milori_status mil_lay_picture(milori_context *ctx, mil_picture *picture, const mil_part_rect *part,
                              const mil_lay *lay) {
    laying l;
    milori_status status = begin(ctx, lay, &l);
    if (status == MILORI_OK)
        status = mil_picture_words(picture, part, lay->width, lay->height, &l.taker);
    end(&l);
    return status;
}

milori_status mil_lay_words(milori_context *ctx, mil_canvas *words, const mil_lay *lay) {
    laying l;
    milori_status status = begin(ctx, lay, &l);
    if (status == MILORI_OK)
        status = mil_print_resample(ctx, words, NULL, lay->width, lay->height, &l.taker);
    end(&l);
    return status;
}

milori_status mil_lay_label(milori_context *ctx, mil_font *font, const char *words,
                            mil_canvas *canvas, int64_t x, int64_t y, uint32_t height,
                            uint32_t wide, const uint16_t *code) {
    mil_mask mask;
    milori_status status = mil_label(ctx, font, words, height, wide, &mask);
    if (status != MILORI_OK)
        return status;
    mil_canvas_ink(canvas, x - mask.width / 2, y, &mask, code);
    mil_mask_free(&mask);
    return MILORI_OK;
}
