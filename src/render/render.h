/* The Plan and the second pass: every picture milori makes comes from here. */
#ifndef MILORI_RENDER_H
#define MILORI_RENDER_H

#include "colour/output.h"
#include "sheet/measure.h"
#include "tone/tone.h"

typedef struct mil_plan mil_plan;

/* What one sheet under given choices becomes. Made once, then only read; the
 * measured scan must outlive it.
 *
 * The crop is the frame, or the outline where the whole sheet is chosen: the
 * rectangle as found, to a whole px. What lies outside a round frame is margin and
 * stays as it is on the sheet: dark, with its brush marks. A frame that is tilted
 * by less than a quarter px over its half is copied px by px; any other is turned
 * upright by a kernel that keeps 0.928 of the contrast at 0.8 of the Nyquist
 * frequency where it keeps least. A sun filled to white goes to four times the
 * light tones' amount. */
milori_status mil_plan_new(milori_context *ctx, const mil_measured *measured, int index,
                           const milori_choices *choices, mil_plan **plan);
/* Makes plan into what mil_plan_new() would make of the same sheet under other choices, keeping
 * what they leave as it was: far quicker where the colours stay. On failure the plan is fit for
 * mil_plan_free() alone. */
milori_status mil_plan_change(milori_context *ctx, mil_plan *plan, const milori_choices *choices);
void mil_plan_free(mil_plan *plan);
/* Size in px of the whole positive at scale 1 (the scan's own resolution). */
void mil_plan_size(const mil_plan *plan, uint32_t *width, uint32_t *height);
double mil_plan_dpi(const mil_plan *plan); /* 0 unknown */
const mil_output *mil_plan_output(const mil_plan *plan);

/* Takes rows of the finished picture, in order: count rows of width pixels,
 * interleaved 16 bit codes of the output's channels. */
typedef struct mil_taker {
    milori_status (*rows)(void *data, uint32_t count, const uint16_t *codes);
    void *data;
} mil_taker;

/* A part of the positive, px of the whole positive at scale 1. */
typedef struct mil_part_rect {
    double x, y, w, h;
} mil_part_rect;

/* Renders part (NULL: all) at scale (output px a scan px, 0 < scale <= 1) into
 * taker. The size is that of mil_render_size(): part goes out to whole output px,
 * which lie on one grid over the whole positive. At scale 1 a part has the same
 * codes as the whole; below, output px are means of amounts over their area.
 *
 * Reads source from its first row; needs it to itself. Memory: some bands of 64
 * rows, and width x sine of the tilt one-channel rows, charged against the limit.
 * Quarter turns and pictures on their head go through an unlinked file of 2 bytes
 * a px in $TMPDIR or /tmp. Progress runs from 0.5 to 1 (the first pass is the first
 * half); cancel is asked between bands. The codes do not depend on the number of
 * threads. */
void mil_render_size(const mil_plan *plan, const mil_part_rect *part, double scale, uint32_t *width,
                     uint32_t *height);
milori_status mil_render(milori_context *ctx, const mil_plan *plan, mil_source *source,
                         const mil_part_rect *part, double scale, const mil_taker *taker);

#endif
