/* The ink whose range just covers the process's. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "print/target_answers.h"

static const double JUST = 1.5; /* L*: a ramp's end and the lightest count as alike */

/* Mean L of a ramp's repeats at a step; NaN if none serves. */
static double step_tone(const mil_patches *patches, int group, int step) {
    double sum = 0, n = 0;
    for (size_t i = 0; i < patches->count; i++) {
        const mil_patch *p = &patches->patch[i];
        if (p->used && p->group == group &&
            (int)floor(p->ink * (patches->levels - 1) + 0.5) == step) {
            sum += p->L;
            n++;
        }
    }
    return n > 0 ? sum / n : NAN;
}

/* A ramp's tones, made to rise: what falls is noise. false: too few of them serve. */
static bool ramp_tones(const mil_patches *patches, int group, double *tone) {
    int read = 0;
    for (int k = 0; k < patches->levels; k++) {
        tone[k] = step_tone(patches, group, k);
        read += isfinite(tone[k]);
        if (k > 0 && !(tone[k] > tone[k - 1]))
            tone[k] = tone[k - 1];
    }
    return 3 * read >= 2 * patches->levels && isfinite(tone[0]);
}

/* The share of ink at which rising tones reach L, between two steps. */
static double ink_at(const double *tone, int levels, double L) {
    for (int k = 0; k < levels; k++)
        if (tone[k] >= L) {
            double before = k ? tone[k - 1] : tone[0], part = tone[k] - before;
            double back = part > 0 ? (tone[k] - L) / part : 0;
            return (k - back) / (levels - 1);
        }
    return 1;
}

static void choose(mil_ink_answer *a) {
    a->best = 0;
    for (int i = 1; i < a->ramps; i++) {
        const mil_ramp *r = &a->ramp[i], *b = &a->ramp[a->best];
        bool better = r->covers && b->covers   ? r->needed > b->needed
                      : r->covers == b->covers ? r->light_L > b->light_L
                                               : r->covers;
        if (better)
            a->best = i;
    }
}

milori_status mil_ink_answer_of(milori_context *ctx, const char *file, const mil_patches *patches,
                                mil_ink_answer *answer) {
    double tone[MIL_TARGET_GROUPS][MIL_TARGET_GROUPS];
    mil_ink_answer *a = answer;
    *a = (mil_ink_answer){.just = fmax(JUST, 2 * patches->clear_sigma), .white_L = -1e9};
    for (int g = 0; g < patches->groups; g++) {
        if (!ramp_tones(patches, g, tone[a->ramps]))
            continue;
        mil_ramp *r = &a->ramp[a->ramps];
        r->group = g;
        memcpy(r->rgb, patches->group_rgb[g], sizeof r->rgb);
        r->dark_L = tone[a->ramps][0];
        r->light_L = tone[a->ramps][patches->levels - 1];
        a->white_L = fmax(a->white_L, r->light_L);
        a->ramps++;
    }
    if (a->ramps < 2)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: fewer than two of the ramps can be read; print the target again on an "
                        "even coat",
                        file);
    for (int i = 0; i < a->ramps; i++) {
        a->ramp[i].covers = a->ramp[i].light_L >= a->white_L - a->just;
        a->ramp[i].needed = ink_at(tone[i], patches->levels, a->white_L - a->just);
    }
    choose(a);
    return MILORI_OK;
}
