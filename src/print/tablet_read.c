/* From the scan of a tablet's print to its steps and curves. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "colour/lab.h"
#include "print/tablet_private.h"
#include "sheet/geometry.h"
#include "sheet/measure.h"

static const double FLOOR = 1e-5;       /* least light: density 5 */
static const double ALONG = 0.28;       /* of a step: half of what is read of it */
static const double ACROSS = 0.25;      /* of the row's width, half again */
static const double TWICE_TOGETHER = 4; /* cells that tell no more than one: tooth is coarser */
enum { CELLS_LEAST = 6, CELLS_MOST = 4096 };

/* Luminance of linear light, 1 the profile's white. */
static double luminance(const mil_decode *decode, const double light[3]) {
    if (decode->channels == 1)
        return light[0];
    const double *row = decode->to_xyz[1];
    return row[0] * light[0] + row[1] * light[1] + row[2] * light[2];
}

static milori_status make_map(milori_context *ctx, const mil_measured *m, mil_map *map) {
    const mil_grid *g = &m->grid;
    size_t cells = (size_t)g->nx * (size_t)g->ny;
    map->nx = g->nx;
    map->ny = g->ny;
    map->L = mil_alloc(ctx, cells, sizeof *map->L);
    for (size_t k = 0; map->L && k < cells; k++) {
        double light[3] = {0};
        for (int c = 0; c < g->channels; c++)
            light[c] = g->light[c][k];
        map->L[k] = (float)mil_lightness(fmax(luminance(m->decode, light), 0));
    }
    return map->L ? MILORI_OK : MILORI_ERR_MEMORY;
}

/* The row between the middles of its ends, given in the upright scan. */
static milori_status given_row(milori_context *ctx, const char *path, const mil_grid *g,
                               const double ends[2][2], size_t count, mil_row *row) {
    double at[2][2];
    for (int e = 0; e < 2; e++) {
        mil_orient_back(g->orientation, g->width, g->height, ends[e][0], ends[e][1], &at[e][0],
                        &at[e][1]);
        at[e][0] /= g->cell;
        at[e][1] /= g->cell;
    }
    double x = at[1][0] - at[0][0], y = at[1][1] - at[0][1], far = hypot(x, y);
    double step = far / (double)(count - 1);
    if (!(step >= 4))
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "%s: %zu steps do not fit between the points given; they are the middles "
                        "of the first and the last step, in px",
                        path, count);
    *row = (mil_row){at[0][0], at[0][1], x / far, y / far, step, step};
    return MILORI_OK;
}

static milori_status find_row(milori_context *ctx, const char *path, const mil_map *map,
                              size_t count, mil_row *row) {
    size_t edges = 0;
    mil_edge *edge = mil_alloc(ctx, MIL_EDGES_MOST, sizeof *edge);
    milori_status status = edge ? mil_edges_find(ctx, map, edge, &edges) : MILORI_ERR_MEMORY;
    mil_row_fault fault = MIL_ROW_FOUND;
    if (status == MILORI_OK)
        fault = mil_row_find(map, edge, edges, count, row);
    free(edge);
    if (fault == MIL_ROW_NONE)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: no row of steps was found; give the middles of its first (deepest "
                        "blue) and last step with --ends \"X,Y X,Y\"",
                        path);
    if (fault == MIL_ROW_NO_END)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: steps were found, but not where their row of %zu begins or ends; give "
                        "the middles of its first (deepest blue) and last step with --ends "
                        "\"X,Y X,Y\"",
                        path, count);
    return status;
}

static int by_value(const void *a, const void *b) {
    float x = *(const float *)a, y = *(const float *)b;
    return x < y ? -1 : x > y;
}

static double middle_of(float *v, size_t count) {
    qsort(v, count, sizeof *v, by_value);
    return (v[(count - 1) / 2] + v[count / 2]) / 2.0;
}

