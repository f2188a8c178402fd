/* The grid's cells about a frame's sides, as one number each that shows exposure best there. */
#include "sheet/frame_private.h"

#include <math.h>
#include <stdlib.h>

static const double CUT_MM = 0.55;             /* this near the cut nothing is believed */
static const double MARGIN_MM[2] = {0.6, 3.0}; /* from the frame outwards: only margin */
static const double DARKEST = 0.002;           /* light */
static const double LEAST_NOISE = 0.0005;      /* density */
static const double WINDOW[2] = {0.7, 2.7};    /* from a side: what is in and out, cells */
static const double SMEARED = 0.1; /* share of a step's variance that loss moves between channels */
enum { REACH = 5, LAG = 2, LEAST_PAIRS = 100, LENGTH = 3 }; /* cells */

/* What a cell is taken for; both may be. */
enum { MARGIN = 1, NEAR = 2 };

typedef struct rim_work {
    const mil_grid *g;
    const mil_sides *sides;
    double mm;
    int box[4]; /* cells: left, top, and beyond right, bottom */
    uint8_t *zone;
    mil_difference *step;
    float *work;
    size_t cells, pairs;
} rim_work;

void mil_sides_place(const mil_sides *s, int k, double x, double y, double *in, double *along) {
    double c = cos(s->angle), v = sin(s->angle), dx = x - s->cx, dy = y - s->cy;
    double a = dx * c + dy * v, b = -dx * v + dy * c;
    *in = s->offset[k] - (k == MIL_TOP ? -b : k == MIL_RIGHT ? a : k == MIL_BOTTOM ? b : -a);
    *along = k == MIL_LEFT || k == MIL_RIGHT ? b : a;
}

static double inside_all(const mil_sides *s, double x, double y) {
    double least = 1e9, in, along;
    for (int k = 0; k < 4; k++) {
        mil_sides_place(s, k, x, y, &in, &along);
        least = fmin(least, in);
    }
    return least;
}

static double density(const mil_grid *g, int c, size_t at) {
    double light = g->light[c][at];
    return -log10(light > DARKEST ? light : DARKEST);
}

/* Margin, and what is within reach of the sides, clear of the cut. */
static void mark_zones(rim_work *w, const mil_rect *outline) {
    const mil_grid *g = w->g;
    const mil_sides *s = w->sides;
    double far = MARGIN_MM[1] / w->mm, beyond = far > REACH ? far : REACH;
    double reach = hypot(s->offset[0] + s->offset[2], s->offset[1] + s->offset[3]) / 2;
    for (int e = 0; e < 4; e++) {
        double at = (e % 2 ? s->cy : s->cx) + (e < 2 ? -1 : 1) * (reach + beyond + 1);
        int most = e % 2 ? g->ny : g->nx;
        w->box[e] = at < 0 ? 0 : at > most ? most : (int)at;
    }
    for (int j = w->box[1]; j < w->box[3]; j++)
        for (int i = w->box[0]; i < w->box[2]; i++) {
            double x = i + 0.5, y = j + 0.5, in = inside_all(s, x, y);
            bool clear = mil_rect_inside(outline, x * g->cell, y * g->cell) * g->mm_px > CUT_MM;
            bool margin = clear && in < -MARGIN_MM[0] / w->mm && in > -far;
            bool near = clear && fabs(in) < REACH;
            w->zone[(size_t)j * (size_t)g->nx + (size_t)i] =
                (uint8_t)((margin ? MARGIN : 0) | (near ? NEAR : 0));
            w->cells += near;
        }
}

/* Differences between margin cells LAG apart: the noise that an edge stands in. At most room. */
static void margin_steps(rim_work *w, size_t room) {
    const mil_grid *g = w->g;
    for (int j = w->box[1]; j < w->box[3]; j++)
        for (int i = w->box[0]; i < w->box[2]; i++)
            for (int way = 0; way < 2; way++) {
                int x = i + (way ? 0 : LAG), y = j + (way ? LAG : 0);
                if (x >= g->nx || y >= g->ny || w->pairs >= room)
                    continue;
                size_t a = (size_t)j * (size_t)g->nx + (size_t)i;
                size_t b = (size_t)y * (size_t)g->nx + (size_t)x;
                if (!(w->zone[a] & w->zone[b] & MARGIN))
                    continue;
                for (int c = 0; c < g->channels; c++)
                    w->step[w->pairs].d[c] = (float)(density(g, c, b) - density(g, c, a));
                w->pairs++;
            }
}

