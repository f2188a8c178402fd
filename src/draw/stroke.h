/* Lines as masks. */
#ifndef MILORI_STROKE_H
#define MILORI_STROKE_H

#include "draw/mask.h"

/* Covers, smoothly at its edges, what lies within width / 2 px of the line through
 * count points (px of the mask; a point that is no number breaks the line). dash:
 * px drawn and px left, over and over; 0 unbroken. */
void mil_stroke(mil_mask *mask, const double (*points)[2], size_t count, double width, double dash);

#endif
