#include "print/smooth.h"

#include <math.h>
#include <string.h>

#include "sheet/linear.h"

enum { N = MIL_SMOOTH_COEFS, TURNS = 40 };
static const double COUNT_FREEDOM = 1.4;

/* The four splines that are not 0 at x, and the first one's number. */
static size_t basis(double x, double b[4]) {
    double at = fmin(fmax(x, 0), 1) * MIL_SMOOTH_PIECES;
    size_t first = at < MIL_SMOOTH_PIECES ? (size_t)at : MIL_SMOOTH_PIECES - 1;
    double t = at - (double)first, u = 1 - t;
    b[0] = u * u * u / 6;
    b[1] = (3 * t * t * t - 6 * t * t + 4) / 6;
    b[2] = (3 * u * u * u - 6 * u * u + 4) / 6;
    b[3] = t * t * t / 6;
    return first;
}

/* Sums of a fit: what does not change while the penalties are sought. */
typedef struct sums {
    const double *x, *y, *w;
    size_t count;
    double bwb[N * N], bwy[N];
    double weight; /* sum of w */
    size_t used;   /* points with weight */
} sums;

static void add_up(sums *s) {
    memset(s->bwb, 0, sizeof s->bwb);
    memset(s->bwy, 0, sizeof s->bwy);
    s->weight = 0;
    s->used = 0;
    for (size_t i = 0; i < s->count; i++) {
        double b[4];
        size_t first = basis(s->x[i], b);
        if (!(s->w[i] > 0))
            continue;
        s->used++;
        s->weight += s->w[i];
        for (size_t k = 0; k < 4; k++) {
            s->bwy[first + k] += s->w[i] * b[k] * s->y[i];
            for (size_t j = 0; j < 4; j++)
                s->bwb[(first + k) * N + first + j] += s->w[i] * b[k] * b[j];
        }
    }
}

/* Adds by * d'd for the row d of count values from place at. */
static void add_row(double *a, size_t at, const double *d, size_t count, double by) {
    for (size_t i = 0; i < count; i++)
        for (size_t k = 0; k < count; k++)
            a[(at + i) * N + at + k] += by * d[i] * d[k];
}

/* Cholesky's factor of the penalised sums, falls[] held level. */
static bool factor(const sums *s, double lambda, const bool falls[N], double *a) {
    static const double second[3] = {1, -2, 1}, first[2] = {-1, 1};
    memcpy(a, s->bwb, sizeof s->bwb);
    for (size_t i = 0; i + 2 < N; i++)
        add_row(a, i, second, 3, lambda * s->weight);
    for (size_t i = 0; i + 1 < N; i++)
        if (falls[i])
            add_row(a, i, first, 2, 1e7 * s->weight);
    for (size_t i = 0; i < N; i++)
        a[i * N + i] += 1e-12 * s->weight;
    return mil_cholesky(a, N);
}

/* The coefficients for lambda: steps that fall are held level until none does
 * (Bollaerts, Eilers & Van Mechelen 2006, as an active set). a keeps the factor. */
static bool solve(const sums *s, double lambda, bool free_fall, double *a, double coef[N]) {
    bool falls[N] = {false}, changed = true;
    for (int turn = 0; changed && turn < TURNS; turn++) {
        if (!factor(s, lambda, falls, a))
            return false;
        memcpy(coef, s->bwy, sizeof s->bwy);
        mil_cholesky_solve(a, N, coef);
        changed = false;
        for (size_t i = 0; i + 1 < N && !free_fall; i++)
            if (!falls[i] && coef[i + 1] < coef[i]) {
                falls[i] = true;
                changed = true;
            }
    }
    for (size_t i = 0; i + 1 < N && !free_fall; i++)
        coef[i + 1] = fmax(coef[i + 1], coef[i]);
    return true;
}

/* Trace of the smoother: what the fit spends. */
static double freedom_of(const sums *s, const double *a) {
    double trace = 0;
    for (size_t k = 0; k < N; k++) {
        double column[N];
        for (size_t i = 0; i < N; i++)
            column[i] = s->bwb[i * N + k];
        mil_cholesky_solve(a, N, column);
        trace += column[k];
    }
    return trace;
}

static double misfit(const sums *s, const mil_smooth *smooth) {
    double sum = 0;
    for (size_t i = 0; i < s->count; i++) {
        double r = s->w[i] > 0 ? s->y[i] - mil_smooth_at(smooth, s->x[i]) : 0;
        sum += s->w[i] * r * r;
    }
    return sum / s->weight;
}

static bool fit_at(const sums *s, double lambda, bool free_fall, mil_smooth *smooth) {
    double a[N * N];
    smooth->lambda = lambda;
    if (!solve(s, lambda, free_fall, a, smooth->coef))
        return false;
    smooth->freedom = freedom_of(s, a);
    return true;
}

bool mil_smooth_fit(const double *x, const double *y, const double *w, size_t count, bool free_fall,
                    double lambda, mil_smooth *smooth) {
    sums s = {.x = x, .y = y, .w = w, .count = count};
    add_up(&s);
    if (s.used < 4)
        return false;
    if (lambda > 0)
        return fit_at(&s, lambda, free_fall, smooth);
    double least = INFINITY;
    for (int step = 0; step <= 32; step++) {
        mil_smooth tried;
        if (!fit_at(&s, pow(10, -6 + step / 4.0), free_fall, &tried))
            continue;
        double left = 1 - COUNT_FREEDOM * tried.freedom / (double)s.used;
        double score = left > 0 ? misfit(&s, &tried) / (left * left) : INFINITY;
        if (score < least) {
            least = score;
            *smooth = tried;
        }
    }
    return isfinite(least);
}

double mil_smooth_at(const mil_smooth *smooth, double x) {
    double b[4], sum = 0;
    size_t first = basis(x, b);
    for (size_t k = 0; k < 4; k++)
        sum += b[k] * smooth->coef[first + k];
    return sum;
}

double mil_smooth_slope(const mil_smooth *smooth, double x) {
    const double step = 1e-4;
    double low = fmax(x - step, 0), high = fmin(x + step, 1);
    return (mil_smooth_at(smooth, high) - mil_smooth_at(smooth, low)) / (high - low);
}
