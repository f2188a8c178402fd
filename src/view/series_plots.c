/* A series drawn: fog against age; range, and depth of the blue, against minutes. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "draw/plot.h"
#include "scan/transaction.h"
#include "sheet/tell.h"
#include "view/series.h"

/* log10 of a factor of two */
#define STOP 0.30102999566398120

enum { GROUPS = 8, CURVE = 60, MOST_ROWS = 2 * GROUPS + 1 };

/* One point: false leaves the sheet out. */
typedef bool point_of(const mil_series_sheet *s, double at[4]);

typedef struct drawing {
    milori_context *ctx;
    const mil_series *series;
    double *value; /* x, y, low, high of every group's points, then of the curves */
    const char **word;
    size_t used;
    size_t count;
    mil_plot_series row[MOST_ROWS];
} drawing;

static bool fog_point(const mil_series_sheet *s, double at[4]) {
    const milori_value *fog = &s->sheet.fog;
    double sigma = isfinite(fog->sigma) ? fog->sigma : 0;
    at[0] = s->noted->hours;
    at[1] = fog->value;
    at[2] = fmax(fog->value - sigma, 0);
    at[3] = fog->value + sigma;
    return s->sheet.tarnish != MILORI_TARNISH_UNKNOWN;
}

static bool range_point(const mil_series_sheet *s, double at[4]) {
    const milori_value *range = &s->sheet.range;
    double sigma = isfinite(range->sigma) ? range->sigma / STOP : 0;
    at[0] = s->noted->minutes;
    at[1] = range->value / STOP;
    at[2] = fmax(at[1] - sigma, 0);
    at[3] = at[1] + sigma;
    return true;
}

static bool depth_point(const mil_series_sheet *s, double at[4]) {
    const milori_value *strength = &s->sheet.strength;
    at[0] = s->noted->minutes;
    at[1] = strength->value;
    at[2] = fmax(at[1] - strength->sigma, at[1] / 100);
    at[3] = at[1] + strength->sigma;
    return true;
}

/* The lights' names in the order of the notes' sheets; what comes after the last shares its look.
 * "": none noted. */
static size_t list_groups(const mil_series *series, const char *name[GROUPS]) {
    size_t n = 0;
    for (size_t i = 0; i < series->count && n < GROUPS; i++) {
        const mil_noted *noted = series->sheet[i].noted;
        size_t k = 0;
        while (noted && k < n && strcasecmp(name[k], noted->light) != 0)
            k++;
        if (noted && k == n)
            name[n++] = noted->light;
    }
    return n;
}

static bool of_group(const mil_noted *noted, const char *const *name, size_t which, size_t groups) {
    size_t k = 0;
    while (k + 1 < groups && strcasecmp(name[k], noted->light) != 0)
        k++;
    return k == which;
}

/* Room for count more points of the next row. */
static void next_row(drawing *d, mil_plot_kind kind, const char *name, size_t count) {
    double *at = d->value + 4 * d->used;
    d->row[d->count++] =
        (mil_plot_series){.kind = kind,
                          .count = count,
                          .name = name,
                          .x = at,
                          .y = at + count,
                          .low = kind == MIL_PLOT_LINE ? NULL : at + 2 * count,
                          .high = kind == MIL_PLOT_LINE ? NULL : at + 3 * count,
                          .words = kind == MIL_PLOT_POINTS ? d->word + d->used : NULL};
    d->used += count;
}

/* The points of one group: those that have a place. */
static void add_group(drawing *d, const char *const *name, size_t which, size_t groups,
                      point_of *point) {
    const mil_series *series = d->series;
    size_t first = d->used, room = series->count, n = 0;
    double *at = d->value + 4 * first;
    const char *shown = !name[which][0]                           ? "light not noted"
                        : which + 1 == groups && groups == GROUPS ? "other lights"
                                                                  : name[which];
    next_row(d, MIL_PLOT_POINTS, groups > 1 || name[0][0] ? shown : NULL, room);
    for (size_t i = 0; i < room; i++) {
        const mil_series_sheet *s = &series->sheet[i];
        double here[4];
        if (!s->noted || !of_group(s->noted, name, which, groups) || !point(s, here) ||
            !isfinite(here[0]) || !isfinite(here[1]))
            continue;
        for (size_t k = 0; k < 4; k++)
            at[k * room + n] = here[k];
        d->word[first + n++] = s->name;
    }
    d->row[d->count - 1].count = n;
}

/* Where light tones are called right, over the whole axis of minutes; what the sheets say of their
 * dye's most is taken together. */
static void add_right(drawing *d, mil_plot_axis *x) {
    const mil_series *series = d->series;
    double sum = 0, count = 0, ends[2] = {INFINITY, 0}, limits[2];
    for (size_t i = 0; i < series->count; i++) {
        const mil_series_sheet *s = &series->sheet[i];
        if (!s->noted || !(s->noted->minutes > 0) || !(s->sheet.most.value > 0))
            continue;
        sum += log(s->sheet.most.value);
        count++;
        ends[0] = fmin(ends[0], s->noted->minutes);
        ends[1] = fmax(ends[1], s->noted->minutes);
    }
    if (count < 1)
        return;
    mil_tell_right(exp(sum / count), 0, 0, limits);
    x->least = ends[0] / 1.25;
    x->most = ends[1] * 1.25;
    double *at = d->value + 4 * d->used;
    next_row(d, MIL_PLOT_BAND, "called right", 2);
    for (size_t i = 0; i < 2; i++) {
        at[i] = i ? x->most : x->least;
        at[2 + i] = limits[0];
        at[4 + i] = limits[0];
        at[6 + i] = limits[1];
    }
}

