/* The sun's track: a saturated rim round a core that has paled again. */
#include "sheet/cells.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A core has lost this share of its coat's colour, yellow and blue, where unexposed paper has
 * all its yellow; at least CORE_MM2 of it. */
static const double CORE_COAT = 0.5;
static const double CORE_DYE = 0.5; /* of what a tenth of the frame holds more of */
static const double CORE_MM2 = 0.6;
static const double RIM_MM = 1.2;
static const double HALO_MM = 3; /* so far a rim that is far denser than the picture may reach */

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

/* How much of a cell is core: its coat's loss, which rises over a cell or two at the rim. */
static float core_share(double coat) {
    double share = (CORE_COAT + 0.25 - coat) / 0.35;
    return (float)(share < 0 ? 0 : share > 1 ? 1 : share);
}

/* The core is to be filled; with its rim it leaves the statistics. */
static void mark_track(mil_cells *cells, const float *dye, double high, const size_t *list,
                       size_t count, float *core) {
    int reach = (int)ceil(HALO_MM / cells->mm);
    for (size_t k = 0; k < count; k++) {
        int x = (int)(list[k] % (size_t)cells->nx), y = (int)(list[k] / (size_t)cells->nx);
        for (int j = y - reach; j <= y + reach; j++)
            for (int i = x - reach; i <= x + reach; i++) {
                if (i < 0 || j < 0 || i >= cells->nx || j >= cells->ny)
                    continue;
                size_t at = (size_t)j * (size_t)cells->nx + (size_t)i;
                double off = hypot(i - x, j - y);
                if (off <= 2)
                    core[at] = fmaxf(core[at], core_share(cells->z[at]));
                bool rim = off <= 1 || (off * cells->mm <= RIM_MM && dye[at] > high) ||
                           (off * cells->mm <= HALO_MM && dye[at] > 1.5 * high);
                if (rim && cells->part[at] == MIL_FRAME) {
                    cells->part[at] = MIL_DOUBT;
                    cells->frame--;
                }
            }
    }
}

double mil_sun_find(mil_cells *cells, const mil_dyes *dyes, float *core) {
    size_t all = mil_cells_count(cells), frame = cells->frame, reversed = 0;
    uint8_t *map = calloc(all, 1), *seen = calloc(all, 1);
    size_t *list = calloc(all, sizeof *list);
    float *dye = cells->exposed;
    for (size_t i = 0; i < all; i++)
        core[i] = 0;
    if (map && seen && list && cells->frame) {
        for (size_t i = 0; i < all; i++) {
            double coat, amount;
            two_channels(cells, dyes, i, &coat, &amount);
            dye[i] = (float)amount;
            cells->z[i] = (float)coat; /* not in use yet */
            map[i] = cells->part[i] == MIL_FRAME && coat < CORE_COAT;
        }
        double high = mil_cells_quantile(cells, dye, MIL_FRAME, 0.9);
        /* What is as blue as the rest is no core, whatever a clipped channel makes of its coat. */
        for (size_t i = 0; i < all; i++)
            map[i] = map[i] && dye[i] < CORE_DYE * high;
        for (size_t i = 0; i < all; i++) {
            if (map[i] != 1)
                continue;
            size_t n = flood(cells, map, i, list);
            if ((double)n * cells->mm * cells->mm < CORE_MM2 ||
                blue_ring(cells, map, dye, high, list, n, seen) < 0.4)
                continue;
            reversed += n;
            mark_track(cells, dye, high, list, n, core);
        }
    }
    free(map);
    free(seen);
    free(list);
    return frame ? (double)reversed / (double)frame : 0;
}
