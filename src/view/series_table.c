/* The table of a series. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "view/series.h"
#include "view/told_words.h"
#include "view/wrap.h"

/* log10 of a factor of two */
#define STOP 0.30102999566398120

enum { NAME = 24, LIGHT = 20, FURTHER = 20 };

typedef struct widths {
    size_t name, light, *more;
} widths;

static size_t wider(size_t width, const char *text, size_t most) {
    size_t here = mil_columns(text);
    here = here < most ? here : most;
    return here > width ? here : width;
}

/* Notes as they may be shown: control bytes escaped. */
static void shown(FILE *out, const char *text, size_t width) {
    char *words = mil_printable(text);
    mil_pad(out, words ? words : "", width);
    free(words);
}

static void number(FILE *out, int width, int digits, bool sign, double value) {
    if (isfinite(value))
        fprintf(out, sign ? " %+*.*f" : " %*.*f", width, digits, value);
    else
        fprintf(out, " %*s", width, "-");
}

static void row(FILE *out, const mil_series *series, const mil_series_sheet *s, const widths *w) {
    const milori_sheet *sheet = &s->sheet;
    double minutes = s->noted ? s->noted->minutes : NAN;
    mil_pad(out, s->name, w->name);
    number(out, 6, minutes < 10 && minutes != round(minutes) ? 1 : 0, false, minutes);
    number(out, 6, 0, false, s->noted ? s->noted->hours : NAN);
    fputs("  ", out);
    shown(out, s->noted ? s->noted->light : "", w->light);
    fprintf(out, "  %-8s",
            sheet->tarnish == MILORI_SLIGHTLY_FOGGED  ? "slightly"
            : sheet->tarnish == MILORI_CLEARLY_FOGGED ? "clearly"
                                                      : mil_tarnish_words(sheet->tarnish));
    number(out, 5, 1, false, sheet->range.value / STOP);
    number(out, 5, 2, false, sheet->strength.value);
    fprintf(out, "  %-5s", mil_exposure_words(sheet->exposure));
    number(out, 5, 1, true, s->apart.value);
    number(out, 5, 1, true, isfinite(s->next.value) ? round(2 * s->next.value) / 2 + 0.0 : NAN);
    for (size_t k = 0; k < series->notes->columns; k++) {
        fputs("  ", out);
        shown(out, s->noted ? s->noted->more[k] : "", w->more[k]);
    }
    fputc('\n', out);
}

static void head(FILE *out, const mil_series *series, const widths *w) {
    mil_pad(out, "sheet", w->name);
    fputs("    min  hours  ", out);
    mil_pad(out, "light", w->light);
    fputs("  fog      range depth  exp.  apart  next", out);
    for (size_t k = 0; k < series->notes->columns; k++) {
        fputs("  ", out);
        shown(out, series->notes->column[k], w->more[k]);
    }
    fputc('\n', out);
}

static void measure(const mil_series *series, widths *w) {
    w->name = 5;
    w->light = 5;
    for (size_t k = 0; k < series->notes->columns; k++)
        w->more[k] = wider(1, series->notes->column[k], FURTHER);
    for (size_t i = 0; i < series->count; i++) {
        const mil_series_sheet *s = &series->sheet[i];
        w->name = wider(w->name, s->name, NAME);
        if (!s->noted)
            continue;
        w->light = wider(w->light, s->noted->light, LIGHT);
        for (size_t k = 0; k < series->notes->columns; k++)
            w->more[k] = wider(w->more[k], s->noted->more[k], FURTHER);
    }
}

/* Stops from the light's shortest sheet to its longest, as the blue shows them. */
static double span(const mil_series *series, int which) {
    const mil_series_light *light = &series->light[which];
    for (size_t i = 0; i < series->count; i++)
        if (series->sheet[i].light == which && series->sheet[i].noted->minutes == light->longest)
            return series->sheet[i].apart.value;
    return NAN;
}

static void sentence(FILE *out, const mil_series *series, int which) {
    const mil_series_light *light = &series->light[which];
    if (light->longest > 1.05 * light->shortest)
        fprintf(out,
                ": %zu sheets, %.3g to %.3g minutes. From the shortest to the longest their blue "
                "shows %.1f stops more light, the clock %.1f; a sheet strays from the rest by "
                "about %.1f.",
                light->count, light->shortest, light->longest, span(series, which),
                log2(light->longest / light->shortest), light->scatter);
    else
        fprintf(out,
                ": %zu sheets of %.3g minutes. A sheet strays from the rest by about %.1f stops.",
                light->count, light->longest, light->scatter);
    double give = exp2(1.645 * light->right.sigma);
    if (light->right.value > 0)
        fprintf(out,
                " About %.2g minutes would be right in the same light, likely between %.2g and "
                "%.2g.",
                light->right.value, light->right.value / give, light->right.value * give);
}

static void light_lines(FILE *out, const mil_series *series, int which) {
    char *text = NULL, *name = mil_printable(series->light[which].name);
    size_t size = 0;
    FILE *line = name ? open_memstream(&text, &size) : NULL;
    if (line) {
        fputs(name, line);
        sentence(line, series, which);
        if (fclose(line) == 0) {
            fputc('\n', out);
            mil_wrap(out, "", text);
        }
    }
    free(text);
    free(name);
}

void mil_series_table(FILE *out, const mil_series *series) {
    widths w = {.more = calloc(series->notes->columns + 1, sizeof *w.more)};
    if (!w.more)
        return;
    measure(series, &w);
    head(out, series, &w);
    for (size_t i = 0; i < series->count; i++)
        row(out, series, &series->sheet[i], &w);
    for (size_t k = 0; k < series->lights; k++)
        if (series->light[k].count > 1)
            light_lines(out, series, (int)k);
    free(w.more);
}