/* Cells of a step's inner part; how many. */
static size_t cells_of(const mil_grid *g, const mil_row *row, double x, double y, size_t *cells) {
    double reach = hypot(ALONG * row->step, ACROSS * row->width) + 1;
    size_t count = 0;
    for (int j = (int)floor(y - reach); j <= (int)(y + reach); j++)
        for (int i = (int)floor(x - reach); i <= (int)(x + reach); i++) {
            double u = i + 0.5 - x, v = j + 0.5 - y;
            double t = u * row->dx + v * row->dy, c = -u * row->dy + v * row->dx;
            if (i < 0 || j < 0 || i >= g->nx || j >= g->ny || fabs(t) > ALONG * row->step ||
                fabs(c) > ACROSS * row->width || count == CELLS_MOST)
                continue;
            cells[count++] = (size_t)j * (size_t)g->nx + (size_t)i;
        }
    return count;
}

static double density_of(double light) {
    return -log10(fmax(light, FLOOR));
}

/* Middles of the cells' light, channel by channel: digits and hairs on the tablet are
 * few of them. */
static void read_step(const mil_measured *m, const size_t *cells, size_t count, float *work,
                      mil_tablet_step *step) {
    const mil_grid *g = &m->grid;
    for (int c = 0; c < g->channels; c++) {
        for (size_t k = 0; k < count; k++)
            work[k] = g->light[c][cells[k]];
        step->light[c] = middle_of(work, count);
    }
    double Y = fmax(luminance(m->decode, step->light), 0);
    for (size_t k = 0; k < count; k++) {
        double light[3] = {0};
        for (int c = 0; c < g->channels; c++)
            light[c] = g->light[c][cells[k]];
        work[k] = (float)fabs(density_of(luminance(m->decode, light)) - density_of(Y));
    }
    step->sigma = 1.4826 * middle_of(work, count) / sqrt((double)count / TWICE_TOGETHER);
    step->sigma = hypot(step->sigma, 0.001); /* what a scanner repeats to at best */
    step->L = mil_lightness(Y);
    step->density = density_of(Y);
    step->red = g->channels == 3 ? density_of(step->light[0]) : step->density;
}

static milori_status read_steps(milori_context *ctx, const mil_measured *m, const mil_row *row,
                                mil_tablet_print *print) {
    const mil_grid *g = &m->grid;
    size_t *cells = mil_alloc(ctx, CELLS_MOST, sizeof *cells);
    float *work = mil_alloc(ctx, CELLS_MOST, sizeof *work);
    milori_status status = cells && work ? MILORI_OK : MILORI_ERR_MEMORY;
    for (size_t i = 0; i < print->tablet.count && status == MILORI_OK; i++) {
        double x = row->x + (double)i * row->step * row->dx;
        double y = row->y + (double)i * row->step * row->dy;
        mil_tablet_step *step = &print->step[i];
        size_t count = cells_of(g, row, x, y, cells);
        mil_orient(g->orientation, g->width, g->height, x * g->cell, y * g->cell, &step->x_px,
                   &step->y_px);
        if (count < CELLS_LEAST)
            status = mil_fail(ctx, MILORI_ERR_SHEET,
                              "%s: step %zu lies outside the scan, or is smaller than a few px; "
                              "scan the whole print at 300 dpi or more",
                              mil_source_info_of(m->source)->path, i + 1);
        else
            read_step(m, cells, count, work, step);
    }
    free(cells);
    free(work);
    return status;
}

/* Points given the wrong way about: the deepest blue is the first step's. */
static void turn_about(mil_tablet_print *print) {
    size_t n = print->tablet.count;
    bool reversed = print->step[0].L > print->step[n - 1].L;
    for (size_t i = 0; reversed && i < n / 2; i++) {
        mil_tablet_step swap = print->step[i];
        print->step[i] = print->step[n - 1 - i];
        print->step[n - 1 - i] = swap;
    }
}

