#include "tone/tone.h"

#include <math.h>

/* Middles of the limits of grades 0 to 5 (ANSI PH2.2-1966, from memory): 1.40-1.70, 1.15-1.40,
 * 0.95-1.15, 0.80-0.95, 0.65-0.80, 0.50-0.65. */
static const double middles[] = {1.55, 1.275, 1.05, 0.875, 0.725, 0.575};
enum { LAST = sizeof middles / sizeof *middles - 1 };

double mil_grade_range(double grade) {
    double from = fmin(fmax(floor(grade), 0), LAST - 1);
    int i = (int)from;
    return middles[i] * pow(middles[i + 1] / middles[i], grade - from);
}

double mil_range_grade(double log_range) {
    int i = 0;
    while (i < LAST - 1 && log_range < middles[i + 1])
        i++;
    return i + log(log_range / middles[i]) / log(middles[i + 1] / middles[i]);
}