/* Mean density inside less that outside, piece by piece of one side, as outer products. */
static void side_steps(const rim_work *w, int k, double *sums, double cov[3][3], double *count) {
    const mil_grid *g = w->g;
    const double *offset = w->sides->offset;
    double low = -offset[k % 2 ? MIL_TOP : MIL_LEFT];
    int n = (int)((offset[(k + 1) % 4] + offset[(k + 3) % 4]) / LENGTH) + 1;
    for (int i = 0; i < 8 * n; i++)
        sums[i] = 0;
    for (int j = w->box[1]; j < w->box[3]; j++)
        for (int i = w->box[0]; i < w->box[2]; i++) {
            size_t at = (size_t)j * (size_t)g->nx + (size_t)i;
            double in, along;
            if (!(w->zone[at] & NEAR))
                continue;
            mil_sides_place(w->sides, k, i + 0.5, j + 0.5, &in, &along);
            int piece = (int)floor((along - low) / LENGTH);
            if (piece < 0 || piece >= n || fabs(in) < WINDOW[0] || fabs(in) > WINDOW[1])
                continue;
            double *sum = sums + 8 * piece + (in > 0 ? 0 : 4);
            for (int c = 0; c < g->channels; c++)
                sum[c] += density(g, c, at);
            sum[3]++;
        }
    for (int i = 0; i < n; i++) {
        const double *in = sums + 8 * i, *out = in + 4;
        if (in[3] < 3 || out[3] < 3)
            continue;
        for (int a = 0; a < 3; a++)
            for (int b = 0; b < 3; b++)
                cov[a][b] += (in[a] / in[3] - out[a] / out[3]) * (in[b] / in[3] - out[b] / out[3]);
        ++*count;
    }
}

/* The mix in which the sides stand out most against what the margin does at this scale. */
static void mix_of(rim_work *w, const bool seen[4], double *sums, double mix[3]) {
    double noise[3][3], steps[3][3] = {{0}}, count = 0, trace = 0;
    mix[0] = 1;
    mix[1] = mix[2] = 0;
    if (w->g->channels == 1)
        return;
    mil_covariance(w->step, w->pairs, 3, 0.9, w->work, noise);
    for (int k = 0; k < 4; k++)
        if (seen[k])
            side_steps(w, k, sums, steps, &count);
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++) {
            steps[a][b] /= count > 0 ? count : 1;
            trace += a == b ? steps[a][b] : 0;
        }
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++) {
            /* Compression keeps colour in blocks larger than a cell: only lightness is in place. */
            double colour = (a == b) - 1.0 / 3;
            noise[a][b] += (a == b) * LEAST_NOISE * LEAST_NOISE;
            noise[a][b] += w->g->lossy ? SMEARED * trace * colour : 0;
        }
    mil_dye_axis(steps, noise, mix);
}

/* Values of the mix near the sides, and their noise. */
static void take_cells(rim_work *w, const double mix[3], mil_rim *rim) {
    const mil_grid *g = w->g;
    for (int j = w->box[1]; j < w->box[3]; j++)
        for (int i = w->box[0]; i < w->box[2]; i++) {
            size_t at = (size_t)j * (size_t)g->nx + (size_t)i;
            double value = 0;
            if (!(w->zone[at] & NEAR))
                continue;
            for (int c = 0; c < g->channels; c++)
                value += mix[c] * density(g, c, at);
            rim->cell[rim->count++] =
                (mil_rim_cell){(float)(i + 0.5), (float)(j + 0.5), (float)value};
        }
    for (size_t k = 0; k < w->pairs; k++) {
        double sum = 0;
        for (int c = 0; c < g->channels; c++)
            sum += mix[c] * w->step[k].d[c];
        w->work[k] = (float)fabs(sum);
    }
    rim->noise = 1.4826 / sqrt(2) * mil_quantile(w->work, w->pairs, 0.5);
}

milori_status mil_rim_make(milori_context *ctx, const mil_grid *g, const mil_rect *outline,
                           const mil_sides *sides, const bool seen[4], mil_rim *rim) {
    size_t room = 0;
    rim_work w = {.g = g, .sides = sides, .mm = g->mm_px * g->cell};
    double most = 0;
    for (int k = 0; k < 4; k++)
        most = fmax(most, sides->offset[k] + sides->offset[(k + 2) % 4]);
    *rim = (mil_rim){.mm = w.mm};
    w.zone = mil_alloc(ctx, (size_t)g->nx * (size_t)g->ny, 1);
    milori_status status = w.zone ? MILORI_OK : MILORI_ERR_MEMORY;
    if (status == MILORI_OK) {
        mark_zones(&w, outline);
        room = 2 * (size_t)(w.box[2] - w.box[0]) * (size_t)(w.box[3] - w.box[1]);
    }
    w.step = mil_alloc(ctx, room, sizeof *w.step);
    w.work = mil_alloc(ctx, room, sizeof *w.work);
    double *sums = mil_alloc(ctx, 8 * ((size_t)(most / LENGTH) + 3), sizeof *sums);
    rim->cell = mil_alloc(ctx, w.cells + 1, sizeof *rim->cell);
    if (!w.step || !w.work || !sums || !rim->cell)
        status = MILORI_ERR_MEMORY;
    if (status == MILORI_OK) {
        double mix[3];
        margin_steps(&w, room);
        if (w.pairs >= LEAST_PAIRS) {
            mix_of(&w, seen, sums, mix);
            take_cells(&w, mix, rim);
        }
    }
    free(w.zone);
    free(w.step);
    free(w.work);
    free(sums);
    if (status != MILORI_OK)
        mil_rim_free(rim);
    return status;
}

void mil_rim_free(mil_rim *rim) {
    free(rim->cell);
    *rim = (mil_rim){0};
}
