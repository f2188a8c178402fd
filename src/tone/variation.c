#include "tone/variation.h"

#include <stdlib.h>
#include <string.h>

/* What is worth a look where no values are named. */
static const struct {
    const char *name, *values;
} usual[] = {{"stops", "-1,-0.5,0,0.5,1"},
             {"grade", "auto,0,1,2,3,4"},
             {"soften-shadows", "0,0.3,0.6,1"},
             {"soften-lights", "0,0.3,0.6,1"},
             {"veil", "auto,0,5,10,20"},
             {"palette", "neutral,amber,blue"},
             {"sun", "black,white"},
             {"reading", "right,as-scanned"},
             {"turn", "0,90,180,270"}};

static const char *usual_values(const char *name) {
    for (size_t i = 0; i < sizeof usual / sizeof *usual; i++)
        if (strcmp(usual[i].name, name) == 0)
            return usual[i].values;
    return NULL;
}

static milori_status split(milori_context *ctx, const char *option, const char *values,
                           mil_variation *v) {
    for (const char *at = values;; at++) {
        size_t n = strcspn(at, ",");
        if (n == 0 || v->count == MIL_VARIATION_MOST)
            return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                            "--%s takes 1 to %d values between commas, as in %s=-1,0,1", option,
                            MIL_VARIATION_MOST, v->choice->name);
        v->text[v->count] = mil_alloc(ctx, n + 1, 1);
        if (!v->text[v->count])
            return MILORI_ERR_MEMORY;
        memcpy(v->text[v->count++], at, n);
        at += n;
        if (!*at)
            return MILORI_OK;
    }
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
                                 mil_variation *v) {
    char name[32] = "";
    size_t n = strcspn(text, "=");
    *v = (mil_variation){0};
    if (n < sizeof name)
        memcpy(name, text, n);
    v->choice = mil_choice_named(name);
    const char *values = text[n] ? text + n + 1 : usual_values(name);
    if (!v->choice || !values) {
        char *shown = mil_printable(text);
        milori_status status =
            mil_fail(ctx, MILORI_ERR_ARGUMENT,
                     "--%s takes a choice and its values, as in stops=-1,0,1; it cannot be %s",
                     option, shown ? shown : "that");
        free(shown);
        return status;
    }
    milori_status status = split(ctx, option, values, v);
    if (status == MILORI_OK)
        status = check(ctx, v);
    if (status != MILORI_OK)
        mil_variation_free(v);
    return status;
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
