#include "tone/variation.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* What is worth a look where no values are named. */
static const struct {
    const char *name, *values;
} usual[] = {{"grade", "0,1,2,3,4"},
             {"soften-shadows", "0,0.25,0.5,0.75,1"},
             {"soften-lights", "0,0.25,0.5,0.75,1"},
             {"veil", "0,5,10,20"},
             {"palette", "neutral,amber,blue"}};

static milori_status refuse(milori_context *ctx, const char *option, const char *text) {
    return mil_fail_option(ctx, option, text,
                           "a choice and its values, with commas between: stops=-1,0,1");
}

/* Texts between marks. */
static milori_status split(milori_context *ctx, const char *option, const char *values, char mark,
                           mil_variation *v) {
    for (const char *end; values; values = end ? end + 1 : NULL) {
        end = strchr(values, mark);
        size_t n = end ? (size_t)(end - values) : strlen(values);
        if (n == 0 || v->count == MIL_VARIATION_MOST)
            return refuse(ctx, option, v->choice->name);
        v->text[v->count] = mil_alloc(ctx, n + 1, 1);
        if (!v->text[v->count])
            return MILORI_ERR_MEMORY;
        memcpy(v->text[v->count++], values, n);
    }
    return MILORI_OK;
}

/* Two stops either way in halves, about those chosen. */
static milori_status stops_about(milori_context *ctx, const char *option, double stops,
                                 mil_variation *v) {
    char values[160];
    int used = 0;
    for (int i = -2; i <= 2; i++)
        used += snprintf(values + used, sizeof values - (size_t)used, "%s%+g", i > -2 ? "," : "",
                         stops + i * 0.5);
    return split(ctx, option, values, ',', v);
}

static milori_status usual_values(milori_context *ctx, const char *option, const char *text,
                                  const milori_choices *choices, mil_variation *v) {
    const mil_choice_info *info = v->choice;
    if (strcmp(info->name, "stops") == 0)
        return stops_about(ctx, option, choices->stops, v);
    for (size_t i = 0; i < sizeof usual / sizeof *usual; i++)
        if (strcmp(usual[i].name, info->name) == 0)
            return split(ctx, option, usual[i].values, ',', v);
    if (info->kind == MIL_CHOICE_WORD || info->kind == MIL_CHOICE_SWITCH)
        return split(ctx, option, info->values, '|', v);
    return refuse(ctx, option, text);
}

/* Each value must be one that the choice takes. */
static milori_status check(milori_context *ctx, const mil_variation *v) {
    milori_choices choices;
    milori_status status = MILORI_OK;
    milori_choices_default(&choices);
    for (size_t i = 0; i < v->count && status == MILORI_OK; i++)
        status = mil_variation_set(ctx, v, i, &choices);
    return status;
}

milori_status mil_variation_read(milori_context *ctx, const char *option, const char *text,
                                 const milori_choices *choices, mil_variation *v) {
    char name[32] = "";
    size_t n = strcspn(text, "=");
    *v = (mil_variation){0};
    if (n < sizeof name)
        memcpy(name, text, n);
    v->choice = mil_choice_named(name);
    if (!v->choice)
        return refuse(ctx, option, text);
    milori_status status = text[n] ? split(ctx, option, text + n + 1, ',', v)
                                   : usual_values(ctx, option, text, choices, v);
    if (status == MILORI_OK)
        status = check(ctx, v);
    if (status != MILORI_OK)
        mil_variation_free(v);
    return status;
}

bool mil_variation_of_tones(const mil_variation *v) {
    static const char *const outside[] = {"format", "depth",   "quality",  "profile",
                                          "turn",   "dpi",     "reading",  "shape",
                                          "frame",  "corners", "unexposed"};
    for (size_t i = 0; i < sizeof outside / sizeof *outside; i++)
        if (strcmp(outside[i], v->choice->name) == 0)
            return false;
    return true;
}

milori_status mil_variation_set(milori_context *ctx, const mil_variation *v, size_t i,
                                milori_choices *choices) {
    return milori_choice_set(ctx, choices, v->choice->name, v->text[i]);
}

void mil_variation_free(mil_variation *v) {
    for (size_t i = 0; i < v->count; i++)
        free(v->text[i]);
    *v = (mil_variation){0};
}
