/* Plots as SVG 1.1: what lies in the field. Ink of one colour; what differs differs in shape. */
#include "draw/plot_parts.h"

#include <math.h>
#include <stdlib.h>

enum { SHAPES = 8, DASHES = 4 };

/* Words as XML 1.0 text; what is no UTF-8 or a control as mil_printable() shows it. most: letters
 * kept, an ellipsis after them; 0 all. */
void mil_svg_words(FILE *out, const char *text, size_t most) {
    char *shown = mil_printable(text ? text : "");
    size_t letters = 0;
    for (const char *s = shown ? shown : ""; *s;) {
        uint32_t code;
        size_t n = mil_utf8(s, &code);
        n = n ? n : 1;
        if (most && ++letters == most && s[n]) {
            fputs("\xe2\x80\xa6", out);
            break;
        }
        if (code == '&' || code == '<' || code == '>' || code == '"')
            fprintf(out, "&#%u;", (unsigned)code);
        else if (code == 0xfffe || code == 0xffff) /* no characters of XML */
            fputc('?', out);
        else
            fwrite(s, 1, n, out);
        s += n;
    }
    free(shown);
}

void mil_svg_place(FILE *out, const char *name, double value) {
    fprintf(out, " %s=\"", name);
    mil_plot_number(out, value, 2);
    fputc('"', out);
}

void mil_svg_line(FILE *out, double x1, double y1, double x2, double y2) {
    fputs("<line", out);
    mil_svg_place(out, "x1", x1);
    mil_svg_place(out, "y1", y1);
    mil_svg_place(out, "x2", x2);
    mil_svg_place(out, "y2", y2);
    fputs("/>\n", out);
}

/* A point of the field, y downwards; false if the values have no place. Far outside counts as just
 * outside: no reader chokes on it. */
static bool spot(const mil_plot_sheet *s, double vx, double vy, double *x, double *y) {
    *x = s->w * mil_scale_line_place(&s->x, vx);
    *y = s->h * (1 - mil_scale_line_place(&s->y, vy));
    if (isnan(*x) || isnan(*y) || isinf(vx) || isinf(vy))
        return false;
    *x = fmin(fmax(*x, -1000), WIDE + 1000);
    *y = fmin(fmax(*y, -1000), HIGH + 1000);
    return true;
}

static void path_to(FILE *out, char how, double x, double y) {
    fputc(how, out);
    mil_plot_number(out, x, 2);
    fputc(' ', out);
    mil_plot_number(out, y, 2);
}

/* Circle, square, triangle, diamond, filled and open in turn; then the other way round. */
void mil_svg_mark(FILE *out, size_t which, double x, double y) {
    static const double corner[4][4][2] = {{{0}},
                                           {{-4, -4}, {4, -4}, {4, 4}, {-4, 4}},
                                           {{0, -5}, {5, 4}, {-5, 4}, {0, -5}},
                                           {{0, -5.6}, {5.6, 0}, {0, 5.6}, {-5.6, 0}}};
    size_t shape = which % 4;
    const char *fill = (which + which % SHAPES / 4) % 2 ? "#ffffff" : MIL_INK;
    if (shape == 0) {
        fputs("<circle", out);
        mil_svg_place(out, "cx", x);
        mil_svg_place(out, "cy", y);
        fprintf(out, " r=\"4.4\" fill=\"%s\"/>", fill);
        return;
    }
    fputs("<path d=\"", out);
    for (int i = 0; i < 4; i++)
        path_to(out, i ? 'L' : 'M', x + corner[shape][i][0], y + corner[shape][i][1]);
    fprintf(out, "Z\" fill=\"%s\"/>", fill);
}

static void bar(const mil_plot_sheet *s, const mil_plot_series *row, size_t i, double x) {
    double low = row->low ? row->low[i] : NAN, high = row->high ? row->high[i] : NAN, at, y[2];
    if (!isfinite(low) || !isfinite(high))
        return;
    /* On an axis of decades what reaches nought reaches the axis's foot. */
    if (s->y.logarithmic && low <= 0)
        low = s->y.least;
    if (!spot(s, row->x[i], low, &at, &y[0]) || !spot(s, row->x[i], high, &at, &y[1]))
        return;
    for (int k = 0; k < 2; k++)
        y[k] = fmin(fmax(y[k], 0), s->h);
    mil_svg_line(s->out, x, y[0], x, y[1]);
    mil_svg_line(s->out, x - 3, y[0], x + 3, y[0]);
    mil_svg_line(s->out, x - 3, y[1], x + 3, y[1]);
}

