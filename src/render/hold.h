/* The amounts of a part of a positive, kept so that tones can be tried on them again and again. */
#ifndef MILORI_HOLD_H
#define MILORI_HOLD_H

#include "render/render.h"

typedef struct mil_held mil_held;

/* Reads source through as mil_render() does. Memory: 4 bytes an output px, charged against the
 * limit while held lives. Neither plan nor source is needed afterwards. */
milori_status mil_hold(milori_context *ctx, const mil_plan *plan, mil_source *source,
                       const mil_part_rect *part, double scale, mil_held **held);
/* Size in px of the picture it makes. */
void mil_held_size(const mil_held *held, uint32_t *width, uint32_t *height);
/* Whether plan has the same amounts in the same places: it differs in tones, colours and dodging
 * at most. */
bool mil_held_fits(const mil_held *held, const mil_plan *plan);
/* The finished picture under plan, which held must fit: width * height * channels codes, to the
 * bit those of mil_render(). On as many threads as the context allows. */
milori_status mil_held_render(milori_context *ctx, const mil_held *held, const mil_plan *plan,
                              uint16_t *codes);
void mil_held_free(mil_held *held);

#endif
