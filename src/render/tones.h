/* Rows of amounts to places on the palette, through tables. */
#ifndef MILORI_TONES_H
#define MILORI_TONES_H

#include "tone/tone.h"

/* Amounts are looked up by the bits of (amount - low) as a float: 1024 entries an octave, straight
 * between them, from a 16th of the tone's floor up to 1024 times the light tones. What lies beyond
 * either end takes the end's value. Against mil_tone_of() a place is within 4 of 65535
 * (tests/render/test_tones.c). */
typedef struct mil_tones {
    float low, least, most; /* amount - low is held between least and most */
    uint32_t first;         /* bits of the first entry */
    float *entry;           /* places x 65535, or light in stops where there is a dodge */
    float *place;           /* places x 65535 of light in stops; NULL without a dodge */
} mil_tones;

milori_status mil_tones_make(milori_context *ctx, const mil_tone *tone, double light, bool dodge,
                             mil_tones *tones);
/* count amounts to places 0 .. 65535. stops: what the dodge adds, or NULL without one. */
void mil_tones_row(const mil_tones *tones, const float *amount, const float *stops, uint32_t count,
                   uint16_t *place);
void mil_tones_free(mil_tones *tones);

#endif
