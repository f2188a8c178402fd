/* What of a sheet is finer than its broad tones: how its channels vary together. */
#include "sheet/cells.h"

#include <math.h>
#include <string.h>

#include "sheet/find_private.h"

/* Cells of the margin this much more restless than half of them hold dust, the brush's end or
 * picture that strayed in; noise alone puts fewer than one in a thousand there. */
static const double RESTLESS = 4;
static const double BROAD = 2; /* cells: what is broader is left out of mil_fine_between() */

static const int COV_PLACE[3][3] = {{0, 1, 2}, {1, 3, 4}, {2, 4, 5}};

/* Products of one cell's departures; returns their trace. */
static double products(const mil_cells *cells, const mil_fine *fine, size_t k, double out[3][3]) {
    size_t nx = (size_t)cells->nx;
    size_t at = (k / nx + (size_t)cells->y0) * (size_t)cells->grid->nx + k % nx + (size_t)cells->x0;
    double d[3];
    for (int c = 0; c < 3; c++)
        d[c] = fine->plane[c][k] - fine->smooth[c][k];
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++)
            out[a][b] = d[a] * d[b] + (fine->within ? cells->grid->cov[COV_PLACE[a][b]][at] : 0.0f);
    return out[0][0] + out[1][1] + out[2][2];
}

/* The most restless that a cell of the margin may be. */
static double most_restless(mil_cells *cells, const mil_fine *fine) {
    size_t n = 0, all = mil_cells_count(cells);
    double p[3][3];
    for (size_t k = 0; k < all; k++)
        if (cells->part[k] == MIL_MARGIN)
            cells->work[n++] = (float)products(cells, fine, k, p);
    return RESTLESS * mil_quantile(cells->work, n, 0.5);
}

void mil_fine_covariance(mil_cells *cells, mil_part part, const mil_fine *fine, double out[3][3]) {
    double most = part == MIL_MARGIN ? most_restless(cells, fine) : INFINITY, count = 0, p[3][3];
    size_t all = mil_cells_count(cells);
    memset(out, 0, 9 * sizeof(double));
    for (size_t k = 0; k < all; k++) {
        if (cells->part[k] != part || products(cells, fine, k, p) > most)
            continue;
        count++;
        for (int a = 0; a < 3; a++)
            for (int b = 0; b < 3; b++)
                out[a][b] += p[a][b];
    }
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++)
            out[a][b] /= count > 0 ? count : 1;
}

void mil_fine_between(mil_cells *cells, float *const plane[3], mil_part part, double out[3][3]) {
    float *smooth[3] = {cells->z, cells->amount, cells->fog};
    for (int c = 0; c < 3; c++)
        mil_cells_smooth(cells, plane[c], 1u << part, BROAD, smooth[c]);
    mil_fine_covariance(cells, part, &(mil_fine){plane, smooth, false}, out);
}
