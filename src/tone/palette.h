/* Palettes: the line of colours that tones run along. */
#ifndef MILORI_PALETTE_H
#define MILORI_PALETTE_H

#include "base/base.h"

/* count CIELAB (D50) colours, from the darkest tone to the lightest, L* rising
 * evenly. holds: whether the output can show a colour (chroma is lowered until
 * it does; hue and lightness stay); NULL: anything goes. */
void mil_palette_line(const milori_choices *choices, bool (*holds)(const void *, const double[3]),
                      const void *data, uint32_t count, double (*lab)[3]);
/* Reads a palette file into choices: lines "at L a b", # comments. */
milori_status mil_palette_read(milori_context *ctx, const char *path, milori_choices *choices);

#endif
