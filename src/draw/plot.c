/* Plots as SVG 1.1: the page, its axes and its key. */
#include "draw/plot.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "draw/plot_parts.h"

#define GREY "#5a5a5a"

static void axis_words(const mil_plot_sheet *s) {
    fputs("<g fill=\"#222222\" font-size=\"13\" text-anchor=\"middle\">\n<text", s->out);
    mil_svg_place(s->out, "x", LEFT + s->w / 2);
    mil_svg_place(s->out, "y", HIGH - 14);
    fputc('>', s->out);
    mil_svg_words(s->out, s->plot->x.name, 0);
    fprintf(s->out, "</text>\n<text transform=\"rotate(-90)\" x=\"-%.0f\" y=\"18\">",
            TOP + s->h / 2);
    mil_svg_words(s->out, s->plot->y.name, 0);
    fputs("</text>\n</g>\n", s->out);
}

static void ticks(const mil_plot_sheet *s, bool upright) {
    const mil_scale_line *axis = upright ? &s->y : &s->x;
    for (int i = 0; i < axis->ticks; i++) {
        double p = mil_scale_line_place(axis, axis->tick[i]);
        double x = upright ? LEFT - 7 : LEFT + p * s->w;
        double y = upright ? TOP + (1 - p) * s->h : TOP + s->h + 18;
        fputs("<g stroke=\"#dcdcdc\" stroke-width=\"1\">", s->out);
        if (upright)
            mil_svg_line(s->out, LEFT, y, LEFT + s->w, y);
        else
            mil_svg_line(s->out, x, TOP, x, TOP + s->h);
        fputs("</g><text", s->out);
        mil_svg_place(s->out, "x", x);
        mil_svg_place(s->out, "y", upright ? y + 4 : y);
        fprintf(s->out, " text-anchor=\"%s\">", upright ? "end" : "middle");
        mil_plot_number(s->out, axis->tick[i], axis->decimals);
        fputs("</text>\n", s->out);
    }
}

static void frame(const mil_plot_sheet *s) {
    fputs("<g stroke=\"" GREY "\" stroke-width=\"1.2\">\n", s->out);
    /* Beside the field, not half under it. */
    double x = LEFT - 0.6, y = TOP + s->h + 0.6;
    mil_svg_line(s->out, x, TOP, x, y);
    mil_svg_line(s->out, x, y, LEFT + s->w, y);
    fputs("</g>\n", s->out);
}

static void key_sign(const mil_plot_sheet *s, mil_plot_kind kind, size_t which, double x,
                     double y) {
    if (kind == MIL_PLOT_POINTS) {
        mil_svg_mark(s->out, which, x + 9, y - 4);
    } else if (kind == MIL_PLOT_LINE) {
        fprintf(s->out, "<g stroke-width=\"1.6\" stroke-dasharray=\"%s\">", mil_svg_dash(which));
        mil_svg_line(s->out, x, y - 4, x + 20, y - 4);
        fputs("</g>", s->out);
    } else {
        fprintf(s->out, "<rect x=\"%.0f\" y=\"%.0f\" width=\"18\" height=\"11\" stroke=\"none\" ",
                x, y - 10);
        fprintf(s->out, "fill=\"%s\"/>", which % 2 ? MIL_BAND_LIGHT : MIL_BAND_DARK);
    }
}

static bool has_key(const mil_plot *plot) {
    for (size_t i = 0; i < plot->count; i++)
        if (plot->series[i].name)
            return true;
    return false;
}

static void key(const mil_plot_sheet *s) {
    size_t which[3] = {0};
    double y = TOP + 14, x = LEFT + s->w + 14;
    fputs("<g font-size=\"12\" fill=\"#222222\">\n", s->out);
    for (size_t i = 0; i < s->plot->count; i++) {
        const mil_plot_series *row = &s->plot->series[i];
        size_t number = which[row->kind]++;
        if (!row->name || y > TOP + s->h)
            continue;
        fputs("<g stroke=\"" MIL_INK "\" stroke-width=\"1.3\">", s->out);
        key_sign(s, row->kind, number, x, y);
        fprintf(s->out, "</g><text x=\"%.0f\" y=\"%.0f\">", x + 26, y);
        mil_svg_words(s->out, row->name, LETTERS);
        fputs("</text>\n", s->out);
        y += 19;
    }
    fputs("</g>\n", s->out);
}

static void head(const mil_plot_sheet *s) {
    fprintf(s->out,
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"160mm\" height=\"110mm\" "
            "viewBox=\"0 0 %d %d\" role=\"graphics-document\" font-family=\"sans-serif\">\n<title>",
            WIDE, HIGH);
    mil_svg_words(s->out, s->plot->title, 0);
    fputs("</title>\n<desc>", s->out);
    mil_svg_words(s->out, s->plot->y.name, 0);
    fputs(" against ", s->out);
    mil_svg_words(s->out, s->plot->x.name, 0);
    fprintf(s->out, "</desc>\n<rect width=\"%d\" height=\"%d\" fill=\"#ffffff\"/>\n", WIDE, HIGH);
    fprintf(s->out, "<text x=\"%d\" y=\"28\" font-size=\"16\" fill=\"#222222\">", LEFT);
    mil_svg_words(s->out, s->plot->title, 0);
    fputs("</text>\n", s->out);
}

milori_status mil_plot_svg(milori_context *ctx, const mil_plot *plot, char **svg, size_t *size) {
    mil_plot_sheet s = {.plot = plot, .h = HIGH - TOP - FOOT};
    *svg = NULL;
    *size = 0;
    s.w = WIDE - LEFT - EDGE - (has_key(plot) ? KEY + EDGE : 0);
    s.out = open_memstream(svg, size);
    if (s.out) {
        mil_scale_line_make(plot, false, &s.x);
        mil_scale_line_make(plot, true, &s.y);
        head(&s);
        fputs("<g font-size=\"12\" fill=\"#222222\">\n", s.out);
        ticks(&s, false);
        ticks(&s, true);
        fputs("</g>\n", s.out);
        axis_words(&s);
        frame(&s);
        mil_svg_field(&s);
        if (has_key(plot))
            key(&s);
        fputs("</svg>\n", s.out);
        bool bad = ferror(s.out) != 0;
        if (fclose(s.out) == 0 && !bad)
            return MILORI_OK;
    }
    free(*svg);
    *svg = NULL;
    return mil_fail(ctx, MILORI_ERR_MEMORY, "no memory for a plot: close other programs");
}
