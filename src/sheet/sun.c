/* The sun's track: a saturated rim round a core that has paled again. */
#include "sheet/cells.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A core has lost this share of its coat's colour, yellow and blue, where unexposed paper has
 * all its yellow; at least CORE_MM2 of it. */
static const double CORE_COAT = 0.5;
static const double CORE_MM2 = 0.6;
static const double RIM_MM = 1.2;

/* Coat and dye from the red and blue channels alone. */
static void two_channels(const mil_cells *cells, const mil_dyes *d, size_t i, double *coat,
                         double *dye) {
    double r = cells->ks[0][i] - d->paper[0], b = cells->ks[2][i] - d->paper[2];
    double det = d->yellow[2] * d->image[0] - d->yellow[0] * d->image[2];
    *coat = (b * d->image[0] - r * d->image[2]) / det;
    *dye = (r * d->yellow[2] - b * d->yellow[0]) / det;
}

/* Marks the cells joined to start that are 1 in map as 2; their list in stack. */
static size_t flood(const mil_cells *cells, uint8_t *map, size_t start, size_t *stack) {
    size_t n = 0, nx = (size_t)cells->nx, all = mil_cells_count(cells);
    map[start] = 2;
    stack[n++] = start;
    for (size_t k = 0; k < n; k++) {
        size_t at = stack[k];
        size_t next[4] = {at - 1, at + 1, at - nx, at + nx};
        for (int s = 0; s < 4; s++)
            if (next[s] < all && map[next[s]] == 1) {
                map[next[s]] = 2;
                stack[n++] = next[s];
            }
    }
    return n;
}

/* Share of the ring round some cells, RIM_MM wide, that is as blue as the sheet gets. */
static double blue_ring(const mil_cells *cells, const uint8_t *map, const float *dye, double high,
                        const size_t *list, size_t count, uint8_t *seen) {
    int reach = (int)ceil(RIM_MM / cells->mm);
    double ring = 0, blue = 0;
    memset(seen, 0, mil_cells_count(cells));
    for (size_t k = 0; k < count; k++) {
        int x = (int)(list[k] % (size_t)cells->nx), y = (int)(list[k] / (size_t)cells->nx);
        for (int j = y - reach; j <= y + reach; j++)
            for (int i = x - reach; i <= x + reach; i++) {
                if (i < 0 || j < 0 || i >= cells->nx || j >= cells->ny)
                    continue;
                size_t at = (size_t)j * (size_t)cells->nx + (size_t)i;
                if (seen[at] || map[at] == 2 || cells->part[at] != MIL_FRAME)
                    continue;
                seen[at] = 1;
                ring++;
                blue += dye[at] > high;
            }
    }
    return ring > 0 ? blue / ring : 0;
}

/* The core and its rim become track, and leave the frame's statistics. */
static void mark_track(mil_cells *cells, const float *dye, double high, const size_t *list,
                       size_t count, float *track) {
    int reach = (int)ceil(RIM_MM / cells->mm);
    for (size_t k = 0; k < count; k++) {
        int x = (int)(list[k] % (size_t)cells->nx), y = (int)(list[k] / (size_t)cells->nx);
        for (int j = y - reach; j <= y + reach; j++)
            for (int i = x - reach; i <= x + reach; i++) {
                if (i < 0 || j < 0 || i >= cells->nx || j >= cells->ny)
                    continue;
                size_t at = (size_t)j * (size_t)cells->nx + (size_t)i;
                if (hypot(i - x, j - y) * cells->mm <= RIM_MM && dye[at] > high)
                    track[at] = 1;
            }
        track[list[k]] = 1;
    }
}

double mil_sun_find(mil_cells *cells, const mil_dyes *dyes, float *track) {
    size_t all = mil_cells_count(cells), core = 0;
    uint8_t *map = calloc(all, 1), *seen = calloc(all, 1);
    size_t *list = calloc(all, sizeof *list);
    float *dye = cells->exposed;
    for (size_t i = 0; i < all; i++)
        track[i] = 0;
    if (map && seen && list && cells->frame) {
        for (size_t i = 0; i < all; i++) {
            double coat, amount;
            two_channels(cells, dyes, i, &coat, &amount);
            dye[i] = (float)amount;
            map[i] = cells->part[i] == MIL_FRAME && coat < CORE_COAT;
        }
        double high = mil_cells_quantile(cells, dye, MIL_FRAME, 0.9);
        for (size_t i = 0; i < all; i++) {
            if (map[i] != 1)
                continue;
            size_t n = flood(cells, map, i, list);
            if ((double)n * cells->mm * cells->mm < CORE_MM2 ||
                blue_ring(cells, map, dye, high, list, n, seen) < 0.4)
                continue;
            core += n;
            mark_track(cells, dye, high, list, n, track);
        }
    }
    size_t frame = cells->frame;
    for (size_t i = 0; i < all; i++)
        if (track[i] > 0 && cells->part[i] == MIL_FRAME) {
            cells->part[i] = MIL_DOUBT;
            cells->frame--;
        }
    free(map);
    free(seen);
    free(list);
    return frame ? (double)core / (double)frame : 0;
}
