/* One choice under several values: what a test strip or a proof shows. */
#ifndef MILORI_VARIATION_H
#define MILORI_VARIATION_H

#include "tone/choices.h"

enum { MIL_VARIATION_MOST = 12 };

typedef struct mil_variation {
    const mil_choice_info *choice; /* NULL: nothing varied */
    size_t count;
    char *text[MIL_VARIATION_MOST]; /* each value as the command takes it */
} mil_variation;

/* "stops=-1,-0.5,0", or "stops" alone for values round those of choices that are
 * worth a look. option names who asks, for the message: MILORI_ERR_ARGUMENT for
 * what is no choice or none of its values. Values with commas in them (corners,
 * spots) cannot be named. */
milori_status mil_variation_read(milori_context *ctx, const char *option, const char *text,
                                 const milori_choices *choices, mil_variation *variation);
/* Whether it is of tones or colours, so that parts of one picture can lie side by side under its
 * values: not of the file, the picture's place, or what the sheet is. */
bool mil_variation_of_tones(const mil_variation *variation);
/* Sets value i in choices. */
milori_status mil_variation_set(milori_context *ctx, const mil_variation *variation, size_t i,
                                milori_choices *choices);
void mil_variation_free(mil_variation *variation);

#endif
