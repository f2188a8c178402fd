/* From the chart's mm to the scan's cells: a cubic through all beads, and what is
 * left near each, so that tilt, perspective, bends and curls are followed alike. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "print/target_parts.h"
#include "sheet/linear.h"

enum { TERMS = 10 };
static const double REACH = 1.3; /* steps: radius of a bead's say */
static const double OFF = 0.07;  /* steps: a bead further from its neighbours' place is dropped */

static void terms_at(const mil_warp *w, double column, double row, double term[TERMS]) {
    double u = (column - w->middle[0]) / w->half, v = (row - w->middle[1]) / w->half;
    const double all[TERMS] = {1,     u,         v,         u * u,     u * v,
                               v * v, u * u * u, u * u * v, u * v * v, v * v * v};
    memcpy(term, all, sizeof all);
}

static double cubic(const mil_warp *w, int axis, const double term[TERMS]) {
    double sum = 0;
    for (int i = 0; i < TERMS; i++)
        sum += w->coefficient[axis][i] * term[i];
    return sum;
}

static void centre(mil_warp *w, const mil_bead *bead, size_t count) {
    double low[2] = {1e9, 1e9}, high[2] = {-1e9, -1e9};
    for (size_t i = 0; i < count; i++) {
        const int at[2] = {bead[i].column, bead[i].row};
        for (int k = 0; k < 2; k++) {
            low[k] = fmin(low[k], at[k]);
            high[k] = fmax(high[k], at[k]);
        }
    }
    for (int k = 0; k < 2; k++)
        w->middle[k] = (low[k] + high[k]) / 2;
    w->half = fmax(fmax(high[0] - low[0], high[1] - low[1]) / 2, 1);
}

/* Least squares; the higher terms are held back a little, lest a torn sheet's few
 * beads swing them. */
static bool fit_cubic(mil_warp *w, const mil_bead *bead, size_t count) {
    double normal[TERMS * TERMS] = {0}, right[2][TERMS] = {{0}}, term[TERMS];
    for (size_t i = 0; i < count; i++) {
        terms_at(w, bead[i].column, bead[i].row, term);
        for (int a = 0; a < TERMS; a++) {
            for (int b = 0; b <= a; b++)
                normal[a * TERMS + b] += term[a] * term[b];
            right[0][a] += term[a] * bead[i].x;
            right[1][a] += term[a] * bead[i].y;
        }
    }
    for (int a = 0; a < TERMS; a++)
        normal[a * TERMS + a] += a < 3 ? 1e-9 : 1e-4 * (double)count;
    if (!mil_cholesky(normal, TERMS))
        return false;
    for (int axis = 0; axis < 2; axis++) {
        mil_cholesky_solve(normal, TERMS, right[axis]);
        memcpy(w->coefficient[axis], right[axis], sizeof right[axis]);
    }
    return true;
}

static void leave_rest(mil_warp *w, const mil_bead *bead, size_t count) {
    double term[TERMS];
    w->count = count;
    for (size_t i = 0; i < count; i++) {
        terms_at(w, bead[i].column, bead[i].row, term);
        w->bead[i][0] = bead[i].column;
        w->bead[i][1] = bead[i].row;
        w->bead[i][2] = bead[i].x - cubic(w, 0, term);
        w->bead[i][3] = bead[i].y - cubic(w, 1, term);
    }
}

/* Mean of what is left round a place; but: a bead that has no say. */
static void rest_at(const mil_warp *w, double column, double row, size_t but, double rest[2]) {
    double sum[2] = {0, 0}, weights = 0.05;
    for (size_t i = 0; i < w->count; i++) {
        double dx = w->bead[i][0] - column, dy = w->bead[i][1] - row;
        double d2 = (dx * dx + dy * dy) / (REACH * REACH);
        if (i == but || d2 > 12)
            continue;
        double weight = exp(-d2);
        weights += weight;
        sum[0] += weight * w->bead[i][2];
        sum[1] += weight * w->bead[i][3];
    }
    rest[0] = sum[0] / weights;
    rest[1] = sum[1] / weights;
}

static double step_of(const mil_warp *w) {
    return hypot(w->coefficient[0][1], w->coefficient[1][1]) / w->half;
}

/* The bead that lies furthest from where the others put it goes, until none does. */
static bool drop_worst(const mil_warp *w, mil_bead *bead, size_t *count) {
    size_t worst = *count, kept = 0;
    double most = OFF * step_of(w);
    for (size_t i = 0; i < *count; i++) {
        double rest[2];
        rest_at(w, bead[i].column, bead[i].row, i, rest);
        double off = hypot(w->bead[i][2] - rest[0], w->bead[i][3] - rest[1]);
        if (off > most) {
            most = off;
            worst = i;
        }
    }
    if (worst == *count)
        return false;
    for (size_t i = 0; i < *count; i++)
        if (i != worst)
            bead[kept++] = bead[i];
    *count = kept;
    return true;
}

milori_status mil_warp_fit(milori_context *ctx, mil_bead *bead, size_t *count, mil_warp *warp) {
    memset(warp, 0, sizeof *warp);
    warp->bead = mil_alloc(ctx, *count, sizeof *warp->bead);
    if (!warp->bead)
        return MILORI_ERR_MEMORY;
    centre(warp, bead, *count);
    do {
        if (!fit_cubic(warp, bead, *count))
            return mil_fail(ctx, MILORI_ERR_SHEET,
                            "the chart's marks lie in no order; scan the print flat");
        leave_rest(warp, bead, *count);
    } while (*count > 3 * TERMS && drop_worst(warp, bead, count));
    return MILORI_OK;
}

void mil_warp_free(mil_warp *warp) {
    free(warp->bead);
    memset(warp, 0, sizeof *warp);
}

void mil_warp_at(const mil_warp *warp, double x, double y, double out[2]) {
    double term[TERMS], rest[2];
    double column = x / MIL_TARGET_PITCH, row = y / MIL_TARGET_PITCH;
    terms_at(warp, column, row, term);
    rest_at(warp, column, row, warp->count, rest);
    for (int axis = 0; axis < 2; axis++)
        out[axis] = cubic(warp, axis, term) + rest[axis];
}
