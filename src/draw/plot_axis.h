/* A plot's axis: from values to a place along it, and where its marks stand. */
#ifndef MILORI_PLOT_AXIS_H
#define MILORI_PLOT_AXIS_H

#include <stdio.h>

#include "draw/plot.h"

enum { MIL_TICKS_MOST = 16 };

typedef struct mil_scale_line {
    bool logarithmic;
    double least, most; /* ends, as values */
    int ticks;
    double tick[MIL_TICKS_MOST];
    int decimals; /* of the ticks' words */
} mil_scale_line;

/* The axis that all of the plot's values fit on; upright: the y axis, whose values have error bars
 * and bands. */
void mil_scale_line_make(const mil_plot *plot, bool upright, mil_scale_line *line);
/* Place of a value, 0 at the axis's beginning .. 1; NaN if it has none. */
double mil_scale_line_place(const mil_scale_line *line, double value);
/* A number in the C locale with so many decimals at most, no needless noughts. */
void mil_plot_number(FILE *out, double value, int decimals);

#endif
