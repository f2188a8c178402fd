/* Straight edges of a map: cells whose gradients point alike, grown together. */
#include <math.h>
#include <stdlib.h>

#include "print/tablet_private.h"

static const double WEAK = 0.7;   /* L* a cell: no edge */
static const double ALIKE = 0.90; /* cosine between a cell's gradient and the edge's */

typedef struct grown {
    const mil_map *map;
    float *gx, *gy; /* L* a cell */
    uint8_t *taken;
    int *cell; /* of the region that grows; room for all cells */
    int count;
} grown;

static float mean_at(const mil_map *m, int i, int j) {
    i = i < 0 ? 0 : i >= m->nx ? m->nx - 1 : i;
    j = j < 0 ? 0 : j >= m->ny ? m->ny - 1 : j;
    return m->L[(size_t)j * (size_t)m->nx + (size_t)i];
}

/* Scharr's operator: its directions are true to a degree. */
static void gradient(const mil_map *m, int i, int j, float *gx, float *gy) {
    float h = 0, v = 0;
    for (int k = -1; k <= 1; k++) {
        float w = k ? 3.f / 32 : 10.f / 32;
        h += w * (mean_at(m, i + 1, j + k) - mean_at(m, i - 1, j + k));
        v += w * (mean_at(m, i + k, j + 1) - mean_at(m, i + k, j - 1));
    }
    *gx = h;
    *gy = v;
}

/* Takes the neighbours of a cell that point as the region does. */
static void take_near(grown *g, int cell, double dx, double dy) {
    int nx = g->map->nx, i0 = cell % nx, j0 = cell / nx;
    for (int j = j0 - 1; j <= j0 + 1; j++)
        for (int i = i0 - 1; i <= i0 + 1; i++) {
            if (i < 0 || j < 0 || i >= nx || j >= g->map->ny)
                continue;
            int k = j * nx + i;
            double size = hypot(g->gx[k], g->gy[k]);
            if (g->taken[k] || size < WEAK || g->gx[k] * dx + g->gy[k] * dy < ALIKE * size)
                continue;
            g->taken[k] = 1;
            g->cell[g->count++] = k;
        }
}

static void grow(grown *g, int seed, double *dx, double *dy) {
    double x = g->gx[seed], y = g->gy[seed];
    g->cell[0] = seed;
    g->count = 1;
    g->taken[seed] = 1;
    for (int next = 0; next < g->count; next++) {
        double size = hypot(x, y);
        int before = g->count;
        take_near(g, g->cell[next], x / size, y / size);
        for (int k = before; k < g->count; k++) {
            x += g->gx[g->cell[k]];
            y += g->gy[g->cell[k]];
        }
    }
    double size = hypot(x, y);
    *dx = x / size;
    *dy = y / size;
}

/* The region as an edge; false if it is too short, too thick or bent. */
static bool as_edge(const grown *g, double dx, double dy, mil_edge *e) {
    double sum = 0, x = 0, y = 0, low = INFINITY, high = -INFINITY, thick = 0;
    for (int k = 0; k < g->count; k++) {
        int cell = g->cell[k];
        double w = hypot(g->gx[cell], g->gy[cell]);
        x += w * (cell % g->map->nx + 0.5);
        y += w * (cell / g->map->nx + 0.5);
        sum += w;
    }
    x /= sum;
    y /= sum;
    for (int k = 0; k < g->count; k++) {
        int cell = g->cell[k];
        double u = cell % g->map->nx + 0.5 - x, v = cell / g->map->nx + 0.5 - y;
        double along = -dy * u + dx * v, across = dx * u + dy * v;
        low = fmin(low, along);
        high = fmax(high, along);
        thick += hypot(g->gx[cell], g->gy[cell]) / sum * across * across;
    }
    double length = high - low + 1;
    *e = (mil_edge){x, y, dx, dy, length, sum / length};
    return length >= 6 && sqrt(thick) < 1.8 && length > 4 * sqrt(thick);
}

static int stronger(const void *a, const void *b) {
    const mil_edge *p = a, *q = b;
    double x = p->length * p->contrast, y = q->length * q->contrast;
    return x != y ? (x < y) - (x > y) : (p->y > q->y) - (p->y < q->y);
}

/* Cells in bands of falling steepness, so that an edge grows from its clearest part. */
static void find_all(grown *g, mil_edge *found, size_t room, size_t *count) {
    int cells = g->map->nx * g->map->ny;
    for (double least = 16; least >= WEAK; least /= 2)
        for (int k = 0; k < cells && *count < room; k++) {
            double dx, dy;
            if (g->taken[k] || hypot(g->gx[k], g->gy[k]) < fmax(least, WEAK))
                continue;
            grow(g, k, &dx, &dy);
            *count += as_edge(g, dx, dy, &found[*count]);
        }
}

milori_status mil_edges_find(milori_context *ctx, const mil_map *map, mil_edge *edges,
                             size_t *count) {
    size_t cells = (size_t)map->nx * (size_t)map->ny, room = cells / 6 + 1, found = 0;
    grown g = {.map = map};
    mil_edge *all = mil_alloc(ctx, room, sizeof *all);
    g.gx = mil_alloc(ctx, cells, sizeof *g.gx);
    g.gy = mil_alloc(ctx, cells, sizeof *g.gy);
    g.taken = mil_alloc(ctx, cells, 1);
    g.cell = mil_alloc(ctx, cells, sizeof *g.cell);
    bool room_for_all = all && g.gx && g.gy && g.taken && g.cell;
    if (room_for_all) {
        for (size_t k = 0; k < cells; k++)
            gradient(map, (int)(k % (size_t)map->nx), (int)(k / (size_t)map->nx), &g.gx[k],
                     &g.gy[k]);
        find_all(&g, all, room, &found);
        qsort(all, found, sizeof *all, stronger);
        *count = found < MIL_EDGES_MOST ? found : MIL_EDGES_MOST;
        for (size_t i = 0; i < *count; i++)
            edges[i] = all[i];
    }
    free(all);
    free(g.gx);
    free(g.gy);
    free(g.taken);
    free(g.cell);
    return room_for_all ? MILORI_OK : MILORI_ERR_MEMORY;
}
