/* The sides of a frame to a fraction of a cell: half levels of their steps, one angle for all. */
#include "sheet/frame_private.h"

#include <math.h>
#include <stdlib.h>

static const double CORNER_MM = 1.2; /* rounded corners are left out */
static const double GATE_MM[5] = {1.0, 0.8, 0.6, 0.45, 0.35};
static const double ON_LINE_MM = 0.2, NEAR_MM = 0.9; /* steps on the line, and by chance near it */
enum { HALF = 12 };                                  /* half samples each way of a profile */

/* A place on a side: how far along (signed so that a turn of the frame adds along * turn to
 * every side's offset), how far out, and its weight. */
typedef struct place {
    double along, out, weight;
} place;

typedef struct refine {
    const mil_patch *patch;
    double full;
    place *place[4];
    int count[4], tried[4];
} refine;

/* Exposedness at u along and r outwards of side k of a frame turned by angle. */
static bool look(const mil_patch *p, int k, double angle, double u, double r, double *dye) {
    double a = k == MIL_TOP || k == MIL_BOTTOM ? u : k == MIL_RIGHT ? r : -r;
    double b = k == MIL_LEFT || k == MIL_RIGHT ? u : k == MIL_BOTTOM ? r : -r;
    double c = cos(angle), s = sin(angle);
    return mil_patch_at(p, p->nx / 2.0 + a * c - b * s, p->ny / 2.0 + a * s + b * c, dye);
}

/* The profile across side k at u, mean of three places along it, from inside to outside in half
 * samples; what cannot be seen is NaN. */
static void profile(const mil_patch *p, const mil_guess *g, int k, double u, double *value) {
    for (int i = -HALF; i <= HALF; i++) {
        double sum = 0, one;
        int n = 0;
        for (int d = -1; d <= 1; d++)
            if (look(p, k, g->angle, u + d, g->offset[k] + 0.5 * i, &one)) {
                sum += one;
                n++;
            }
        value[i + HALF] = n ? sum / n : NAN;
    }
}

static double level(const double *value, double from, double to) {
    double sum = 0;
    int n = 0;
    for (int i = 0; i <= 2 * HALF; i++) {
        double at = 0.5 * (i - HALF);
        if (at >= from && at <= to && !isnan(value[i])) {
            sum += value[i];
            n++;
        }
    }
    return n ? sum / n : NAN;
}

/* Where the profile passes half way from the inside's level to the outside's, nearest to 0. */
static bool half_way(const double *value, double mm, double gate, double *at, double *step) {
    double in = level(value, -0.8 / mm, -0.35 / mm), out = level(value, 0.35 / mm, 1.0 / mm);
    double half = (in + out) / 2, best = 1e9;
    *step = in - out;
    if (isnan(half))
        return false;
    for (int i = 0; i < 2 * HALF; i++) {
        double a = value[i] - half, b = value[i + 1] - half;
        if (!(a * b <= 0) || a == b || (b - a) * *step > 0)
            continue;
        double x = 0.5 * (i - HALF + a / (a - b));
        if (fabs(x) < fabs(best))
            best = x;
    }
    *at = best;
    return fabs(best) <= gate / mm;
}

static void gather(refine *r, const mil_guess *g, double gate) {
    double mm = r->patch->mm;
    for (int k = 0; k < 4; k++) {
        r->count[k] = r->tried[k] = 0;
        if (!g->seen[k])
            continue;
        bool across = k == MIL_LEFT || k == MIL_RIGHT;
        double low = across ? g->offset[MIL_TOP] : g->offset[MIL_LEFT];
        double high = across ? g->offset[MIL_BOTTOM] : g->offset[MIL_RIGHT];
        double half = (across ? r->patch->ny : r->patch->nx) / 2.0;
        low = isnan(low) ? half - 2 / mm : low;
        high = isnan(high) ? half - 2 / mm : high;
        double sign = k == MIL_TOP || k == MIL_RIGHT ? 1 : -1;
        for (double u = -low + CORNER_MM / mm; u <= high - CORNER_MM / mm; u++) {
            double value[2 * HALF + 1], at, step;
            profile(r->patch, g, k, u, value);
            r->tried[k]++;
            /* A side is exposed inside; a step the other way is no side. */
            if (!half_way(value, mm, gate, &at, &step) || step < 0.5 * r->full)
                continue;
            double strong = step * step / (9 * r->full * r->full);
            r->place[k][r->count[k]++] = (place){
                .along = sign * u, .out = g->offset[k] + at, .weight = strong > 1 ? 1 : strong};
        }
    }
}

