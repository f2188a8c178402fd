/* A picture laid on its place on a page. */
#ifndef MILORI_LAY_H
#define MILORI_LAY_H

#include "draw/canvas.h"
#include "draw/label.h"
#include "print/picture.h"

typedef struct mil_lay {
    mil_canvas *canvas;
    uint32_t x, y, width, height; /* px of the page */
    double sharpen_px;            /* sigma; 0 not sharpened */
    const mil_print_tones *tones; /* of the picture's palette */
    const uint16_t *code;         /* device codes of places, as many as the canvas has channels;
                                     NULL: a canvas of one channel takes the places */
    uint64_t *pixels;             /* MIL_PLACES: how many px came to lie at each place, added; or
                                     NULL */
} mil_lay;

/* The part of the picture (its px; NULL all) onto the page. */
milori_status mil_lay_picture(milori_context *ctx, mil_picture *picture, const mil_part_rect *part,
                              const mil_lay *lay);
/* The same of all of a canvas of words. */
milori_status mil_lay_words(milori_context *ctx, mil_canvas *words, const mil_lay *lay);
/* A line of words, its middle at x, its top at y, height px, at most wide px long. */
milori_status mil_lay_label(milori_context *ctx, mil_font *font, const char *words,
                            mil_canvas *canvas, int64_t x, int64_t y, uint32_t height,
                            uint32_t wide, const uint16_t *code);

#endif
