/* What was read from a printed chart, as JSON. */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "command/target_parts.h"

/* A number with the digits that mean something; null where it is none. */
static json_t *rounded(double value, double step) {
    return isfinite(value) ? json_real(floor(value / step + 0.5) * step) : json_null();
}

static json_t *ink_text(const double rgb[3]) {
    char text[8];
    snprintf(text, sizeof text, "#%x%x%x", (int)(15 * rgb[0] + 0.5), (int)(15 * rgb[1] + 0.5),
             (int)(15 * rgb[2] + 0.5));
    return json_string(text);
}

static json_t *patch_object(const mil_patch *p) {
    json_t *o = json_object();
    json_object_set_new(o, "ink", rounded(p->ink, 1e-6));
    json_object_set_new(o, "group", json_integer(p->group));
    json_object_set_new(o, "L", rounded(p->L, 1e-4));
    json_object_set_new(o, "a", rounded(p->a, 1e-4));
    json_object_set_new(o, "b", rounded(p->b, 1e-4));
    json_object_set_new(o, "sigma", rounded(p->sigma, 1e-4));
    json_object_set_new(o, "x_mm", rounded(p->x_mm, 1e-3));
    json_object_set_new(o, "y_mm", rounded(p->y_mm, 1e-3));
    json_object_set_new(o, "used", json_boolean(p->used));
    if (p->why)
        json_object_set_new(o, "why", json_string(p->why));
    return o;
}

static json_t *time_object(const mil_patches *patches, const mil_time_answer *a) {
    json_t *o = json_object(), *strips = json_array();
    for (int i = 0; i < a->strips; i++) {
        json_t *strip = json_object();
        json_object_set_new(strip, "time", rounded(pow(2, patches->stops * i), 1e-6));
        json_object_set_new(strip, "L", rounded(a->L[i], 1e-4));
        json_object_set_new(strip, "sigma", rounded(a->sigma[i], 1e-4));
        json_object_set_new(strip, "bare_L", rounded(a->bare_L[i], 1e-4));
        json_array_append_new(strips, strip);
    }
    json_object_set_new(o, "strips", strips);
    json_object_set_new(o, "just", rounded(a->just, 1e-4));
    json_object_set_new(o, "strip", json_integer(a->turned ? a->strips - a->strip : a->strip + 1));
    json_object_set_new(o, "time", rounded(pow(2, patches->stops * a->strip), 1e-6));
    json_object_set_new(o, "turned", json_boolean(a->turned));
    return o;
}

static json_t *ink_object(const mil_ink_answer *a) {
    json_t *o = json_object(), *ramps = json_array();
    for (int i = 0; i < a->ramps; i++) {
        json_t *ramp = json_object();
        json_object_set_new(ramp, "ink", ink_text(a->ramp[i].rgb));
        json_object_set_new(ramp, "dark_L", rounded(a->ramp[i].dark_L, 1e-4));
        json_object_set_new(ramp, "light_L", rounded(a->ramp[i].light_L, 1e-4));
        json_object_set_new(ramp, "covers", json_boolean(a->ramp[i].covers));
        json_object_set_new(ramp, "needed", rounded(a->ramp[i].needed, 1e-4));
        json_array_append_new(ramps, ramp);
    }
    json_object_set_new(o, "ramps", ramps);
    json_object_set_new(o, "just", rounded(a->just, 1e-4));
    json_object_set_new(o, "best", ink_text(a->ramp[a->best].rgb));
    return o;
}

static json_t *fit_object(const mil_fit *fit) {
    json_t *o = json_object();
    json_object_set_new(o, "used", json_integer((json_int_t)fit->used));
    json_object_set_new(o, "levels", json_integer((json_int_t)fit->levels));
    json_object_set_new(o, "repeat_sigma", rounded(fit->repeat_sigma, 1e-4));
    json_object_set_new(o, "missed_mean", rounded(fit->missed_mean, 1e-4));
    json_object_set_new(o, "missed_worst", rounded(fit->missed_worst, 1e-4));
    json_object_set_new(o, "next_mean", rounded(fit->next_mean, 1e-4));
    json_object_set_new(o, "next_worst", rounded(fit->next_worst, 1e-4));
    return o;
}

static json_t *chart_object(const mil_target_told *told) {
    const mil_target *t = told->target;
    const mil_patches *p = told->patches;
    json_t *o = json_object();
    json_object_set_new(o, "kind", json_string(mil_target_kind_name(t->kind)));
    json_object_set_new(o, "columns", json_integer(t->columns));
    json_object_set_new(o, "rows", json_integer(t->rows));
    json_object_set_new(o, "levels", json_integer(t->levels));
    json_object_set_new(o, "shuffle", json_integer((json_int_t)t->seed));
    json_object_set_new(o, "ink", ink_text(p->ink_rgb));
    json_object_set_new(o, "curved", json_boolean(t->curved));
    json_object_set_new(o, "mirrored", json_boolean(p->mirrored));
    json_object_set_new(o, "clear_L", rounded(p->clear_L, 1e-4));
    json_object_set_new(o, "clear_sigma", rounded(p->clear_sigma, 1e-4));
    json_object_set_new(o, "repeat_sigma", rounded(p->repeat_sigma, 1e-4));
    json_object_set_new(o, "uneven", rounded(p->uneven, 1e-4));
    json_object_set_new(o, "clipped", rounded(p->clipped, 1e-6));
    json_object_set_new(o, "spoiled", json_integer((json_int_t)p->spoiled));
    return o;
}

static json_t *all_of(const mil_target_told *told) {
    json_t *o = chart_object(told), *list = json_array(), *notes = json_array();
    if (told->time)
        json_object_set_new(o, "answer", time_object(told->patches, told->time));
    if (told->ink)
        json_object_set_new(o, "answer", ink_object(told->ink));
    if (told->fit)
        json_object_set_new(o, "answer", fit_object(told->fit));
    for (size_t i = 0; i < told->patches->count; i++)
        json_array_append_new(list, patch_object(&told->patches->patch[i]));
    for (size_t i = 0; i < told->notes->count; i++)
        json_array_append_new(
            notes, json_sprintf("%s: %s", told->notes->note[i].code, told->notes->note[i].text));
    json_object_set_new(o, "notes", notes);
    json_object_set_new(o, "patches", list);
    return o;
}

milori_status mil_target_print_json(milori_context *ctx, const mil_target_told *told) {
    json_t *all = all_of(told);
    char *text = all ? json_dumps(all, JSON_INDENT(1) | JSON_REAL_PRECISION(9)) : NULL;
    json_decref(all);
    if (!text)
        return mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: close other programs");
    puts(text);
    free(text);
    return MILORI_OK;
}
