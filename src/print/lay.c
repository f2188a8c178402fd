#include "print/lay.h"

#include <stdlib.h>
#include <string.h>

#include "print/sharpen.h"

typedef struct laying {
    const mil_lay *lay;
    const mil_print_tones *tones;
    uint32_t y;    /* rows laid */
    uint16_t *row; /* one, as the canvas takes it */
} laying;

static milori_status take_rows(void *data, uint32_t count, const uint16_t *words) {
    laying *l = data;
    const mil_lay *lay = l->lay;
    size_t channels = lay->code ? (size_t)mil_canvas_channels(lay->canvas) : 1;
    for (uint32_t j = 0; j < count; j++) {
        for (uint32_t i = 0; i < lay->width; i++) {
            uint16_t place = l->tones->place[*words++];
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

milori_status mil_lay_picture(milori_context *ctx, mil_picture *picture, const mil_part_rect *part,
                              const mil_lay *lay) {
    laying l = {.lay = lay, .tones = mil_picture_tones(picture)};
    mil_taker taker = {take_rows, &l};
    mil_sharpen *sharpen = NULL;
    milori_status status = MILORI_OK;
    l.row = mil_alloc(ctx, (size_t)lay->width * (size_t)mil_canvas_channels(lay->canvas),
                      sizeof *l.row);
    if (!l.row)
        return MILORI_ERR_MEMORY;
    if (lay->sharpen_px > 0)
        status = mil_sharpen_new(ctx, lay->width, lay->height, lay->sharpen_px, &taker, &sharpen);
    if (sharpen)
        taker = mil_sharpen_taker(sharpen);
    if (status == MILORI_OK)
        status = mil_picture_words(picture, part, lay->width, lay->height, &taker);
    mil_sharpen_free(sharpen);
    free(l.row);
    return status;
}
