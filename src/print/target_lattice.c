/* A square lattice among scattered spots: grown from spot to spot, so that a bend
 * or a curl may change its step and way as it goes. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "print/target_parts.h"

/* Shares of a step: how far it may differ from the nominal one, how far a spot may
 * lie from where its neighbours put it, and from there if one was jumped over. */
static const double STEP_OFF = 0.2, NEAR = 0.2, NEAR_JUMPED = 0.28;

typedef struct node {
    double u[2]; /* step along a column's number; the row's is it turned by a right angle */
    int column, row;
    bool taken;
} node;

typedef struct growth {
    const mil_blob *blob;
    size_t count;
    double pitch;
    node *node;
    size_t *queue;
    size_t taken;
} growth;

static size_t nearest(const growth *g, double x, double y, double within, size_t but) {
    size_t best = g->count;
    double least = within * within;
    for (size_t i = 0; i < g->count; i++) {
        double dx = g->blob[i].x - x, dy = g->blob[i].y - y;
        if (i != but && dx * dx + dy * dy < least) {
            least = dx * dx + dy * dy;
            best = i;
        }
    }
    return best;
}

/* A spot whose four neighbours stand square round it: where growing may begin. */
static bool seed_step(const growth *g, size_t seed, double u[2]) {
    const mil_blob *b = g->blob;
    size_t first = nearest(g, b[seed].x, b[seed].y, g->pitch * (1 + STEP_OFF), seed);
    if (first == g->count)
        return false;
    u[0] = b[first].x - b[seed].x;
    u[1] = b[first].y - b[seed].y;
    double step = hypot(u[0], u[1]);
    if (step < g->pitch * (1 - STEP_OFF))
        return false;
    for (int k = 1; k < 4; k++) {
        double turned[2] = {k == 2   ? -u[0]
                            : k == 1 ? -u[1]
                                     : u[1],
                            k == 2   ? -u[1]
                            : k == 1 ? u[0]
                                     : -u[0]};
        if (nearest(g, b[seed].x + turned[0], b[seed].y + turned[1], NEAR * step, seed) == g->count)
            return false;
    }
    return true;
}

static bool free_place(const growth *g, int column, int row) {
    for (size_t i = 0; i < g->taken; i++) {
        const node *n = &g->node[g->queue[i]];
        if (n->column == column && n->row == row)
            return false;
    }
    return true;
}

/* The neighbour in a way (0..3), one step or two off. */
static void grow_one(growth *g, size_t from, int way, int steps) {
    const node *n = &g->node[from];
    static const int dc[4] = {1, 0, -1, 0}, dr[4] = {0, 1, 0, -1};
    int column = n->column + steps * dc[way], row = n->row + steps * dr[way];
    double dx = steps * (dc[way] * n->u[0] - dr[way] * n->u[1]);
    double dy = steps * (dc[way] * n->u[1] + dr[way] * n->u[0]);
    double step = hypot(n->u[0], n->u[1]);
    const mil_blob *b = &g->blob[from];
    size_t to = nearest(g, b->x + dx, b->y + dy, (steps == 1 ? NEAR : NEAR_JUMPED) * step, from);
    if (to == g->count || g->node[to].taken || !free_place(g, column, row))
        return;
    double sx = (g->blob[to].x - b->x) / steps, sy = (g->blob[to].y - b->y) / steps;
    double ux = dc[way] * sx + dr[way] * sy, uy = dc[way] * sy - dr[way] * sx;
    double length = hypot(ux, uy);
    if (fabs(length - g->pitch) > STEP_OFF * g->pitch)
        return;
    g->node[to] = (node){.u = {0.6 * n->u[0] + 0.4 * ux, 0.6 * n->u[1] + 0.4 * uy},
                         .column = column,
                         .row = row,
                         .taken = true};
    g->queue[g->taken++] = to;
}

static size_t grow(growth *g, size_t seed, const double u[2]) {
    memset(g->node, 0, g->count * sizeof *g->node);
    g->node[seed] = (node){.u = {u[0], u[1]}, .taken = true};
    g->queue[0] = seed;
    g->taken = 1;
    for (size_t at = 0; at < g->taken; at++)
        for (int way = 0; way < 4; way++)
            grow_one(g, g->queue[at], way, 1);
    /* over a gap only when nothing nearer is left, and on from there */
    for (size_t at = 0; at < g->taken; at++)
        for (int way = 0; way < 4; way++) {
            grow_one(g, g->queue[at], way, 1);
            grow_one(g, g->queue[at], way, 2);
        }
    return g->taken;
}

/* Tries seeds until one has taken most spots or all have been taken by some growth. */
static bool best_growth(growth *g, uint8_t *tried, size_t *seed, double step[2]) {
    size_t most = 0;
    for (size_t i = 0; i < g->count; i++) {
        double u[2];
        if (tried[i] || !seed_step(g, i, u))
            continue;
        size_t taken = grow(g, i, u);
        for (size_t k = 0; k < taken; k++)
            tried[g->queue[k]] = 1;
        if (taken > most) {
            most = taken;
            *seed = i;
            step[0] = u[0];
            step[1] = u[1];
        }
        if (2 * taken > g->count)
            break;
    }
    return most > 0;
}

static milori_status take_beads(milori_context *ctx, const growth *g, mil_bead **bead,
                                size_t *count) {
    *bead = mil_alloc(ctx, g->taken, sizeof **bead);
    if (!*bead)
        return MILORI_ERR_MEMORY;
    *count = g->taken;
    for (size_t i = 0; i < g->taken; i++) {
        size_t k = g->queue[i];
        (*bead)[i] = (mil_bead){.column = g->node[k].column,
                                .row = g->node[k].row,
                                .x = g->blob[k].x,
                                .y = g->blob[k].y};
    }
    return MILORI_OK;
}

milori_status mil_target_lattice(milori_context *ctx, const mil_blob *blob, size_t blobs,
                                 double pitch, mil_bead **bead, size_t *count) {
    *bead = NULL;
    *count = 0;
    if (blobs == 0)
        return MILORI_OK;
    growth g = {.blob = blob, .count = blobs, .pitch = pitch};
    uint8_t *tried = mil_alloc(ctx, blobs, 1);
    g.node = mil_alloc(ctx, blobs, sizeof *g.node);
    g.queue = mil_alloc(ctx, blobs, sizeof *g.queue);
    milori_status status = tried && g.node && g.queue ? MILORI_OK : MILORI_ERR_MEMORY;
    size_t seed = 0;
    double step[2] = {0, 0};
    if (status == MILORI_OK && best_growth(&g, tried, &seed, step)) {
        grow(&g, seed, step);
        status = take_beads(ctx, &g, bead, count);
    }
    free(tried);
    free(g.node);
    free(g.queue);
    return status;
}

bool mil_target_is_mirrored(const mil_bead *bead, size_t count) {
    double n = (double)count, mean[4] = {0}, sum[2][2] = {{0}};
    for (size_t i = 0; i < count; i++) {
        mean[0] += bead[i].column / n;
        mean[1] += bead[i].row / n;
        mean[2] += bead[i].x / n;
        mean[3] += bead[i].y / n;
    }
    for (size_t i = 0; i < count; i++) {
        double from[2] = {bead[i].column - mean[0], bead[i].row - mean[1]};
        double to[2] = {bead[i].x - mean[2], bead[i].y - mean[3]};
        for (int a = 0; a < 2; a++)
            for (int b = 0; b < 2; b++)
                sum[a][b] += from[a] * to[b];
    }
    return sum[0][0] * sum[1][1] - sum[0][1] * sum[1][0] < 0;
}
