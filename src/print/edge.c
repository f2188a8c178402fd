#include "print/edge.h"

#include <math.h>
#include <stdlib.h>

static const double FRAME_MM = 0.7; /* so far round the frame its light may have strayed */
static const double BARE = 0.3, COATED = 0.6; /* between them the coat is thin: part of it shows */
static const double DARK_BED = 0.1;           /* linear light of a black lid, at most */

struct mil_edge {
    int nx, ny;
    double cell;  /* px of the scan */
    float *cover; /* of a cell, 0 paper .. 1 coat */
};

/* Density of dye or yellow, whichever there is more of. */
static float coat_density(const mil_grid *g, size_t at) {
    double least = 1;
    for (int c = 0; c < g->channels; c += 2)
        least = fmin(least, g->light[c][at]);
    return (float)-log10(fmax(least, 0.002));
}

static int by_value(const void *a, const void *b) {
    float x = *(const float *)a, y = *(const float *)b;
    return (x > y) - (x < y);
}

/* Median of the values of cells of one part; otherwise if there are too few. */
static double median_of(const uint8_t *map, int part, const float *value, size_t cells,
                        double otherwise, float *work) {
    size_t n = 0;
    for (size_t k = 0; k < cells; k++)
        if (map[k] == part)
            work[n++] = value[k];
    if (n < 50)
        return otherwise;
    qsort(work, n, sizeof *work, by_value);
    return work[n / 2];
}

/* Distance in px inside (positive) or outside a turned rectangle's nearest side. */
static double inside_by(const mil_rect *r, double x, double y) {
    double u, v;
    mil_rect_local(r, x, y, &u, &v);
    return fmin((1 - fabs(u)) * r->w, (1 - fabs(v)) * r->h) / 2;
}

static double step(double low, double high, double x) {
    double t = fmin(fmax((x - low) / (high - low), 0), 1);
    return t * t * (3 - 2 * t);
}

/* Green, or grey: what a lid of no colour is dark in. */
static float lid_light(const mil_grid *g, size_t at) {
    return g->light[g->channels / 2][at];
}

static void cover_cells(const mil_grid *g, const mil_found *found, double bare, double coat,
                        double bed, const float *density, float *cover) {
    double soft = 0.5 * g->cell, near = FRAME_MM / g->mm_px;
    for (int j = 0; j < g->ny; j++)
        for (int i = 0; i < g->nx; i++) {
            size_t at = (size_t)j * (size_t)g->nx + (size_t)i;
            double x = (i + 0.5) * g->cell, y = (j + 0.5) * g->cell;
            double on_paper = step(-soft, soft, inside_by(&found->outline, x, y) - soft);
            double part = step(BARE, COATED, (density[at] - bare) / (coat - bare));
            if (bed < DARK_BED && lid_light(g, at) < 1.5 * bed + 0.01)
                part = 0;
            if (inside_by(&found->frame, x, y) > -near)
                part = 1;
            cover[at] = (float)(on_paper * part);
        }
}

/* Mean with the neighbours, weights 1 2 1 both ways: the paper's own grain is no edge. */
static void smooth(const mil_grid *g, const float *from, float *to) {
    for (int j = 0; j < g->ny; j++)
        for (int i = 0; i < g->nx; i++) {
            float sum = 0;
            for (int k = 0; k < 9; k++) {
                int x = i + k % 3 - 1, y = j + k / 3 - 1;
                x = x < 0 ? 0 : x >= g->nx ? g->nx - 1 : x;
                y = y < 0 ? 0 : y >= g->ny ? g->ny - 1 : y;
                float weight = (float)((2 - abs(k % 3 - 1)) * (2 - abs(k / 3 - 1)));
                sum += weight * from[(size_t)y * (size_t)g->nx + (size_t)x];
            }
            to[(size_t)j * (size_t)g->nx + (size_t)i] = sum / 16;
        }
}

static milori_status fill(milori_context *ctx, const mil_measured *measured, int index,
                          mil_edge *edge, uint8_t *map, float *density, float *work) {
    const mil_grid *g = &measured->grid;
    const mil_found *found = &measured->found[index];
    size_t cells = (size_t)g->nx * (size_t)g->ny;
    milori_status status = mil_parts(ctx, g, found, map);
    if (status != MILORI_OK)
        return status;
    for (size_t k = 0; k < cells; k++)
        work[k] = coat_density(g, k);
    smooth(g, work, density);
    double bare = median_of(map, MIL_BARE, density, cells, 0.05, work);
    double coat = median_of(map, MIL_MARGIN, density, cells, bare + 0.3, work);
    for (size_t k = 0; k < cells; k++)
        edge->cover[k] = lid_light(g, k);
    double bed = median_of(map, MIL_BED, edge->cover, cells, 1, work);
    cover_cells(g, found, bare, fmax(coat, bare + 0.05), bed, density, edge->cover);
    return MILORI_OK;
}

milori_status mil_edge_new(milori_context *ctx, const mil_measured *measured, int index,
                           mil_edge **out) {
    const mil_grid *g = &measured->grid;
    size_t cells = (size_t)g->nx * (size_t)g->ny;
    mil_edge *edge = mil_alloc(ctx, 1, sizeof *edge);
    uint8_t *map = mil_alloc(ctx, cells, 1);
    float *density = mil_alloc(ctx, cells, sizeof *density);
    float *work = mil_alloc(ctx, cells, sizeof *work);
    milori_status status = MILORI_ERR_MEMORY;
    if (edge) {
        *edge = (mil_edge){.nx = g->nx, .ny = g->ny, .cell = g->cell};
        edge->cover = mil_alloc(ctx, cells, sizeof *edge->cover);
    }
    if (edge && edge->cover && map && density && work)
        status = fill(ctx, measured, index, edge, map, density, work);
    free(map);
    free(density);
    free(work);
    if (status == MILORI_OK)
        *out = edge;
    else
        mil_edge_free(edge);
    return status;
}

/* Straight between the four cells round a point of the scan. */
static double cover_at(const mil_edge *e, double x, double y) {
    x = fmin(fmax(x / e->cell - 0.5, 0), e->nx - 1);
    y = fmin(fmax(y / e->cell - 0.5, 0), e->ny - 1);
    int i = x < e->nx - 1 ? (int)x : e->nx - 2, j = y < e->ny - 1 ? (int)y : e->ny - 2;
    i = i < 0 ? 0 : i;
    j = j < 0 ? 0 : j;
    size_t right = e->nx > 1, down = e->ny > 1 ? (size_t)e->nx : 0;
    const float *at = e->cover + (size_t)j * (size_t)e->nx + (size_t)i;
    double above = at[0] + (x - i) * (at[right] - at[0]);
    double below = at[down] + (x - i) * (at[down + right] - at[down]);
    return above + (y - j) * (below - above);
}

void mil_edge_row(const mil_edge *edge, const mil_plan *plan, uint32_t x, uint32_t y,
                  uint32_t count, uint16_t *words) {
    double at[2], next[2];
    mil_plan_point(plan, x + 0.5, y + 0.5, &at[0], &at[1]);
    mil_plan_point(plan, x + 1.5, y + 0.5, &next[0], &next[1]);
    for (uint32_t i = 0; i < count; i++) {
        double sx = at[0] + i * (next[0] - at[0]), sy = at[1] + i * (next[1] - at[1]);
        double word = 65535 + cover_at(edge, sx, sy) * (words[i] - 65535.0);
        words[i] = (uint16_t)(word + 0.5);
    }
}

void mil_edge_free(mil_edge *edge) {
    if (!edge)
        return;
    free(edge->cover);
    free(edge);
}
