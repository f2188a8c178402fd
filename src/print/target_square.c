/* The tone of a square of the chart. */
#include <math.h>
#include <string.h>

#include "colour/lab.h"
#include "print/target_view.h"

enum { SIDE = 17, POINTS = SIDE * SIDE };

/* XYZ of a cell of the grid. */
static void xyz_of(const mil_view *view, size_t at, double xyz[3]) {
    const mil_grid *g = &view->grid;
    for (int i = 0; i < 3; i++)
        xyz[i] = 0;
    for (int i = 0; i < 3; i++)
        for (int c = 0; c < g->channels; c++)
            xyz[i] += (double)g->light[c][at] *
                      (g->channels == 1 ? view->to_xyz[0][i] : view->to_xyz[i][c]);
}

static double clipped_at(const mil_grid *g, size_t at) {
    double most = 0;
    for (int c = 0; c < g->channels; c++)
        most = fmax(most, fmax((double)g->clip_low[c][at], (double)g->clip_high[c][at]));
    return most;
}

/* The cells that points spread over the square fall on; how many. */
static size_t cells_of(const mil_view *view, double x, double y, double half, size_t *cell) {
    const mil_grid *g = &view->grid;
    size_t n = 0;
    double at[2], right[2], down[2];
    mil_warp_at(&view->warp, x, y, at);
    mil_warp_at(&view->warp, x + half, y, right);
    mil_warp_at(&view->warp, x, y + half, down);
    for (int k = 0; k < POINTS; k++) {
        double u = 2.0 * (k % SIDE) / (SIDE - 1) - 1, v = 2.0 * (k / SIDE) / (SIDE - 1) - 1;
        double px = at[0] + u * (right[0] - at[0]) + v * (down[0] - at[0]);
        double py = at[1] + u * (right[1] - at[1]) + v * (down[1] - at[1]);
        if (px >= 0 && py >= 0 && px < g->nx && py < g->ny)
            cell[n++] = (size_t)py * (size_t)g->nx + (size_t)px;
    }
    return n;
}

mil_square mil_view_square(const mil_view *view, double x, double y, double half) {
    size_t cell[POINTS], n = cells_of(view, x, y, half, cell), kept = 0;
    mil_square s = {.share = (double)n / POINTS};
    double xyz[3], sum[3] = {0}, lightness[POINTS], sorted[POINTS], middle, lab[3];
    if (n == 0)
        return s;
    for (size_t i = 0; i < n; i++) {
        xyz_of(view, cell[i], xyz);
        lightness[i] = mil_lightness(xyz[1]);
        s.clipped += clipped_at(&view->grid, cell[i]) / (double)n;
    }
    memcpy(sorted, lightness, n * sizeof *sorted);
    s.spread = mil_deviation(sorted, n, &middle);
    for (size_t i = 0; i < n; i++) {
        if (fabs(lightness[i] - middle) > fmax(3.5 * s.spread, 1))
            continue;
        xyz_of(view, cell[i], xyz);
        for (int k = 0; k < 3; k++)
            sum[k] += xyz[k];
        kept++;
    }
    for (int k = 0; k < 3; k++)
        sum[k] /= (double)kept;
    mil_xyz_to_lab(sum, lab);
    s.L = lab[0];
    s.a = lab[1];
    s.b = lab[2];
    s.odd = 1 - (double)kept / (double)n;
    return s;
}

int mil_view_beads(const mil_view *view, int column, int row) {
    int found = 0;
    for (size_t i = 0; i < view->beads; i++) {
        int dc = view->bead[i].column - column, dr = view->bead[i].row - row;
        found += dc >= 0 && dc <= 1 && dr >= 0 && dr <= 1;
    }
    return found;
}
