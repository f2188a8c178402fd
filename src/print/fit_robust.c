/* Which patches are sound, how much like patches spread, and whether they make a
 * response at all. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "print/fit_private.h"

enum { TURNS = 6, NEAR = 21, DRAWS = 48 };
static const double LEAST_SPREAD = 0.12; /* L*: what a scan and paper tooth leave at best */
static const double FAR = 4.5;           /* spreads */
static const double FAR_LEAST = 1.0;     /* L*: nearer than that is never spoiled */

static int by_value(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

static double median(double *v, size_t count) {
    qsort(v, count, sizeof *v, by_value);
    return count == 0 ? 0 : (v[(count - 1) / 2] + v[count / 2]) / 2;
}

/* Robust spread of the residuals about each patch: middles move more than ends. */
static void spread_out(mil_samples *s) {
    size_t near = s->count < NEAR ? s->count : NEAR;
    for (size_t i = 0; i < s->count; i++)
        s->work[i] = fabs(s->left[i]);
    double all = 1.4826 * median(s->work, s->count);
    for (size_t i = 0; i < s->count; i++) {
        double about[NEAR];
        size_t from = i < near / 2 ? 0 : i - near / 2;
        from = from + near > s->count ? s->count - near : from;
        for (size_t k = 0; k < near; k++)
            about[k] = fabs(s->left[from + k]);
        double here = 1.4826 * median(about, near);
        s->spread[i] = hypot(fmax(here, 0.5 * all), LEAST_SPREAD);
    }
}

static void residuals(mil_samples *s, const mil_smooth *smooth) {
    for (size_t i = 0; i < s->count; i++)
        s->left[i] = s->L[i] - mil_smooth_at(smooth, s->x[i]);
}

/* Weights by variance: the patch's own and what like patches spread by here. */
static double own_weight(const mil_samples *s, size_t i) {
    double sigma = s->patch[i]->sigma;
    return 1 / (s->spread[i] * s->spread[i] + sigma * sigma);
}

/* Tukey's biweight of residuals in spreads. */
static double trust(double r) {
    double u = r / 4.685;
    return fabs(u) < 1 ? (1 - u * u) * (1 - u * u) : 0;
}

static size_t leave_out(mil_samples *s) {
    size_t spoiled = 0;
    for (size_t i = 0; i < s->count; i++) {
        bool off = fabs(s->left[i]) > FAR * s->spread[i] && fabs(s->left[i]) > FAR_LEAST;
        s->weight[i] = off ? 0 : own_weight(s, i);
        if (off) {
            s->patch[i]->used = false;
            s->patch[i]->why = "lies far from the patches like it";
            spoiled++;
        }
    }
    return spoiled;
}

/* Pooled spread of patches of the same ink about their mean; without repeats, that
 * about the fit. */
static double repeat_spread(const mil_samples *s) {
    double sum = 0, free = 0, about = 0, used = 0;
    for (size_t i = 0, next; i < s->count; i = next) {
        double mean = 0, n = 0;
        for (next = i; next < s->count && s->ink[next] <= s->ink[i] + 1e-6; next++)
            if (s->weight[next] > 0) {
                mean += s->L[next];
                n++;
                about += s->left[next] * s->left[next];
                used++;
            }
        mean /= fmax(n, 1);
        for (size_t k = i; k < next; k++)
            if (s->weight[k] > 0)
                sum += (s->L[k] - mean) * (s->L[k] - mean);
        free += fmax(n - 1, 0);
    }
    return free >= 5 ? sqrt(sum / free) : sqrt(about / fmax(used, 1));
}

milori_status mil_fit_robust(milori_context *ctx, const char *file, mil_samples *s, mil_fit *fit,
                             mil_smooth *free_fall) {
    for (int turn = 0; turn < TURNS; turn++) {
        if (!mil_smooth_fit(s->x, s->L, s->weight, s->count, true, 0, free_fall))
            break;
        residuals(s, free_fall);
        spread_out(s);
        for (size_t i = 0; i < s->count; i++)
            s->weight[i] = own_weight(s, i) * trust(s->left[i] / s->spread[i]);
    }
    fit->spoiled = leave_out(s);
    fit->used = s->count - fit->spoiled;
    fit->repeat_sigma = repeat_spread(s);
    if (4 * fit->spoiled > s->count || fit->used < 8 ||
        !mil_smooth_fit(s->x, s->L, s->weight, s->count, true, 0, free_fall))
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: %zu of %zu patches lie far from those like them; even out coat and "
                        "light, or check that the chart is the one that was printed",
                        file, fit->spoiled, s->count);
    residuals(s, free_fall);
    return MILORI_OK;
}