static void point(const mil_plot_sheet *s, const mil_plot_series *row, size_t i, size_t which) {
    double x, y;
    if (!spot(s, row->x[i], row->y[i], &x, &y) || x < -1 || y < -1 || x > s->w + 1 || y > s->h + 1)
        return;
    fputs("<g role=\"graphics-symbol\"><title>", s->out);
    if (row->words && row->words[i]) {
        mil_svg_words(s->out, row->words[i], 0);
        fputs(": ", s->out);
    }
    mil_plot_number(s->out, row->x[i], s->x.decimals + 2);
    fputs(", ", s->out);
    mil_plot_number(s->out, row->y[i], s->y.decimals + 2);
    fputs("</title>\n", s->out);
    bar(s, row, i, x);
    mil_svg_mark(s->out, which, x, y);
    fputs("</g>\n", s->out);
}

static void points(const mil_plot_sheet *s, const mil_plot_series *row, size_t which) {
    fputs("<g stroke=\"" MIL_INK "\" stroke-width=\"1.3\">\n", s->out);
    for (size_t i = 0; i < row->count; i++)
        point(s, row, i, which);
    fputs("</g>\n", s->out);
}

const char *mil_svg_dash(size_t which) {
    static const char *const dashes[DASHES] = {"none", "7 4", "2 3", "9 3 2 3"};
    return dashes[which % DASHES];
}

static void polyline(const mil_plot_sheet *s, const mil_plot_series *row, size_t which) {
    bool down = false;
    fprintf(s->out,
            "<path fill=\"none\" stroke=\"" MIL_INK
            "\" stroke-width=\"1.6\" stroke-dasharray=\"%s\" "
            "d=\"M0 -900",
            mil_svg_dash(which));
    for (size_t i = 0; i < row->count; i++) {
        double x, y;
        bool there = spot(s, row->x[i], row->y[i], &x, &y);
        if (there)
            path_to(s->out, down ? 'L' : 'M', x, y);
        down = there;
    }
    fputs("\"/>\n", s->out);
}

/* Whether a band has both edges at i. */
static bool edges(const mil_plot_sheet *s, const mil_plot_series *row, size_t i, double at[3]) {
    double low = row->low[i];
    if (s->y.logarithmic && low <= 0 && isfinite(low))
        low = s->y.least;
    return spot(s, row->x[i], low, &at[0], &at[1]) &&
           spot(s, row->x[i], row->high[i], &at[0], &at[2]);
}

static void band(const mil_plot_sheet *s, const mil_plot_series *row, size_t which) {
    double at[3];
    fprintf(s->out, "<path stroke=\"none\" fill=\"%s\" d=\"M0 -900",
            which % 2 ? MIL_BAND_LIGHT : MIL_BAND_DARK);
    for (size_t i = 0; row->low && row->high && i < row->count;) {
        size_t end = i;
        while (end < row->count && edges(s, row, end, at))
            path_to(s->out, end++ == i ? 'M' : 'L', at[0], at[1]);
        for (size_t k = end; k > i; k--)
            if (edges(s, row, k - 1, at))
                path_to(s->out, 'L', at[0], at[2]);
        if (end > i)
            fputc('Z', s->out);
        i = end + 1;
    }
    fputs("\"/>\n", s->out);
}

static void rows_of(const mil_plot_sheet *s, mil_plot_kind kind,
                    void (*draw)(const mil_plot_sheet *, const mil_plot_series *, size_t)) {
    for (size_t i = 0, which = 0; i < s->plot->count; i++)
        if (s->plot->series[i].kind == kind)
            draw(s, &s->plot->series[i], which++);
}

void mil_svg_field(const mil_plot_sheet *s) {
    /* An inner svg cuts off what lies outside; a point on the field's edge is to stay whole. */
    fprintf(s->out, "<svg x=\"%d\" y=\"%d\" width=\"%.0f\" height=\"%.0f\" overflow=\"hidden\">\n",
            LEFT, TOP, s->w, s->h);
    rows_of(s, MIL_PLOT_BAND, band);
    rows_of(s, MIL_PLOT_LINE, polyline);
    fprintf(s->out, "</svg>\n<g transform=\"translate(%d %d)\">\n", LEFT, TOP);
    rows_of(s, MIL_PLOT_POINTS, points);
    fputs("</g>\n", s->out);
}
