/* Robust sums for finding. */
#include "sheet/find_private.h"

#include <math.h>
#include <stdlib.h>

/* Hoare's selection: the value that would stand at place k of the sorted list. */
static float select_place(float *v, size_t count, size_t k) {
    size_t low = 0, high = count - 1;
    while (low < high) {
        float pivot = v[low + (high - low) / 2];
        size_t i = low, j = high;
        for (;;) {
            while (v[i] < pivot)
                i++;
            while (v[j] > pivot)
                j--;
            if (i >= j)
                break;
            float swap = v[i];
            v[i++] = v[j];
            v[j--] = swap;
        }
        if (j >= k)
            high = j;
        else
            low = j + 1;
    }
    return v[k];
}

double mil_quantile(float *values, size_t count, double q) {
    if (!count)
        return 0;
    double place = q * (double)(count - 1) + 0.5;
    size_t k = place < 0 ? 0 : (size_t)place;
    return select_place(values, count, k < count ? k : count - 1);
}

/* Median of residuals' sizes over the weighted points, as a standard deviation. */
static double spread(const double *x, const double *y, const double *weight, size_t count,
                     const mil_line *line, float *work) {
    size_t n = 0;
    for (size_t i = 0; i < count; i++)
        if (weight[i] > 0)
            work[n++] = (float)fabs(y[i] - line->at - line->slope * x[i]);
    return 1.4826 * mil_quantile(work, n, 0.5);
}

/* Theil (1950), Sen (1968): the median of the slopes between points. */
static void start_line(const double *x, const double *y, const double *weight, size_t count,
                       mil_line *line, float *work, size_t room) {
    size_t n = 0, step = count / 64 + 1;
    for (size_t i = 0; i < count; i += step)
        for (size_t k = i + step; k < count && n < room; k += step)
            if (weight[i] > 0 && weight[k] > 0 && x[k] != x[i])
                work[n++] = (float)((y[k] - y[i]) / (x[k] - x[i]));
    line->slope = n ? mil_quantile(work, n, 0.5) : 0;
    n = 0;
    for (size_t i = 0; i < count; i++)
        if (weight[i] > 0)
            work[n++] = (float)(y[i] - line->slope * x[i]);
    line->at = mil_quantile(work, n, 0.5);
}

/* One weighted least-squares step, with Tukey's biweight of size c about the old line. */
static bool bend_line(const double *x, const double *y, const double *weight, size_t count,
                      double c, mil_line *line) {
    double s = 0, sx = 0, sy = 0, sxx = 0, sxy = 0, all = 0;
    for (size_t i = 0; i < count; i++) {
        double r = (y[i] - line->at - line->slope * x[i]) / c;
        double w = fabs(r) < 1 ? weight[i] * (1 - r * r) * (1 - r * r) : 0;
        all += weight[i];
        s += w;
        sx += w * x[i];
        sy += w * y[i];
        sxx += w * x[i] * x[i];
        sxy += w * x[i] * y[i];
    }
    double det = s * sxx - sx * sx;
    if (!(det > 1e-12 * s * sxx))
        return false;
    line->slope = (s * sxy - sx * sy) / det;
    line->at = (sy - line->slope * sx) / s;
    line->used = s / all;
    return true;
}

bool mil_line_fit(const double *x, const double *y, const double *weight, size_t count,
                  mil_line *line) {
    enum { PAIRS = 4096 };
    size_t room = count > PAIRS ? count : PAIRS;
    float *work = count < 3 ? NULL : malloc(room * sizeof *work);
    if (!work)
        return false;
    *line = (mil_line){0};
    start_line(x, y, weight, count, line, work, room);
    bool good = true;
    for (int k = 0; good && k < 12; k++) {
        line->sigma = spread(x, y, weight, count, line, work);
        double c = 4.685 * line->sigma;
        good = bend_line(x, y, weight, count, c > 1e-3 ? c : 1e-3, line);
    }
    free(work);
    return good;
}
