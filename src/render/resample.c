#include "render/resample.h"

#include <math.h>
#include <string.h>

static const double PI = 3.14159265358979323846;
/* Chosen by computing the contrast kept over all phases: a smaller one rings more. */
static const double KAISER_BETA = 5;
static const int64_t ONE = (int64_t)1 << 32;
static const int64_t HALF_PHASE = (int64_t)1 << (31 - MIL_PHASE_BITS);

/* Modified Bessel function of order 0, by its series. */
static double bessel_i0(double x) {
    double sum = 1, term = 1;
    for (int k = 1; k < 40; k++) {
        term *= x / (2 * k) * (x / (2 * k));
        sum += term;
    }
    return sum;
}

static double tap(double x) {
    double r = x / (MIL_TAPS / 2);
    if (fabs(x) < 1e-12)
        return 1;
    return fabs(r) >= 1 ? 0
                        : sin(PI * x) / (PI * x) * bessel_i0(KAISER_BETA * sqrt(1 - r * r)) /
                              bessel_i0(KAISER_BETA);
}

void mil_kernel_make(mil_kernel *kernel) {
    for (int p = 0; p < MIL_PHASES; p++) {
        double w[MIL_TAPS], sum = 0;
        for (int k = 0; k < MIL_TAPS; k++) {
            w[k] = tap(k - MIL_TAPS_BEFORE - (double)p / MIL_PHASES);
            sum += w[k];
        }
        for (int k = 0; k < MIL_TAPS; k++)
            kernel->weight[p][k] = (float)(p == 0 ? k == MIL_TAPS_BEFORE : w[k] / sum);
    }
}

int64_t mil_fixed(double px) {
    return llrint(px * (double)ONE);
}

int64_t mil_fixed_px(int64_t position) {
    return (position + HALF_PHASE) >> 32;
}

float *mil_ring_row(const mil_ring *ring, int64_t y) {
    y = y < ring->first ? ring->first : y > ring->last ? ring->last : y;
    return ring->row + (size_t)(y % ring->rows) * ring->width;
}

static uint32_t phase_of(int64_t position) {
    return (uint32_t)position >> (32 - MIL_PHASE_BITS);
}

void mil_resample_row(const mil_kernel *kernel, const float *line, int64_t start, int64_t step,
                      uint32_t count, float *out) {
    int64_t at = start + HALF_PHASE;
    for (uint32_t i = 0; i < count; i++, at += step) {
        const float *w = kernel->weight[phase_of(at)];
        const float *p = line + (at >> 32) - MIL_TAPS_BEFORE;
        float lane[4];
        for (int k = 0; k < 4; k++)
            lane[k] = w[k] * p[k] + w[k + 4] * p[k + 4] + w[k + 8] * p[k + 8];
        out[i] = (lane[0] + lane[1]) + (lane[2] + lane[3]);
    }
}

/* Columns that share their twelve rows. */
static void columns_run(const mil_kernel *kernel, const float *const r[MIL_TAPS], int64_t at,
                        int64_t slope, uint32_t from, uint32_t to, float *out) {
    for (uint32_t i = from; i < to; i++, at += slope) {
        const float *w = kernel->weight[phase_of(at)];
        float a = w[0] * r[0][i] + w[4] * r[4][i] + w[8] * r[8][i];
        float b = w[1] * r[1][i] + w[5] * r[5][i] + w[9] * r[9][i];
        float c = w[2] * r[2][i] + w[6] * r[6][i] + w[10] * r[10][i];
        float d = w[3] * r[3][i] + w[7] * r[7][i] + w[11] * r[11][i];
        out[i] = (a + b) + (c + d);
    }
}

/* How many columns from position at on stay within its px. */
static int64_t run_length(int64_t at, int64_t slope, int64_t most) {
    int64_t part = at & (ONE - 1);
    if (slope == 0)
        return most;
    int64_t n = slope > 0 ? (ONE - part + slope - 1) / slope : part / -slope + 1;
    return n < most ? n : most;
}

void mil_resample_columns(const mil_kernel *kernel, const mil_ring *ring, int64_t start,
                          int64_t slope, float *out) {
    int64_t at = start + HALF_PHASE;
    for (uint32_t i = 0; i < ring->width;) {
        const float *rows[MIL_TAPS];
        for (int k = 0; k < MIL_TAPS; k++)
            rows[k] = mil_ring_row(ring, (at >> 32) - MIL_TAPS_BEFORE + k);
        uint32_t n = (uint32_t)run_length(at, slope, ring->width - i);
        columns_run(kernel, rows, at, slope, i, i + n, out);
        at += n * slope;
        i += n;
    }
}

void mil_average_row(const float *line, int64_t start, int64_t step, uint32_t count, float *out) {
    const float unit = 1 / (float)ONE, inverse = (float)((double)ONE / (double)step);
    int64_t a = start;
    for (uint32_t i = 0; i < count; i++, a += step) {
        int64_t b = a + step, k = a >> 32, end = b >> 32;
        if (k == end) {
            out[i] = line[k];
            continue;
        }
        float sum = line[k] * ((float)(ONE - (a & (ONE - 1))) * unit);
        for (k++; k < end; k++)
            sum += line[k];
        if (b & (ONE - 1))
            sum += line[end] * ((float)(b & (ONE - 1)) * unit);
        out[i] = sum * inverse;
    }
}

/* What of row y a column's stretch a .. a + height covers, in rows. */
static float cover(int64_t a, int64_t height, int64_t y) {
    int64_t low = a > y * ONE ? a : y * ONE, b = a + height;
    int64_t high = b < (y + 1) * ONE ? b : (y + 1) * ONE;
    return high > low ? (float)(high - low) : 0;
}

/* The columns that meet row y, a px more on either side for the rounding. */
static void columns_of_row(int64_t start, int64_t slope, int64_t height, int64_t y, uint32_t width,
                           int64_t *from, int64_t *to) {
    *from = 0;
    *to = width;
    if (slope == 0)
        return;
    int64_t one = (y * ONE - height - start) / slope, two = ((y + 1) * ONE - start) / slope;
    int64_t low = (one < two ? one : two) - 1, high = (one > two ? one : two) + 2;
    *from = low > 0 ? low : 0;
    *to = high < width ? high : width;
}

void mil_average_columns(const mil_ring *ring, int64_t start, int64_t slope, int64_t height,
                         float *out) {
    int64_t end = start + slope * (ring->width - (int64_t)1);
    int64_t first = (slope < 0 ? end : start) >> 32;
    int64_t last = ((slope < 0 ? start : end) + height) >> 32;
    const float inverse = 1 / (float)height;
    memset(out, 0, ring->width * sizeof *out);
    for (int64_t y = first; y <= last; y++) {
        const float *row = mil_ring_row(ring, y);
        int64_t from, to;
        columns_of_row(start, slope, height, y, ring->width, &from, &to);
        if (slope == 0) {
            float w = cover(start, height, y) * inverse;
            for (int64_t i = from; i < to; i++)
                out[i] += w * row[i];
            continue;
        }
        for (int64_t i = from; i < to; i++)
            out[i] += cover(start + slope * i, height, y) * inverse * row[i];
    }
}
