/* Middles and spreads that a few odd values do not move. */
#include <math.h>
#include <stdlib.h>

#include "print/target_parts.h"

static int compare_doubles(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double mil_median(double *value, size_t n) {
    if (n == 0)
        return NAN;
    qsort(value, n, sizeof *value, compare_doubles);
    return n % 2 ? value[n / 2] : (value[n / 2 - 1] + value[n / 2]) / 2;
}

double mil_deviation(double *value, size_t n, double *middle) {
    *middle = mil_median(value, n);
    for (size_t i = 0; i < n; i++)
        value[i] = fabs(value[i] - *middle);
    return 1.4826 * mil_median(value, n);
}
