/* A small plot as SVG: points, error bars, lines and bands over two named axes. */
#ifndef MILORI_PLOT_H
#define MILORI_PLOT_H

#include "base/base.h"

typedef enum mil_plot_kind { MIL_PLOT_LINE, MIL_PLOT_POINTS, MIL_PLOT_BAND } mil_plot_kind;

/* One row of things drawn alike. low and high: error bars of points, edges of a
 * band; else NULL. words: what each point is (a file's name), or NULL. Values
 * that are no numbers are left out. */
typedef struct mil_plot_series {
    mil_plot_kind kind;
    const char *name; /* in the key; NULL not there */
    size_t count;
    const double *x, *y, *low, *high;
    const char *const *words;
} mil_plot_series;

typedef struct mil_plot_axis {
    const char *name;   /* with its unit: "hours since coating" */
    bool logarithmic;   /* decades; values <= 0 are left out */
    double least, most; /* NaN: from the values */
} mil_plot_axis;

typedef struct mil_plot {
    const char *title;
    mil_plot_axis x, y;
    const mil_plot_series *series;
    size_t count;
} mil_plot;

/* The plot as a standalone SVG of about 160 x 110 mm that reads in black and
 * white too and needs nothing from outside; every point has a title for screen
 * readers and pointers. Numbers in the C locale. A string to free(). */
milori_status mil_plot_svg(milori_context *ctx, const mil_plot *plot, char **svg, size_t *size);

#endif
