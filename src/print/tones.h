/* A palette's line as print: places, words of light, and colours on paper. */
#ifndef MILORI_PRINT_TONES_H
#define MILORI_PRINT_TONES_H

#include "base/base.h"

enum { MIL_PLACES = 65536 };

/* A word is linear light, 0 .. 65535 = the bare paper. Where a palette's lightness
 * stands still along a stretch, its words still rise a little, so that places can
 * be found again. */
typedef struct mil_print_tones {
    uint16_t *word;   /* of a place 0 .. 65535; never falling */
    uint16_t *place;  /* of a word, the other way */
    double (*lab)[3]; /* of a place: the palette's colours, its lightest made the paper's
                         white (L* 100), as ICC's media-relative colours are */
} mil_print_tones;

/* Of the palette that choices hold; as drawn, no output's gamut looked at. */
milori_status mil_print_tones_make(milori_context *ctx, const milori_choices *choices,
                                   mil_print_tones *tones);
void mil_print_tones_free(mil_print_tones *tones);

#endif
