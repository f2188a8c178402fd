#include "draw/plot_axis.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { AIM = 6 }; /* about so many marks an axis */

void mil_plot_number(FILE *out, double value, int decimals) {
    char text[32];
    long long unit = 1;
    for (int i = 0; i < decimals; i++)
        unit *= 10;
    if (!(fabs(value) * (double)unit < 1e15)) {
        mil_format_number(value, text, sizeof text);
        fputs(text, out);
        return;
    }
    long long all = llround(fabs(value) * (double)unit);
    for (; decimals && all % 10 == 0; decimals--) {
        all /= 10;
        unit /= 10;
    }
    fprintf(out, "%s%lld", value < 0 && all ? "-" : "", all / unit);
    if (decimals)
        fprintf(out, ".%0*lld", decimals, all % unit);
}

static void widen(mil_scale_line *line, double value) {
    /* Beyond, arithmetic with ends would overflow. */
    if (!(fabs(value) < 1e100) || (line->logarithmic && value < 1e-100))
        return;
    line->least = fmin(line->least, value);
    line->most = fmax(line->most, value);
}

/* Ends from the values, with a little room; an axis of values above nought does not fall below. */
static void fit_values(const mil_plot *plot, bool upright, mil_scale_line *line) {
    line->least = INFINITY;
    line->most = -INFINITY;
    for (size_t s = 0; s < plot->count; s++)
        for (size_t i = 0; i < plot->series[s].count; i++) {
            const mil_plot_series *row = &plot->series[s];
            if (!upright || row->kind != MIL_PLOT_BAND)
                widen(line, upright ? row->y[i] : row->x[i]);
            if (upright && row->low)
                widen(line, row->low[i]);
            if (upright && row->high)
                widen(line, row->high[i]);
        }
    if (line->least > line->most) {
        line->least = line->logarithmic ? 1 : 0;
        line->most = line->logarithmic ? 10 : 1;
    }
    if (line->logarithmic) {
        double room = fmax(0.06 * log10(line->most / line->least), 0.08);
        line->least /= pow(10, room);
        line->most *= pow(10, room);
        return;
    }
    double span = line->most - line->least;
    span = span > 0 ? span : fmax(fabs(line->most), 1e-3);
    bool above = line->least >= 0;
    line->least -= 0.06 * span;
    line->most += 0.06 * span;
    if (above && line->least < 0.25 * line->most)
        line->least = 0;
}

static void add_tick(mil_scale_line *line, double value) {
    double slack = 1e-9 * (line->most - line->least);
    if (value >= line->least - slack && value <= line->most + slack && line->ticks < MIL_TICKS_MOST)
        line->tick[line->ticks++] = value;
}

/* Marks at whole steps of 1, 2 or 5 times a power of ten. */
static void even_ticks(mil_scale_line *line) {
    static const double nice[] = {1, 2, 5, 10};
    double span = line->most - line->least, power = pow(10, floor(log10(span / AIM)));
    int k = 0;
    while (k < 3 && nice[k] * power < 0.999 * span / AIM)
        k++;
    double step = nice[k] * power;
    double first = ceil(line->least / step - 1e-9);
    for (int n = 0; n < MIL_TICKS_MOST; n++)
        add_tick(line, (first + n) * step);
    double digits = -floor(log10(step) + 1e-9);
    line->decimals = digits > 0 ? (digits < 12 ? (int)digits : 12) : 0;
}

/* 1, 2, 5 of every decade; over many decades their beginnings, some left out. */
static void decade_ticks(mil_scale_line *line) {
    double decades = log10(line->most / line->least), first = floor(log10(line->least));
    int every = decades > 4 ? (int)ceil(decades / AIM) : 1;
    for (double d = first; d <= log10(line->most); d += every) {
        add_tick(line, pow(10, d));
        if (decades <= 4) {
            add_tick(line, 2 * pow(10, d));
            add_tick(line, 5 * pow(10, d));
        }
    }
    line->decimals = first < 0 ? (first > -12 ? (int)-first : 12) : 0;
}

void mil_scale_line_make(const mil_plot *plot, bool upright, mil_scale_line *line) {
    const mil_plot_axis *axis = upright ? &plot->y : &plot->x;
    *line = (mil_scale_line){.logarithmic = axis->logarithmic};
    fit_values(plot, upright, line);
    if (isfinite(axis->least) && (!axis->logarithmic || axis->least > 0))
        line->least = axis->least;
    if (isfinite(axis->most) && (!axis->logarithmic || axis->most > 0))
        line->most = axis->most;
    if (!(line->most > line->least))
        line->most = axis->logarithmic ? 10 * line->least : line->least + 1;
    if (axis->logarithmic && line->most / line->least > 10)
        decade_ticks(line);
    else
        even_ticks(line);
}

double mil_scale_line_place(const mil_scale_line *line, double value) {
    if (line->logarithmic)
        return value > 0 ? log(value / line->least) / log(line->most / line->least) : NAN;
    return (value - line->least) / (line->most - line->least);
}
