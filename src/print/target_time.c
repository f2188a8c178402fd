/* The shortest time that gives the deepest blue through clear film. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "print/target_answers.h"
#include "print/target_parts.h"

/* A difference in L* that hardly shows between patches side by side: common
 * practice, no source. */
static const double JUST = 1;

/* Median of a strip and the standard error of it. */
static bool strip_tone(const mil_patches *patches, int strip, double *value, double *L,
                       double *sigma) {
    size_t n = 0;
    for (size_t i = 0; i < patches->count; i++)
        if (patches->patch[i].used && patches->patch[i].group == strip)
            value[n++] = patches->patch[i].L;
    if (n < 3)
        return false;
    *sigma = 1.2533 * mil_deviation(value, n, L) / sqrt((double)n);
    return true;
}

/* The first strip that no later one is darker than by just; the last if none. */
static int first_full(const double *L, int strips, double just) {
    for (int i = 0; i + 1 < strips; i++) {
        bool full = true;
        for (int k = i + 1; k < strips; k++)
            full = full && !(L[i] - L[k] > just);
        if (full)
            return i;
    }
    return strips - 1;
}

static void turn_strips(double *value, int strips) {
    for (int i = 0, k = strips - 1; i < k; i++, k--) {
        double swap = value[i];
        value[i] = value[k];
        value[k] = swap;
    }
}

static milori_status read_strips(milori_context *ctx, const char *file, const mil_patches *patches,
                                 mil_time_answer *a) {
    double *value = mil_alloc(ctx, patches->count, sizeof *value), noise = 0;
    if (!value)
        return MILORI_ERR_MEMORY;
    milori_status status = MILORI_OK;
    for (int i = 0; i < a->strips && status == MILORI_OK; i++) {
        if (!strip_tone(patches, i, value, &a->L[i], &a->sigma[i]))
            status = mil_fail(ctx, MILORI_ERR_SHEET,
                              "%s: strip %d cannot be read; scan all of it, clean", file, i + 1);
        noise = fmax(noise, a->sigma[i]);
    }
    free(value);
    a->just = fmax(JUST, 2 * sqrt(2) * noise);
    return status;
}

milori_status mil_time_answer_of(milori_context *ctx, const char *file, const mil_patches *patches,
                                 mil_time_answer *answer) {
    mil_time_answer *a = answer;
    *a = (mil_time_answer){.strips = patches->groups, .bare_strip = -1};
    milori_status status = read_strips(ctx, file, patches, a);
    if (status != MILORI_OK)
        return status;
    memcpy(a->bare_L, patches->bare_L, sizeof a->bare_L);
    a->turned = a->L[0] < a->L[a->strips - 1] - a->just;
    if (a->turned) {
        turn_strips(a->L, a->strips);
        turn_strips(a->sigma, a->strips);
        turn_strips(a->bare_L, a->strips);
    }
    a->strip = first_full(a->L, a->strips, a->just);
    if (a->strip == a->strips - 1)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: the blue still deepens to the last strip, by %.1f L*: exposure too "
                        "short for the deepest blue; print the sheet again with longer times",
                        file, a->L[a->strips - 2] - a->L[a->strips - 1]);
    if (!patches->film_only)
        a->bare_strip = first_full(a->bare_L, a->strips, a->just);
    return MILORI_OK;
}
