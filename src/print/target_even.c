/* Uneven coat and light: like patches lie all over the sheet, so what differs
 * among them smoothly with the place is the sheet's and not the ink's. Light and
 * coat move the tones between more than the ends: the surface is scaled for each
 * level by how much its own repeats follow it. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "print/target_view.h"
#include "sheet/linear.h"

enum { TERMS = 9, ROUNDS = 6 };
/* Robust deviations, L, and distance of a* and b*, beyond which a patch is unlike its repeats. */
static const double FAR = 4.5, FAR_L = 2, FAR_TINT = 4;

typedef struct even {
    const mil_target *target;
    mil_patches *patches;
    int *level;    /* of each patch */
    double *rest;  /* L less level and surface */
    double *value; /* scratch, count */
    double mean[MIL_TARGET_MOST + 1], follow[MIL_TARGET_MOST + 1], sigma[MIL_TARGET_MOST + 1];
    double surface[TERMS];
    double loss; /* what is left is smaller than the spread by this factor */
} even;

static void terms_at(const even *e, const mil_patch *p, double term[TERMS]) {
    double u = 2 * p->x_mm / (e->target->columns * MIL_TARGET_PITCH) - 1;
    double v = 2 * p->y_mm / (e->target->rows * MIL_TARGET_PITCH) - 1;
    const double all[TERMS] = {u,         v,         u * u - 1. / 3, u * v,    v * v - 1. / 3,
                               u * u * u, u * u * v, u * v * v,      v * v * v};
    memcpy(term, all, sizeof all);
}

static double surface_at(const even *e, const mil_patch *p) {
    double term[TERMS], sum = 0;
    terms_at(e, p, term);
    for (int i = 0; i < TERMS; i++)
        sum += e->surface[i] * term[i];
    return sum;
}

/* Medians of each level without the surface. */
static void level_means(even *e) {
    for (int k = 0; k < e->target->levels; k++) {
        size_t n = 0;
        for (size_t i = 0; i < e->patches->count; i++) {
            const mil_patch *p = &e->patches->patch[i];
            if (p->used && e->level[i] == k)
                e->value[n++] = p->L - e->follow[k] * surface_at(e, p);
        }
        e->mean[k] = mil_median(e->value, n);
    }
}

static double huber(double off, double sigma) {
    return fabs(off) <= 1.5 * sigma ? 1 : 1.5 * sigma / fabs(off);
}

/* Least squares of what the levels leave, far ones weighing less; held back a
 * little, so that a torn sheet does not swing it. */
static void fit_surface(even *e, double sigma) {
    double normal[TERMS * TERMS] = {0}, right[TERMS] = {0}, term[TERMS];
    for (size_t i = 0; i < e->patches->count; i++) {
        const mil_patch *p = &e->patches->patch[i];
        if (!p->used)
            continue;
        double follow = e->follow[e->level[i]], off = p->L - e->mean[e->level[i]];
        double weight = huber(off - follow * surface_at(e, p), sigma);
        terms_at(e, p, term);
        for (int a = 0; a < TERMS; a++) {
            for (int b = 0; b <= a; b++)
                normal[a * TERMS + b] += weight * follow * follow * term[a] * term[b];
            right[a] += weight * follow * term[a] * off;
        }
    }
    for (int a = 0; a < TERMS; a++)
        normal[a * TERMS + a] += 0.5;
    if (mil_cholesky(normal, TERMS)) {
        mil_cholesky_solve(normal, TERMS, right);
        memcpy(e->surface, right, sizeof right);
    }
}

/* How much each level follows the surface: its own repeats, its neighbours', and
 * the mean, by what each knows. */
static void fit_follow(even *e) {
    double dot[MIL_TARGET_MOST + 1] = {0}, square[MIL_TARGET_MOST + 1] = {0};
    double sum = 0, held = 0;
    int levels = e->target->levels;
    for (size_t i = 0; i < e->patches->count; i++) {
        const mil_patch *p = &e->patches->patch[i];
        double s = surface_at(e, p);
        if (!p->used)
            continue;
        dot[e->level[i]] += s * (p->L - e->mean[e->level[i]]);
        square[e->level[i]] += s * s;
        held += s * s;
    }
    held = 0.5 * held / levels + 1;
    for (int k = 0; k < levels; k++) {
        double up = held, down = held;
        for (int m = k - 3 < 0 ? 0 : k - 3; m <= k + 3 && m < levels; m++) {
            double weight = 1.0 / (1 << (m > k ? m - k : k - m));
            up += weight * dot[m];
            down += weight * square[m];
        }
        e->follow[k] = fmax(up / down, 0);
        sum += e->follow[k] / levels;
    }
    for (int k = 0; k < levels; k++)
        e->follow[k] = sum > 0.05 ? e->follow[k] / sum : 1;
}

