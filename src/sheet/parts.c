/* Which part of the scan a cell shows. */
#include "sheet/find_private.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double DOUBT_MM = 0.7;  /* this near a border nothing is sure */
static const double UNSURE_MM = 2.5; /* so far out a frame that is not sure may reach */
static const double WHITE = 0.03;    /* density of white paper, roughly */

/* Distance in px inside (positive) or outside a rectangle's sides, or an ellipse's rim. */
static double inside_by(const mil_rect *r, bool round, double x, double y) {
    double u, v;
    if (!round)
        return mil_rect_inside(r, x, y);
    mil_rect_local(r, x, y, &u, &v);
    double out = hypot(u, v), slope = hypot(u / r->w, v / r->h) * 2;
    return out < 1e-6 ? fmin(r->w, r->h) / 2 : (1 - out) * out / slope;
}

static double blue_density(const mil_grid *g, size_t at) {
    double light = g->light[g->channels - 1][at];
    return -log10(light > 0.002 ? light : 0.002);
}

/* Bare paper: little of the coat's yellow, or in a grey scan little of anything. */
static void mark_bare(const mil_grid *g, uint8_t *map, float *work) {
    size_t cells = (size_t)g->nx * (size_t)g->ny, n = 0;
    for (size_t k = 0; k < cells; k++)
        if (map[k] == MIL_MARGIN)
            work[n++] = (float)blue_density(g, k);
    double coat = n ? mil_quantile(work, n, 0.8) : 0, least = WHITE + 0.4 * (coat - WHITE);
    for (size_t k = 0; k < cells; k++)
        if (map[k] == MIL_MARGIN && blue_density(g, k) < least)
            map[k] = MIL_BARE;
}

/* Bare cells beside margin, and margin beside bare, are in doubt. */
static void mark_rim(const mil_grid *g, uint8_t *map, uint8_t *copy) {
    int reach = (int)(DOUBT_MM / (g->mm_px * g->cell) + 0.5);
    reach = reach < 1 ? 1 : reach;
    memcpy(copy, map, (size_t)g->nx * (size_t)g->ny);
    for (int j = 0; j < g->ny; j++)
        for (int i = 0; i < g->nx; i++) {
            size_t at = (size_t)j * (size_t)g->nx + (size_t)i;
            if (copy[at] != MIL_BARE && copy[at] != MIL_MARGIN)
                continue;
            uint8_t other = copy[at] == MIL_BARE ? MIL_MARGIN : MIL_BARE;
            for (int y = j - reach; y <= j + reach; y++)
                for (int x = i - reach; x <= i + reach; x++)
                    if (x >= 0 && y >= 0 && x < g->nx && y < g->ny &&
                        copy[(size_t)y * (size_t)g->nx + (size_t)x] == other)
                        map[at] = MIL_DOUBT;
        }
}

/* A frame with a doubt about it, or a round one, which no straight side holds in place. */
static bool unsure(const mil_found *found) {
    for (size_t i = 0; i < found->notes.count; i++)
        if (strncmp(found->notes.note[i].code, "frame", 5) == 0)
            return true;
    return found->shape == MILORI_ROUND && found->frame_origin != MILORI_GIVEN;
}

milori_status mil_parts(milori_context *ctx, const mil_grid *g, const mil_found *found,
                        uint8_t *map) {
    size_t cells = (size_t)g->nx * (size_t)g->ny;
    float *work = mil_alloc(ctx, cells, sizeof *work);
    uint8_t *copy = mil_alloc(ctx, cells, 1);
    milori_status status = work && copy ? MILORI_OK : MILORI_ERR_MEMORY;
    if (status == MILORI_OK) {
        double doubt = DOUBT_MM / g->mm_px;
        double reach = (unsure(found) ? UNSURE_MM : DOUBT_MM) / g->mm_px;
        for (size_t k = 0; k < cells; k++) {
            double x = ((double)(k % (size_t)g->nx) + 0.5) * g->cell;
            double y = ((double)(k / (size_t)g->nx) + 0.5) * g->cell;
            double paper = inside_by(&found->outline, false, x, y);
            double frame = inside_by(&found->frame, found->shape == MILORI_ROUND, x, y);
            double seen = inside_by(&found->exposed, found->shape == MILORI_ROUND, x, y);
            map[k] = paper < 0                              ? MIL_BED
                     : paper < doubt || fabs(frame) < doubt ? MIL_DOUBT
                     : frame > 0                            ? MIL_FRAME
                     : seen > -reach                        ? MIL_DOUBT
                                                            : MIL_MARGIN;
        }
        mark_bare(g, map, work);
        mark_rim(g, map, copy);
    }
    free(work);
    free(copy);
    return status;
}