/* ---- uncertainty -------------------------------------------------------- */

/* xorshift64 (Marsaglia 2003): +1 or -1. */
static double draw_sign(uint64_t *state) {
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    return *state & 0x10000 ? 1 : -1;
}

typedef struct draws {
    double middle[MIL_FIT_POINTS], sum[MIL_FIT_POINTS]; /* the curve; squares of what draws move */
    double even[MIL_FIT_TONES];                         /* places of even tones among the points */
    double mean, worst;
} draws;

/* Where even tones lie on the curve: numbers of points, with fractions. */
static void place_tones(draws *d) {
    double dark = d->middle[0], range = d->middle[MIL_FIT_POINTS - 1] - dark;
    int k = 0;
    for (int i = 0; i < MIL_FIT_TONES; i++) {
        double L = dark + range * i / (MIL_FIT_TONES - 1.0);
        while (k + 2 < MIL_FIT_POINTS && d->middle[k + 1] <= L)
            k++;
        double rise = d->middle[k + 1] - d->middle[k];
        d->even[i] = k + (rise > 0 ? fmin(fmax((L - d->middle[k]) / rise, 0), 1) : 0);
    }
}

static void take_draw(draws *d, const double *curve) {
    double mean = 0, worst = 0;
    for (int i = 0; i < MIL_FIT_POINTS; i++)
        d->sum[i] += (curve[i] - d->middle[i]) * (curve[i] - d->middle[i]);
    for (int i = 0; i < MIL_FIT_TONES; i++) {
        int k = d->even[i] < MIL_FIT_POINTS - 1 ? (int)d->even[i] : MIL_FIT_POINTS - 2;
        double t = d->even[i] - k;
        double off =
            fabs((1 - t) * (curve[k] - d->middle[k]) + t * (curve[k + 1] - d->middle[k + 1]));
        mean += off / MIL_FIT_TONES;
        worst = fmax(worst, off);
    }
    d->mean += mean / DRAWS;
    d->worst += worst / DRAWS;
}

milori_status mil_fit_uncertainty(milori_context *ctx, const mil_samples *s,
                                  const mil_smooth *smooth, double *sigma, mil_fit *fit) {
    draws *d = mil_alloc(ctx, 1, sizeof *d);
    if (!d)
        return MILORI_ERR_MEMORY;
    mil_fit_curve(s, smooth, d->middle);
    place_tones(d);
    double grow = sqrt((double)fit->used / fmax((double)fit->used - smooth->freedom, 1));
    uint64_t state = 0x9e3779b97f4a7c15u;
    for (int n = 0; n < DRAWS; n++) {
        mil_smooth drawn;
        double curve[MIL_FIT_POINTS];
        for (size_t i = 0; i < s->count; i++) {
            double at = mil_smooth_at(smooth, s->x[i]);
            s->work[i] = at + draw_sign(&state) * grow * (s->L[i] - at);
        }
        if (!mil_smooth_fit(s->x, s->work, s->weight, s->count, false, smooth->lambda, &drawn))
            continue;
        mil_fit_curve(s, &drawn, curve);
        take_draw(d, curve);
    }
    for (int i = 0; i < MIL_FIT_POINTS; i++)
        sigma[i] = sqrt(d->sum[i] / DRAWS);
    fit->next_mean = d->mean;
    fit->next_worst = d->worst;
    free(d);
    return MILORI_OK;
}
