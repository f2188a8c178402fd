/* A picture's middle at its actual size, again and again under another value of one
 * choice, on one page. */
#ifndef MILORI_TEST_STRIP_H
#define MILORI_TEST_STRIP_H

#include "draw/canvas.h"
#include "print/layout.h"
#include "print/picture.h"

enum { MIL_STRIPS_MOST = 12 };

typedef struct mil_strip_wish {
    mil_layout_wish layout; /* size: of the whole picture, which need not fit this paper */
    double sharpen_mm;
    const char *printer; /* ICC profile; "" sRGB */
    const char *choice;  /* its name */
    size_t count;
    char value[MIL_STRIPS_MOST][64];
    const char *foot; /* a line below, or NULL */
} mil_strip_wish;

/* From "stops" (values of its own) or "stops=-1,0,1". MILORI_ERR_ARGUMENT. */
milori_status mil_strip_read(milori_context *ctx, const char *text, const milori_choices *choices,
                             mil_strip_wish *wish);
/* The page, in the printer's codes. Sheet `sheet` of picture is taken again for each. */
milori_status mil_strip_draw(milori_context *ctx, mil_picture *picture, int sheet,
                             const mil_picture_wish *picture_wish, const mil_strip_wish *wish,
                             mil_canvas **canvas);

#endif
