/* A picture's middle at its actual size, again and again under another value of one
 * choice, on one page. */
#ifndef MILORI_TEST_STRIP_H
#define MILORI_TEST_STRIP_H

#include "draw/canvas.h"
#include "print/layout.h"
#include "print/picture.h"
#include "tone/variation.h"

typedef struct mil_strip_wish {
    mil_layout_wish layout; /* size: of the whole picture, which need not fit this paper */
    double sharpen_mm;
    const char *printer; /* ICC profile; "" sRGB */
    mil_variation vary;
    const char *foot; /* a line below, or NULL */
} mil_strip_wish;

/* The page, in the printer's codes. Sheet `sheet` of picture is taken again for each. */
milori_status mil_strip_draw(milori_context *ctx, mil_picture *picture, int sheet,
                             const mil_picture_wish *picture_wish, const mil_strip_wish *wish,
                             mil_canvas **canvas);

#endif
