#include "render/plan.h"

#include <math.h>
#include <stdlib.h>

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
    return mil_tones_make(ctx, &plan->tone, s->scale.light, plan->dodged, &plan->tones);
}

static double dpi_of(const mil_measured *measured, const milori_choices *choices) {
    if (isfinite(choices->dpi))
        return choices->dpi;
    return measured->grid.mm_known ? 25.4 / measured->grid.mm_px : 0;
}

static milori_status make_places(milori_context *ctx, mil_plan *plan) {
    plan->channels = 1;
    plan->codes = mil_alloc(ctx, PLACES, sizeof *plan->codes);
    for (int i = 0; plan->codes && i < PLACES; i++)
        plan->codes[i] = (uint16_t)i;
    return plan->codes ? MILORI_OK : MILORI_ERR_MEMORY;
}

static milori_status fill(milori_context *ctx, const milori_choices *choices, int index,
                          bool places, mil_plan *plan) {
    const mil_measured *measured = plan->measured;
    milori_status status = mil_straight_of(ctx, measured, index, choices, &plan->straight);
    if (status == MILORI_OK)
        status = mil_response_make(ctx, plan->separation, &plan->response);
    if (status == MILORI_OK)
        status = make_tones(ctx, choices, plan);
    if (status == MILORI_OK && plan->dodged)
        status = mil_dodge_read(ctx, choices, &plan->straight, &measured->found[index].frame,
                                &plan->dodge);
    if (status == MILORI_OK)
        status = places ? make_places(ctx, plan) : make_codes(ctx, choices, plan);
    return status;
}

static milori_status plan_new(milori_context *ctx, const mil_measured *measured, int index,
                              const milori_choices *choices, bool places, mil_plan **out) {
    mil_plan *plan = mil_alloc(ctx, 1, sizeof *plan);
    if (!plan)
        return MILORI_ERR_MEMORY;
    plan->measured = measured;
    plan->separation = &measured->separation[index];
    plan->dpi = dpi_of(measured, choices);
    milori_status status = fill(ctx, choices, index, places, plan);
    if (status != MILORI_OK) {
        mil_plan_free(plan);
        return status;
    }
    *out = plan;
    return MILORI_OK;
}

milori_status mil_plan_new(milori_context *ctx, const mil_measured *measured, int index,
                           const milori_choices *choices, mil_plan **plan) {
    return plan_new(ctx, measured, index, choices, false, plan);
}

milori_status mil_plan_new_places(milori_context *ctx, const mil_measured *measured, int index,
                                  const milori_choices *choices, mil_plan **plan) {
    return plan_new(ctx, measured, index, choices, true, plan);
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

void mil_plan_point(const mil_plan *plan, double x, double y, double *scan_x, double *scan_y) {
    const mil_straight *g = &plan->straight;
    double u, v;
    mil_orient_back(g->turn, g->width, g->height, x, y, &u, &v);
    u -= (double)g->width / 2;
    v -= (double)g->height / 2;
    *scan_x = g->cx + u * g->cosine - v * g->sine;
    *scan_y = g->cy + u * g->sine + v * g->cosine;
}
