/* How a print will look on its paper, and where the printer's gamut ends: a
 * picture for the screen from the same places that the print is made from. */
#ifndef MILORI_LOOK_H
#define MILORI_LOOK_H

#include "colour/output.h"

/* A place is out of the gamut by CIEDE2000 1 or more, and far out from here. */
#define MIL_LOOK_OUT 1.0
#define MIL_LOOK_FAR 5.0

typedef struct mil_look {
    uint32_t count;
    uint16_t (*seen)[3]; /* count sRGB colours: what the place's codes give on the paper, its
                            white the paper's own (absolute colorimetric) */
    uint16_t (*mark)[3]; /* count sRGB greys that stand out from seen: the strokes' colour */
    uint8_t *lost;       /* count: 0 the printer has the colour, 1 out of its gamut, 2 far out */
    uint16_t paper[3];   /* sRGB of what stays unprinted */
} mil_look;

/* line: the count colours of the palette's places as they were wished, before anything kept them
 * inside the gamut; codes: what is printed for them (mil_output_line() of the line, or of one kept
 * inside), channels * count. What the screen's sRGB lacks is cut off channel by channel. */
milori_status mil_look_new(milori_context *ctx, const mil_output *output, const double (*line)[3],
                           const uint16_t *codes, uint32_t count, mil_look **look);
/* sRGB of the pixel (x, y) at a place, with hatching over what the gamut lost, so that it shows
 * without regard to colour: strokes down to the right, 1.2 mm apart, crossed by others where it is
 * far out. dpi is the picture's, at least 1; strokes are 2 pixels wide or more, and 6 apart. Any
 * thread. */
void mil_look_marked(const mil_look *look, uint32_t place, uint32_t x, uint32_t y, double dpi,
                     uint16_t rgb[3]);
void mil_look_free(mil_look *look);

#endif
