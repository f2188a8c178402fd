/* Palettes: the line of colours that tones run along. */
#ifndef MILORI_PALETTE_H
#define MILORI_PALETTE_H

#include "base/base.h"

/* count CIELAB (D50) colours, from the darkest tone to the lightest. L* rises
 * evenly in the palettes of our own; in one of the user's it follows the stops,
 * joined without overshoot, and never falls. All of ours end at L* 100, which is
 * the medium's own white: no ink, no veil over the lights. holds: whether the
 * output can show a colour; where it cannot, chroma is lowered, smoothly along
 * the line, until it does (hue and lightness stay). Where it cannot show even the
 * grey of that lightness, lowering is no help, and the neighbours' is taken.
 * NULL: anything goes. */
void mil_palette_line(const milori_choices *choices, bool (*holds)(const void *, const double[3]),
                      const void *data, uint32_t count, double (*lab)[3]);

/* Reads a palette file into choices (palette, palette_name and the stops): lines
 * "at L a b", # comments; at is 0 (darkest) .. 1 or 0 % .. 100 %, L 0..100, a and
 * b -128..128. A message names file and line; choices are then as before. */
milori_status mil_palette_read(milori_context *ctx, const char *path, milori_choices *choices);

/* What is wrong with count stops, in words, and at which one; NULL if nothing. */
const char *mil_palette_fault(const milori_palette_stop *stops, size_t count, size_t *which);

#endif
