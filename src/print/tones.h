/* A palette's line as print: places, words of light, and colours on paper. */
#ifndef MILORI_PRINT_TONES_H
#define MILORI_PRINT_TONES_H

#include "colour/output.h"

enum { MIL_PLACES = 65536 };

/* A word is linear light, 0 .. 65535 = the bare paper. Where a palette's lightness
 * stands still along a stretch, its words still rise a little, so that places can
 * be found again. */
typedef struct mil_print_tones {
    uint16_t *word;  /* of a place 0 .. 65535; never falling */
    uint16_t *place; /* of a word, the other way */
} mil_print_tones;

/* The line of the palette that choices hold, on paper: its lightest colour becomes
 * the paper's white (L* 100) and the others keep their proportion to it, as ICC's
 * media-relative colours do. MIL_PLACES colours. output: chroma is lowered, smoothly
 * along the line, where it cannot show the palette's; NULL: as drawn. */
milori_status mil_print_line(milori_context *ctx, const milori_choices *choices,
                             const mil_output *output, double (*lab)[3]);
milori_status mil_print_tones_make(milori_context *ctx, const milori_choices *choices,
                                   mil_print_tones *tones);
void mil_print_tones_free(mil_print_tones *tones);

#endif
