#include "tone/tone.h"

#include <math.h>

/* Weighted harmonic mean of the chords' slopes on either side (Fritsch & Butland
 * 1984); 0 where they turn. */
static double inner_slope(double h0, double h1, double m0, double m1) {
    if (m0 == 0 || m1 == 0 || (m0 > 0) != (m1 > 0))
        return 0;
    double w0 = 2 * h1 + h0, w1 = h1 + 2 * h0;
    return (w0 + w1) / (w0 / m0 + w1 / m1);
}

/* One-sided three-point slope, held back so that the end keeps its shape. */
static double end_slope(double h0, double h1, double m0, double m1) {
    double d = ((2 * h0 + h1) * m0 - h0 * m1) / (h0 + h1);
    if (m0 == 0 || d == 0 || (d > 0) != (m0 > 0))
        return 0;
    bool turns = m1 == 0 || (m0 > 0) != (m1 > 0);
    return turns && fabs(d) > 3 * fabs(m0) ? 3 * m0 : d;
}

void mil_monotone_slopes(const double (*points)[2], size_t count, double *slopes) {
    if (count == 0)
        return;
    slopes[0] = 0;
    if (count == 1)
        return;
    double h0 = 0, m0 = 0, first_h = 0, first_m = 0;
    for (size_t i = 0; i + 1 < count; i++) {
        double h1 = points[i + 1][0] - points[i][0];
        double m1 = (points[i + 1][1] - points[i][1]) / h1;
        if (i > 0)
            slopes[i] = inner_slope(h0, h1, m0, m1);
        if (i == 1)
            slopes[0] = end_slope(first_h, h1, first_m, m1);
        if (i == 0) {
            first_h = h1;
            first_m = m1;
        }
        if (i + 2 == count)
            slopes[count - 1] = count == 2 ? m1 : end_slope(h1, h0, m1, m0);
        h0 = h1;
        m0 = m1;
    }
    if (count == 2)
        slopes[0] = first_m;
}

double mil_monotone_at(const double (*points)[2], const double *slopes, size_t count, double x) {
    if (count == 0)
        return x;
    if (!(x > points[0][0]))
        return points[0][1];
    if (x >= points[count - 1][0])
        return points[count - 1][1];
    size_t low = 0, high = count - 1;
    while (high - low > 1) {
        size_t mid = (low + high) / 2;
        if (x < points[mid][0])
            high = mid;
        else
            low = mid;
    }
    double h = points[high][0] - points[low][0], t = (x - points[low][0]) / h;
    double u = 1 - t;
    return u * u * ((1 + 2 * t) * points[low][1] + t * h * slopes[low]) +
           t * t * ((1 + 2 * u) * points[high][1] - u * h * slopes[high]);
}
