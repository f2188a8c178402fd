#include "print/tablet_plot.h"

#include <math.h>

#include "draw/plot.h"

enum { LINE = 241 };

milori_status mil_tablet_plot(milori_context *ctx, const mil_tablet_print *print, const char *title,
                              char **svg, size_t *size) {
    const mil_scale_curve *c = &print->visual;
    double x[MIL_TABLET_MOST], y[MIL_TABLET_MOST], low[MIL_TABLET_MOST], high[MIL_TABLET_MOST];
    double red[MIL_TABLET_MOST], line_x[LINE], line_y[LINE];
    double from = c->point[0][0], to = c->point[c->count - 1][0];
    for (size_t i = 0; i < c->count; i++) {
        const mil_tablet_step *s = &print->step[i];
        x[i] = -print->tablet.density[i];
        y[i] = s->density;
        low[i] = y[i] - 2 * s->sigma;
        high[i] = y[i] + 2 * s->sigma;
        red[i] = s->red;
    }
    for (int i = 0; i < LINE; i++) {
        line_x[i] = from + (to - from) * i / (LINE - 1);
        line_y[i] = mil_scale_at(c, line_x[i]);
    }
    double point_x[2] = {c->T[0], c->S[0]}, point_y[2] = {c->T[1], c->S[1]};
    static const char *const names[2] = {"T: 0.04 above paper", "S: 90 % of the deepest blue"};
    const mil_plot_series series[] = {
        {.kind = MIL_PLOT_LINE, .name = "curve", .count = LINE, .x = line_x, .y = line_y},
        {.kind = MIL_PLOT_POINTS,
         .name = "steps, visual",
         .count = c->count,
         .x = x,
         .y = y,
         .low = low,
         .high = high},
        {.kind = MIL_PLOT_POINTS,
         .name = "T and S",
         .count = 2,
         .x = point_x,
         .y = point_y,
         .words = names},
        {.kind = MIL_PLOT_POINTS, .name = "steps, red light", .count = c->count, .x = x, .y = red}};
    const mil_plot plot = {
        .title = title,
        .x = {.name = "log10 of light reaching the coat (0: no film)", .least = NAN, .most = NAN},
        .y = {.name = "density of the print", .least = 0, .most = NAN},
        .series = series,
        .count = print->colour ? 4 : 3};
    return mil_plot_svg(ctx, &plot, svg, size);
}