/* The lights' own relations, as lines that their points lie about. */
static void add_curves(drawing *d) {
    for (size_t k = 0; k < d->series->lights && d->count < MOST_ROWS; k++) {
        const mil_series_light *light = &d->series->light[k];
        if (light->count < 2 || light->longest < 1.05 * light->shortest)
            continue;
        double *x = d->value + 4 * d->used, *y = x + CURVE;
        next_row(d, MIL_PLOT_LINE, NULL, CURVE);
        for (int i = 0; i < CURVE; i++) {
            x[i] = light->shortest * pow(light->longest / light->shortest, i / (CURVE - 1.0));
            y[i] = mil_series_strength(light, x[i]);
        }
    }
}

static char *plot_path(milori_context *ctx, const char *folder, const char *name) {
    size_t room = strlen(folder) + strlen(name) + 2;
    char *path = mil_alloc(ctx, room, 1);
    if (path)
        snprintf(path, room, "%s/%s", folder, name);
    return path;
}

static milori_status write_svg(milori_context *ctx, const char *folder, const char *name,
                               const mil_plot *plot, bool replace) {
    char *svg = NULL, *path = plot_path(ctx, folder, name);
    size_t size = 0;
    mil_transaction *transaction = NULL;
    milori_status status = path ? mil_plot_svg(ctx, plot, &svg, &size) : MILORI_ERR_MEMORY;
    if (status == MILORI_OK)
        status = mil_transaction_open(ctx, path, replace, &transaction);
    if (status == MILORI_OK) {
        if (mil_transaction_write(transaction, svg, size)) {
            status = mil_transaction_commit(transaction);
        } else {
            status = mil_transaction_fail(transaction, NULL);
            mil_transaction_abort(transaction);
        }
    }
    free(svg);
    free(path);
    return status;
}

static const struct plan {
    const char *file, *title, *wants;
    mil_plot_axis x, y;
    point_of *point;
    bool curves;
} plans[] = {{"fog-and-age.svg",
              "How tarnished the sheets are, by age",
              "hours",
              {"hours since coating", false, 0, NAN},
              {"fog, red density", false, 0, NAN},
              fog_point,
              false},
             {"range-and-minutes.svg",
              "How many stops of light the sheets hold",
              "minutes",
              {"minutes of exposure", true, NAN, NAN},
              {"range, stops", false, 0, NAN},
              range_point,
              false},
             {"depth-and-minutes.svg",
              "How deep the blue of the light tones is",
              "minutes",
              {"minutes of exposure", true, NAN, NAN},
              {"depth, K/S", true, NAN, NAN},
              depth_point,
              true}};

static milori_status draw(drawing *d, const struct plan *plan, const char *folder, bool replace,
                          milori_notes *said) {
    const char *name[GROUPS];
    size_t groups = list_groups(d->series, name), points = 0;
    d->used = d->count = 0;
    for (size_t g = 0; g < groups; g++) {
        add_group(d, name, g, groups, plan->point);
        points += d->row[d->count - 1].count;
    }
    if (points == 0) {
        mil_note(said, "plot", "no sheet has %s noted: %s is not drawn", plan->wants, plan->file);
        return MILORI_OK;
    }
    mil_plot plot = {plan->title, plan->x, plan->y, d->row, 0};
    if (plan->curves) {
        add_right(d, &plot.x);
        add_curves(d);
    }
    plot.count = d->count;
    return write_svg(d->ctx, folder, plan->file, &plot, replace);
}

milori_status mil_series_plots_vacant(milori_context *ctx, const char *folder) {
    milori_status status = MILORI_OK;
    for (size_t i = 0; i < sizeof plans / sizeof *plans && status == MILORI_OK; i++) {
        struct stat st;
        char *path = plot_path(ctx, folder, plans[i].file);
        if (!path)
            status = MILORI_ERR_MEMORY;
        else if (lstat(path, &st) == 0)
            status = mil_fail(ctx, MILORI_ERR_EXISTS,
                              "%s: is there already; --replace writes over it", path);
        free(path);
    }
    return status;
}

milori_status mil_series_plots(milori_context *ctx, const mil_series *series, const char *folder,
                               bool replace, milori_notes *said) {
    size_t room = GROUPS * series->count + MOST_ROWS * CURVE;
    drawing d = {.ctx = ctx,
                 .series = series,
                 .value = mil_alloc(ctx, room, 4 * sizeof *d.value),
                 .word = mil_alloc(ctx, room, sizeof *d.word)};
    milori_status status = d.value && d.word ? MILORI_OK : MILORI_ERR_MEMORY;
    for (size_t i = 0; i < sizeof plans / sizeof *plans && status == MILORI_OK; i++)
        status = draw(&d, &plans[i], folder, replace, said);
    free(d.value);
    free(d.word);
    return status;
}
