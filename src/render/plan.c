#include "render/plan.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tone/palette.h"

enum { PLACES = 65536, LINE = 1025 };
/* A reversed sun filled to white lies two stops above the lightest tones; a black one holds no
 * amount at all. */
static const double SUN_OVER_LIGHT = 4;

static bool output_holds(const void *output, const double lab[3]) {
    return mil_output_holds(output, lab);
}

/* The palette's line is smooth: every place lies straight between two of its LINE colours. */
static void spread_line(const double (*line)[3], double (*lab)[3]) {
    for (int i = 0; i < PLACES; i++) {
        double at = (double)i / (PLACES - 1) * (LINE - 1);
        int k = at < LINE - 2 ? (int)at : LINE - 2;
        for (int c = 0; c < 3; c++)
            lab[i][c] = line[k][c] + (at - k) * (line[k + 1][c] - line[k][c]);
    }
}

static milori_status make_codes(milori_context *ctx, const milori_choices *choices,
                                mil_plan *plan) {
    mil_output_free(plan->output);
    free(plan->codes);
    plan->output = NULL;
    plan->codes = NULL;
    milori_status status =
        mil_output_new(ctx, choices->profile, choices->intent, choices->black_point, &plan->output);
    if (status != MILORI_OK)
        return status;
    plan->channels = mil_output_channels(plan->output);
    double(*line)[3] = mil_alloc(ctx, LINE, sizeof *line);
    double(*lab)[3] = mil_alloc(ctx, PLACES, sizeof *lab);
    plan->codes = mil_alloc(ctx, (size_t)PLACES * (size_t)plan->channels, sizeof *plan->codes);
    if (line && lab && plan->codes) {
        mil_palette_line(choices, output_holds, plan->output, LINE, line);
        spread_line((const double(*)[3])line, lab);
        mil_output_line(plan->output, (const double(*)[3])lab, PLACES, plan->codes);
    } else {
        status = MILORI_ERR_MEMORY;
    }
    free(line);
    free(lab);
    return status;
}

static milori_status make_tones(milori_context *ctx, const milori_choices *choices,
                                mil_plan *plan) {
    const mil_separation *s = plan->separation;
    double veil = isnan(choices->veil) ? s->veil : choices->veil;
    mil_tone_resolve(&s->scale, choices, veil, s->shoulder, &plan->tone);
    plan->dodged = choices->dodge[0] != 0;
    plan->sun_amount =
        choices->sun == MILORI_SUN_WHITE ? (float)(SUN_OVER_LIGHT * s->scale.light) : 0;
    mil_tones_free(&plan->tones);
    return mil_tones_make(ctx, &plan->tone, s->scale.light, plan->dodged, &plan->tones);
}

static double dpi_of(const mil_measured *measured, const milori_choices *choices) {
    if (isfinite(choices->dpi))
        return choices->dpi;
    return measured->grid.mm_known ? 25.4 / measured->grid.mm_px : 0;
}

static milori_status make_dodge(milori_context *ctx, const milori_choices *choices,
                                mil_plan *plan) {
    mil_dodge_free(&plan->dodge);
    if (!choices->dodge[0])
        return MILORI_OK;
    return mil_dodge_read(ctx, choices, &plan->straight, &plan->measured->found[plan->index].frame,
                          &plan->dodge);
}

static bool same_colours(const milori_choices *a, const milori_choices *b) {
    return strcmp(a->profile, b->profile) == 0 && a->intent == b->intent &&
           a->black_point == b->black_point && a->palette == b->palette &&
           a->palette_stops == b->palette_stops &&
           memcmp(a->palette_stop, b->palette_stop, a->palette_stops * sizeof *a->palette_stop) ==
               0;
}

milori_status mil_plan_change(milori_context *ctx, mil_plan *plan, const milori_choices *choices) {
    milori_status status =
        mil_straight_of(ctx, plan->measured, plan->index, choices, &plan->straight);
    plan->dpi = dpi_of(plan->measured, choices);
    if (status == MILORI_OK)
        status = make_tones(ctx, choices, plan);
    if (status == MILORI_OK)
        status = make_dodge(ctx, choices, plan);
    if (status == MILORI_OK && !(plan->codes && same_colours(&plan->choices, choices)))
        status = make_codes(ctx, choices, plan);
    plan->choices = *choices;
    return status;
}

milori_status mil_plan_new(milori_context *ctx, const mil_measured *measured, int index,
                           const milori_choices *choices, mil_plan **out) {
    mil_plan *plan = mil_alloc(ctx, 1, sizeof *plan);
    if (!plan)
        return MILORI_ERR_MEMORY;
    plan->measured = measured;
    plan->index = index;
    plan->separation = &measured->separation[index];
    milori_status status = mil_response_make(ctx, plan->separation, &plan->response);
    if (status == MILORI_OK)
        status = mil_plan_change(ctx, plan, choices);
    if (status != MILORI_OK) {
        mil_plan_free(plan);
        return status;
    }
    *out = plan;
    return MILORI_OK;
}

void mil_plan_free(mil_plan *plan) {
    if (!plan)
        return;
    mil_response_free(&plan->response);
    mil_tones_free(&plan->tones);
    mil_dodge_free(&plan->dodge);
    mil_output_free(plan->output);
    free(plan->codes);
    free(plan);
}

void mil_plan_size(const mil_plan *plan, uint32_t *width, uint32_t *height) {
    mil_straight_size(&plan->straight, width, height);
}

double mil_plan_dpi(const mil_plan *plan) {
    return plan->dpi;
}

const mil_output *mil_plan_output(const mil_plan *plan) {
    return plan->output;
}