static milori_status monotone(milori_context *ctx, const char *path,
                              const mil_tablet_print *print) {
    for (size_t i = 1; i < print->tablet.count; i++) {
        const mil_tablet_step *a = &print->step[i - 1], *b = &print->step[i];
        double rise = b->density - a->density;
        if (rise > 0.06 && rise > 5 * hypot(a->sigma, b->sigma))
            return mil_fail(ctx, MILORI_ERR_SHEET,
                            "%s: step %zu printed %.2f denser than step %zu, which no tablet does; "
                            "let the print dry and darken fully, and check where the steps were "
                            "read (--json tells)",
                            path, i + 1, rise, i);
    }
    return MILORI_OK;
}

/* What the tablet's two ends must show: the deepest blue and cleared paper. */
static milori_status ends_reached(milori_context *ctx, const char *path,
                                  const mil_tablet_print *print, milori_notes *notes) {
    size_t n = print->tablet.count;
    const mil_tablet_step *s = print->step;
    double blue = s[0].density - s[1].density, noise = 3 * hypot(s[0].sigma, s[1].sigma);
    double paper = s[n - 2].density - s[n - 1].density;
    double paper_noise = 3 * hypot(s[n - 2].sigma, s[n - 1].sigma);
    if (blue > 0.06 * s[0].density + noise)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: exposed too short for the deepest blue: the first two steps still "
                        "differ by %.2f; expose longer and print the tablet again",
                        path, blue);
    if (blue > 0.015 * s[0].density + noise)
        mil_note(notes, "exposure",
                 "the first two steps still differ by %.3f, so the deepest blue may be deeper and "
                 "the scale a little longer: expose longer to be sure",
                 blue);
    if (paper > 0.01 + paper_noise)
        mil_note(notes, "paper",
                 "the last two steps still differ by %.3f, so the last is no cleared paper yet and "
                 "the scale is longer than found: expose shorter, or use a tablet of more density",
                 paper);
    return MILORI_OK;
}

static milori_status solve(milori_context *ctx, const char *path, mil_tablet_print *print,
                           milori_notes *notes) {
    double density[MIL_TABLET_MOST], red[MIL_TABLET_MOST], sigma[MIL_TABLET_MOST];
    turn_about(print);
    milori_status status = monotone(ctx, path, print);
    if (status != MILORI_OK)
        return status;
    for (size_t i = 0; i < print->tablet.count; i++) {
        density[i] = print->step[i].density;
        red[i] = print->step[i].red;
        sigma[i] = print->step[i].sigma;
    }
    bool ranges = mil_scale_fit(&print->tablet, density, sigma, &print->visual);
    print->colour &= mil_scale_fit(&print->tablet, red, sigma, &print->red);
    if (!ranges)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: from the first step to the last the print changes by %.2f only; check "
                        "where the steps were read, and expose longer",
                        path, print->visual.most - print->visual.least);
    double first = -print->tablet.density[0];
    print->spare_stops = (first - print->visual.S[0]) / log10(2);
    return ends_reached(ctx, path, print, notes);
}

milori_status mil_tablet_read(milori_context *ctx, const char *path, const mil_tablet *tablet,
                              const double ends[2][2], mil_tablet_print *print,
                              milori_notes *notes) {
    mil_measured m;
    mil_map map = {0};
    mil_row row;
    *print = (mil_tablet_print){.tablet = *tablet};
    milori_status status = mil_measured_open(ctx, path, &m);
    if (status != MILORI_OK)
        return status;
    status = mil_grid_build(ctx, m.source, &m.absorb, NAN, &m.grid);
    print->colour = m.grid.channels == 3;
    if (status == MILORI_OK)
        status = make_map(ctx, &m, &map);
    if (status == MILORI_OK)
        status = ends ? given_row(ctx, path, &m.grid, ends, tablet->count, &row)
                      : find_row(ctx, path, &map, tablet->count, &row);
    if (status == MILORI_OK)
        status = read_steps(ctx, &m, &row, print);
    if (status == MILORI_OK)
        status = solve(ctx, path, print, notes);
    for (size_t i = 0; i < m.notes.count; i++)
        mil_note(notes, m.notes.note[i].code, "%s", m.notes.note[i].text);
    free(map.L);
    mil_measured_close(&m);
    return status;
}
