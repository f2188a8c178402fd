/* The bed's lid, and how far a cell is from it. */
#include "sheet/find_private.h"

#include <math.h>
#include <stdlib.h>

static const double RING_MM = 1.7; /* the scan's border that is looked at */

static bool is_pale(const mil_grid *g, size_t at) {
    double low = 1, high = 0;
    for (int c = 0; c < g->channels; c++) {
        low = g->light[c][at] < low ? g->light[c][at] : low;
        high = g->light[c][at] > high ? g->light[c][at] : high;
    }
    /* A lid is grey; coated paper is yellow. Grey scans have only lightness. */
    return g->channels == 3 ? low > 0.45 && low > 0.86 * high : low > 0.75;
}

static bool is_black(const mil_grid *g, size_t at) {
    double low = 1, high = 0;
    for (int c = 0; c < g->channels; c++) {
        low = g->light[c][at] < low ? g->light[c][at] : low;
        high = g->light[c][at] > high ? g->light[c][at] : high;
    }
    /* Neutral within the noise of so little light. */
    return high < 0.1 && high - low < 0.025;
}

/* Cells of the border, first outermost; at most count places. */
static size_t ring_cells(const mil_grid *g, size_t *place) {
    int wide = (int)(RING_MM / (g->mm_px * g->cell) + 0.5);
    wide = wide < 2 ? 2 : wide;
    size_t n = 0;
    for (int j = 0; j < g->ny; j++)
        for (int i = 0; i < g->nx; i++)
            if (i < wide || j < wide || i >= g->nx - wide || j >= g->ny - wide)
                place[n++] = (size_t)j * (size_t)g->nx + (size_t)i;
    return n;
}

static double signal_noise(const mil_grid *g, const mil_bed *bed, const size_t *place, size_t n,
                           float *work) {
    for (size_t k = 0; k < n; k++)
        work[k] = (float)fabs(mil_bed_signal(g, bed, place[k]));
    return 1.4826 * mil_quantile(work, n, 0.5);
}

milori_status mil_bed_estimate(milori_context *ctx, const mil_grid *g, mil_bed *bed) {
    *bed = (mil_bed){.lid = MIL_LID_NONE};
    size_t cells = (size_t)g->nx * (size_t)g->ny;
    size_t *place = mil_alloc(ctx, cells, sizeof *place);
    float *work = mil_alloc(ctx, cells, sizeof *work);
    if (!place || !work) {
        free(place);
        free(work);
        return MILORI_ERR_MEMORY;
    }
    size_t n = ring_cells(g, place), pale = 0, black = 0, kept = 0;
    for (size_t k = 0; k < n; k++) {
        pale += is_pale(g, place[k]);
        black += is_black(g, place[k]);
    }
    if (pale * 8 > n || black * 8 > n) {
        bed->lid = pale >= black ? MIL_LID_WHITE : MIL_LID_BLACK;
        for (size_t k = 0; k < n; k++)
            if (bed->lid == MIL_LID_WHITE ? is_pale(g, place[k]) : is_black(g, place[k]))
                place[kept++] = place[k];
        for (int c = 0; c < g->channels; c++) {
            for (size_t k = 0; k < kept; k++)
                work[k] = g->light[c][place[k]];
            /* Above the middle, clear of shadows. */
            bed->light[c] = mil_quantile(work, kept, bed->lid == MIL_LID_WHITE ? 0.65 : 0.5);
        }
        bed->noise = signal_noise(g, bed, place, kept, work);
    }
    free(place);
    free(work);
    return MILORI_OK;
}

double mil_bed_signal(const mil_grid *g, const mil_bed *bed, size_t at) {
    if (bed->lid == MIL_LID_NONE)
        return 1;
    if (g->channels == 1)
        return bed->lid == MIL_LID_WHITE ? bed->light[0] - g->light[0][at]
                                         : g->light[0][at] - bed->light[0];
    if (bed->lid == MIL_LID_BLACK) {
        double more = 0;
        for (int c = 0; c < 3; c++)
            more += g->light[c][at] - bed->light[c];
        return more / 3;
    }
    /* A shadow darkens the white lid alike in all channels, so what is left of red after a
     * blue set level with it is colour, and colour is paper. */
    double red = g->light[0][at] / bed->light[0], blue = g->light[2][at] / bed->light[2];
    return red - blue;
}
