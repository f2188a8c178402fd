/* The scan's pieces that are not bed. */
#include "sheet/find_private.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double LEAST_SIGNAL = 0.018; /* colour or light, of white, that is no bed */
static const double LOSSY_SIGNAL = 0.03;  /* the same where compression gives blocks a colour */
static const double DEEPEST_SHADE =
    0.45; /* share of the lid's light that a shadow leaves in any channel */
static const double LEAST_MM = 14; /* a sheet's shorter side */
enum { MOST_PIECES = 24 };

/* 1 where a cell is surely not bed. */
static void mark(const mil_grid *g, const mil_bed *bed, uint8_t *map) {
    size_t cells = (size_t)g->nx * (size_t)g->ny;
    double least = fmax(6 * bed->noise, g->lossy ? LOSSY_SIGNAL : LEAST_SIGNAL);
    if (bed->lid == MIL_LID_BLACK)
        least = 0.06;
    if (bed->lid == MIL_LID_WHITE && g->channels == 1)
        least = 0.12;
    bool yellow = bed->lid == MIL_LID_WHITE && g->channels == 3;
    for (size_t k = 0; k < cells; k++) {
        double s = mil_bed_signal(g, bed, k), lightest = 0;
        for (int c = 0; c < g->channels; c++)
            lightest = fmax(lightest, g->light[c][k] / bed->light[c]);
        /* A scanner's own levels may tint a shadow, but blue: paper is yellower than the lid. */
        map[k] = (yellow ? s : fabs(s)) > least ||
                 (bed->lid == MIL_LID_WHITE && lightest < DEEPEST_SHADE);
    }
}

/* Sets what is 0 and cannot be reached from the border over 0 cells to 1. */
static void fill_holes(int nx, int ny, uint8_t *map, int *stack) {
    int n = 0;
    for (int k = 0; k < nx * ny; k++) {
        int i = k % nx, j = k / nx;
        if ((i == 0 || j == 0 || i == nx - 1 || j == ny - 1) && !map[k]) {
            map[k] = 2;
            stack[n++] = k;
        }
    }
    while (n) {
        int k = stack[--n], i = k % nx, j = k / nx;
        const int next[4] = {i > 0 ? k - 1 : k, i < nx - 1 ? k + 1 : k, j > 0 ? k - nx : k,
                             j < ny - 1 ? k + nx : k};
        for (int d = 0; d < 4; d++)
            if (!map[next[d]]) {
                map[next[d]] = 2;
                stack[n++] = next[d];
            }
    }
    for (int k = 0; k < nx * ny; k++)
        map[k] = map[k] != 2;
}

/* Least (or greatest) over a square of 2 r + 1 cells; the world outside counts as inside. */
static void spread_value(int nx, int ny, uint8_t *map, uint8_t *work, int r, bool least) {
    for (int pass = 0; pass < 2; pass++) {
        int step = pass ? nx : 1, length = pass ? ny : nx;
        memcpy(work, map, (size_t)nx * (size_t)ny);
        for (int k = 0; k < nx * ny; k++) {
            int at = pass ? k / nx : k % nx;
            uint8_t v = work[k];
            for (int d = -r; d <= r; d++)
                if (at + d >= 0 && at + d < length) {
                    uint8_t w = work[k + d * step];
                    v = least ? (w < v ? w : v) : (w > v ? w : v);
                }
            map[k] = v;
        }
    }
}

/* Labels 4-connected pieces of 1 with 1 .. count; small ones become 0. */
static int label(int nx, int ny, uint8_t *map, int *stack, int least_cells) {
    int count = 0;
    for (int k = 0; k < nx * ny; k++)
        map[k] = map[k] ? 255 : 0;
    for (int start = 0; start < nx * ny; start++) {
        if (map[start] != 255)
            continue;
        int n = 0, size = 0;
        uint8_t name = count < MOST_PIECES ? (uint8_t)(count + 1) : 254;
        map[start] = name;
        stack[n++] = start;
        /* The stack keeps all of the piece: what was visited lies below what is to be. */
        while (size < n) {
            int k = stack[size++], i = k % nx, j = k / nx;
            const int next[4] = {i > 0 ? k - 1 : k, i < nx - 1 ? k + 1 : k, j > 0 ? k - nx : k,
                                 j < ny - 1 ? k + nx : k};
            for (int d = 0; d < 4; d++)
                if (map[next[d]] == 255) {
                    map[next[d]] = name;
                    stack[n++] = next[d];
                }
        }
        if (size < least_cells || name == 254)
            for (int k = 0; k < size; k++)
                map[stack[k]] = 0;
        else
            count++;
    }
    return count;
}

/* Grows the labels back over the cells of whole, one ring at a time, so that pieces that were
 * parted by erosion get what is nearest to each. */
static void grow_back(int nx, int ny, uint8_t *map, const uint8_t *whole, uint8_t *work,
                      int rings) {
    for (int r = 0; r < rings; r++) {
        memcpy(work, map, (size_t)nx * (size_t)ny);
        for (int k = 0; k < nx * ny; k++) {
            if (work[k] || !whole[k])
                continue;
            int i = k % nx, j = k / nx;
            const int next[4] = {i > 0 ? k - 1 : k, i < nx - 1 ? k + 1 : k, j > 0 ? k - nx : k,
                                 j < ny - 1 ? k + nx : k};
            for (int d = 0; d < 4 && !map[k]; d++)
                map[k] = work[next[d]];
        }
    }
}

/* Pieces after eroding by r cells and growing back. map: in 0/1, out labels. */
static int part(const mil_grid *g, uint8_t *map, const uint8_t *whole, uint8_t *work, int *stack,
                int r) {
    double mm = g->mm_px * g->cell;
    double least = (LEAST_MM / mm - 2 * r) * (LEAST_MM / mm - 2 * r) * 0.6;
    memcpy(map, whole, (size_t)g->nx * (size_t)g->ny);
    spread_value(g->nx, g->ny, map, work, r, true);
    int count = label(g->nx, g->ny, map, stack, least < 16 ? 16 : (int)least);
    grow_back(g->nx, g->ny, map, whole, work, r + 1);
    return count;
}

milori_status mil_pieces(milori_context *ctx, const mil_grid *g, const mil_bed *bed, uint8_t **map,
                         int *count) {
    size_t cells = (size_t)g->nx * (size_t)g->ny;
    *map = mil_alloc(ctx, cells, 1);
    uint8_t *whole = mil_alloc(ctx, cells, 1), *work = mil_alloc(ctx, cells, 1);
    int *stack = mil_alloc(ctx, cells, sizeof *stack);
    milori_status status = *map && whole && work && stack ? MILORI_OK : MILORI_ERR_MEMORY;
    if (status == MILORI_OK) {
        mark(g, bed, whole);
        fill_holes(g->nx, g->ny, whole, stack);
        /* Hairs and dust go at once; a bridge between two sheets needs more. */
        double mm = g->mm_px * g->cell;
        int r = mm < 0.3 ? 2 : 1;
        *count = part(g, *map, whole, work, stack, r);
        int most = (int)(2.5 / mm);
        for (int wide = r + 1; wide <= most; wide++) {
            int parts = part(g, *map, whole, work, stack, wide);
            if (parts > *count) {
                *count = parts;
                r = wide;
            }
        }
        *count = part(g, *map, whole, work, stack, r);
    }
    free(whole);
    free(work);
    free(stack);
    if (status != MILORI_OK) {
        free(*map);
        *map = NULL;
    }
    return status;
}
