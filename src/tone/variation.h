/* One choice under several values: what a test strip or a proof shows. */
#ifndef MILORI_VARIATION_H
#define MILORI_VARIATION_H

#include "tone/choices.h"

enum { MIL_VARIATION_MOST = 24 };

typedef struct mil_variation {
    const mil_choice_info *choice; /* NULL: nothing varied */
    size_t count;
    char *text[MIL_VARIATION_MOST]; /* each value as the command takes it */
} mil_variation;

/* "stops=-1,-0.5,0" or "stops" alone, for values that are worth a look. option
 * names who asks, for the message. What takes a name, corners or spots cannot be
 * varied by values with commas in them. */
milori_status mil_variation_read(milori_context *ctx, const char *option, const char *text,
                                 mil_variation *variation);
/* Sets value i in choices. */
milori_status mil_variation_set(milori_context *ctx, const mil_variation *variation, size_t i,
                                milori_choices *choices);
void mil_variation_free(mil_variation *variation);

#endif