static double weight_of(const place *q, double offset, double turn, double c) {
    double e = (q->out + q->along * turn - offset) / c;
    return fabs(e) < 1 ? q->weight * (1 - e * e) * (1 - e * e) : 0;
}

/* One robust step: offsets and the turn common to the sides. */
static void adjust(const refine *r, mil_guess *g, double c, double *stiff) {
    double top = 0, bottom = 0, mean_along[4] = {0}, mean_out[4] = {0}, all[4] = {0};
    for (int k = 0; k < 4; k++) {
        for (int i = 0; i < r->count[k]; i++) {
            const place *q = &r->place[k][i];
            double w = weight_of(q, g->offset[k], 0, c);
            all[k] += w;
            mean_along[k] += w * q->along;
            mean_out[k] += w * q->out;
        }
        if (all[k] < 3)
            continue;
        mean_along[k] /= all[k];
        mean_out[k] /= all[k];
        for (int i = 0; i < r->count[k]; i++) {
            const place *q = &r->place[k][i];
            double w = weight_of(q, g->offset[k], 0, c), d = q->along - mean_along[k];
            top -= w * d * (q->out - mean_out[k]);
            bottom += w * d * d;
        }
    }
    double turn = bottom > 0 ? top / bottom : 0;
    turn = turn > 0.02 ? 0.02 : turn < -0.02 ? -0.02 : turn;
    for (int k = 0; k < 4; k++)
        if (all[k] >= 3)
            g->offset[k] = mean_out[k] + mean_along[k] * turn;
    g->angle += turn;
    *stiff = bottom;
}

/* Robust deviation of the places from the sides, in samples. */
static double deviation(const refine *r, const mil_guess *g, float *work) {
    size_t n = 0;
    for (int k = 0; k < 4; k++)
        for (int i = 0; i < r->count[k]; i++)
            work[n++] = (float)fabs(r->place[k][i].out - g->offset[k]);
    return 1.4826 * mil_quantile(work, n, 0.5);
}

static void sum_up(const refine *r, const mil_guess *g, double stiff, mil_closer *c) {
    double on = ON_LINE_MM / r->patch->mm, line = stiff > 0 ? 3 / stiff : 1;
    double error = 0;
    int sides = 0;
    for (int k = 0; k < 4; k++) {
        double n = 0, square = 0, near = 0;
        for (int i = 0; i < r->count[k]; i++) {
            double e = r->place[k][i].out - g->offset[k];
            if (fabs(e) < on) {
                n++;
                square += e * e;
            } else
                near++;
        }
        /* Steps that are about anyway, as many on the line as off it, are no share of it. */
        double chance = near * ON_LINE_MM / (NEAR_MM - ON_LINE_MM);
        c->share[k] = r->tried[k] ? fmax(0, n - chance) / r->tried[k] : 0;
        double half = (k == MIL_TOP || k == MIL_BOTTOM ? r->patch->nx : r->patch->ny) / 2.0;
        /* Neighbouring places share samples: a third of them is independent. */
        double var = n > 0 ? square / n : on * on;
        c->sigma[k] = n > 0 ? sqrt(3 * var / n + var * line * half * half) : NAN;
        if (g->seen[k] && n > 0) {
            error += c->sigma[k] * c->sigma[k];
            sides++;
        }
    }
    c->error = sides ? sqrt(2 * error / sides) : NAN;
}

milori_status mil_frame_refine(milori_context *ctx, const mil_patch *p, mil_guess *g,
                               mil_closer *closer) {
    refine r = {.patch = p};
    size_t longest = (size_t)(p->nx + p->ny) + 2;
    place *places = mil_alloc(ctx, 4 * longest, sizeof *places);
    float *work = mil_alloc(ctx, 4 * longest + (size_t)p->nx * (size_t)p->ny, sizeof *work);
    milori_status status = places && work ? MILORI_OK : MILORI_ERR_MEMORY;
    if (status == MILORI_OK) {
        double stiff = 0;
        r.full = mil_frame_full_step(p, work);
        for (int k = 0; k < 4; k++)
            r.place[k] = places + (size_t)k * longest;
        for (int round = 0; round < 5; round++) {
            gather(&r, g, GATE_MM[round]);
            double c = 4.7 * deviation(&r, g, work), most = GATE_MM[round] / p->mm;
            adjust(&r, g, c < 0.4 ? 0.4 : c > most ? most : c, &stiff);
        }
        gather(&r, g, NEAR_MM);
        sum_up(&r, g, stiff, closer);
    }
    free(places);
    free(work);
    return status;
}
