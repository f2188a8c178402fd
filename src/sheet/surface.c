#include "sheet/surface.h"

#include <math.h>
#include <stdlib.h>

enum { PHASES = 128 };

/* Uniform cubic B-spline: the weights of the four knots round a place a fraction f past the
 * second. */
static void spline_weights(double f, float w[4]) {
    double g = 1 - f, f2 = f * f, f3 = f2 * f;
    w[0] = (float)(g * g * g / 6);
    w[1] = (float)((3 * f3 - 6 * f2 + 4) / 6);
    w[2] = (float)((-3 * f3 + 3 * f2 + 3 * f + 1) / 6);
    w[3] = (float)(f3 / 6);
}

static int clamp(int64_t i, int n) {
    return i < 0 ? 0 : i >= n ? n - 1 : (int)i;
}

/* Whole part and fraction of a place in knots, kept within reach of an int. */
static int64_t split(double t, int n, double *f) {
    t = t < -2 ? -2 : t > n + 1 ? n + 1 : t;
    double whole = floor(t);
    *f = t - whole;
    return (int64_t)whole;
}

void mil_surface_row(const mil_surface *surface, double y, float *line) {
    double f;
    float w[4];
    int nx = surface->nx;
    int64_t j = split(y / surface->cell - 0.5 - surface->y0, surface->ny, &f);
    spline_weights(f, w);
    const float *row[4];
    for (int k = 0; k < 4; k++)
        row[k] = surface->knot + (size_t)clamp(j - 1 + k, surface->ny) * (size_t)nx;
    for (int i = 0; i < nx; i++)
        line[i] = (w[0] * row[0][i] + w[1] * row[1][i]) + (w[2] * row[2][i] + w[3] * row[3][i]);
}

float mil_surface_at(const mil_surface *surface, const float *line, double x) {
    double f;
    float w[4];
    int nx = surface->nx;
    int64_t i = split(x / surface->cell - 0.5 - surface->x0, nx, &f);
    spline_weights(f, w);
    return (w[0] * line[clamp(i - 1, nx)] + w[1] * line[clamp(i, nx)]) +
           (w[2] * line[clamp(i + 1, nx)] + w[3] * line[clamp(i + 2, nx)]);
}

/* Px of one gap between knots: its four knots are the same for all of them. */
static void gap(const float k[4], float (*w)[PHASES], uint32_t from, uint32_t count, float *out) {
    const float *w0 = w[0] + from, *w1 = w[1] + from, *w2 = w[2] + from, *w3 = w[3] + from;
    for (uint32_t p = 0; p < count; p++)
        out[p] = (w0[p] * k[0] + w1[p] * k[1]) + (w2[p] * k[2] + w3[p] * k[3]);
}

/* A px centre at i + 1/2 lies (2i + 1 - cell) / 2 cell gaps past the first knot: the phase within
 * a gap repeats with the cell, so its weights are made once for a row. Phases from .. from + n - 1
 * of every gap that the span meets. */
static void phases(const mil_surface *s, const float *line, int64_t first, int64_t end,
                   uint32_t from, uint32_t n, float *out) {
    float w[4][PHASES];
    int64_t cell = s->cell;
    /* Px (gap g, phase p) is g * cell + p + cell / 2, half a px later where the cell is odd. */
    for (uint32_t p = 0; p < n; p++) {
        float four[4];
        spline_weights((2 * (double)(from + p) + (cell % 2 ? 0 : 1)) / (2 * (double)cell), four);
        for (int k = 0; k < 4; k++)
            w[k][p] = four[k];
    }
    int64_t g = (first - cell / 2) / cell - 1;
    for (;; g++) {
        int64_t a = g * cell + cell / 2 + from, b = a + n;
        if (a >= end)
            break;
        int64_t lo = a < first ? first : a, hi = b > end ? end : b;
        if (lo >= hi)
            continue;
        float k[4];
        for (int i = 0; i < 4; i++)
            k[i] = line[clamp(g - s->x0 - 1 + i, s->nx)];
        gap(k, w, (uint32_t)(lo - a), (uint32_t)(hi - lo), out + (lo - first));
    }
}

void mil_surface_span(const mil_surface *surface, const float *line, int64_t first, uint32_t count,
                      float *out) {
    for (uint32_t from = 0; from < surface->cell; from += PHASES) {
        uint32_t n = surface->cell - from < PHASES ? surface->cell - from : PHASES;
        phases(surface, line, first, first + count, from, n, out);
    }
}

void mil_surface_free(mil_surface *surface) {
    free(surface->knot);
    *surface = (mil_surface){0};
}