/* Robust spread of the repeats of each level, with its neighbours'. */
static void level_sigmas(even *e, double all) {
    int levels = e->target->levels;
    for (int k = 0; k < levels; k++) {
        size_t n = 0;
        for (size_t i = 0; i < e->patches->count; i++)
            if (e->patches->patch[i].used && abs(e->level[i] - k) <= 2)
                e->value[n++] = fabs(e->rest[i]);
        e->sigma[k] = fmax(n >= 8 ? e->loss * 1.4826 * mil_median(e->value, n) : all, 0.3 * all);
    }
}

static double find_rest(even *e) {
    double middle;
    size_t n = 0;
    for (size_t i = 0; i < e->patches->count; i++) {
        const mil_patch *p = &e->patches->patch[i];
        e->rest[i] = p->L - e->mean[e->level[i]] - e->follow[e->level[i]] * surface_at(e, p);
        if (p->used && isfinite(e->rest[i]))
            e->value[n++] = e->rest[i];
    }
    /* the levels' middles and the surface have taken their share of the freedom */
    double freedom = fmax((double)n - e->target->levels - TERMS, 0.2 * (double)n);
    e->loss = n ? sqrt((double)n / freedom) : 1;
    return fmax(e->loss * mil_deviation(e->value, n, &middle), 0.05);
}

/* A level's mean is its own repeats': of few, the odd one pulls it. */
static void drop_far(even *e) {
    for (size_t i = 0; i < e->patches->count; i++) {
        mil_patch *p = &e->patches->patch[i];
        if (p->used && fabs(e->rest[i]) > fmax(FAR * e->sigma[e->level[i]], FAR_L)) {
            p->used = false;
            p->why = "unlike its repeats";
        }
    }
}

/* Middle of a* (axis 0) or b* (1) of each level; of a level that has none, NaN. */
static void level_tints(even *e, int axis, double *middle) {
    for (int k = 0; k < e->target->levels; k++) {
        size_t n = 0;
        for (size_t i = 0; i < e->patches->count; i++) {
            const mil_patch *p = &e->patches->patch[i];
            if (p->used && e->level[i] == k)
                e->value[n++] = axis ? p->b : p->a;
        }
        middle[k] = mil_median(e->value, n);
    }
}

/* A stain may hardly change L*, but tints. */
static void drop_tinted(even *e) {
    double middle[2][MIL_TARGET_MOST + 1], off_middle;
    size_t n = 0;
    level_tints(e, 0, middle[0]);
    level_tints(e, 1, middle[1]);
    for (size_t i = 0; i < e->patches->count; i++) {
        const mil_patch *p = &e->patches->patch[i];
        e->rest[i] = hypot(p->a - middle[0][e->level[i]], p->b - middle[1][e->level[i]]);
        if (p->used)
            e->value[n++] = e->rest[i];
    }
    double sigma = mil_deviation(e->value, n, &off_middle);
    for (size_t i = 0; i < e->patches->count; i++) {
        mil_patch *p = &e->patches->patch[i];
        if (p->used && e->rest[i] > fmax(off_middle + 6 * sigma, FAR_TINT)) {
            p->used = false;
            p->why = "its colour is unlike its repeats'";
        }
    }
}

static void fit_all(even *e) {
    double sigma = 2;
    drop_tinted(e);
    for (int k = 0; k < e->target->levels; k++)
        e->follow[k] = 1;
    for (int round = 0; round < ROUNDS; round++) {
        level_means(e);
        fit_surface(e, sigma);
        if (round > 1)
            fit_follow(e);
        level_means(e);
        sigma = find_rest(e);
        level_sigmas(e, sigma);
        if (round == 2 || round == 4)
            drop_far(e);
    }
}

/* Takes the surface off, and says how much that was. */
static void take_off(even *e) {
    double low = 1e9, high = -1e9, squares = 0, n = 0;
    for (size_t i = 0; i < e->patches->count; i++) {
        mil_patch *p = &e->patches->patch[i];
        double s = surface_at(e, p);
        low = fmin(low, s);
        high = fmax(high, s);
        p->L -= e->follow[e->level[i]] * s;
        p->sigma = e->sigma[e->level[i]];
        if (p->used) {
            squares += e->rest[i] * e->rest[i];
            n++;
        }
    }
    e->patches->repeat_sigma = n > 0 ? e->loss * sqrt(squares / n) : NAN;
    e->patches->uneven = high - low;
}

milori_status mil_patches_even(milori_context *ctx, const mil_target *target,
                               mil_patches *patches) {
    even e = {.target = target, .patches = patches};
    e.level = mil_alloc(ctx, patches->count, sizeof *e.level);
    e.rest = mil_alloc(ctx, patches->count, sizeof *e.rest);
    e.value = mil_alloc(ctx, patches->count, sizeof *e.value);
    milori_status status = e.level && e.rest && e.value ? MILORI_OK : MILORI_ERR_MEMORY;
    if (status == MILORI_OK) {
        for (size_t i = 0; i < patches->count; i++)
            e.level[i] = (int)floor(patches->patch[i].ink * (target->levels - 1) + 0.5);
        fit_all(&e);
        take_off(&e);
    }
    free(e.level);
    free(e.rest);
    free(e.value);
    return status;
}
