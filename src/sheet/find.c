#include "sheet/find.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/frame_private.h"

void mil_found_free(mil_found *found, int count) {
    for (int k = 0; found && k < count; k++)
        mil_notes_free(&found[k].notes);
    free(found);
}

/* The whole scan as one sheet. */
static void whole_scan(const mil_grid *g, mil_found *f) {
    f->outline = (mil_rect){g->width / 2.0, g->height / 2.0, g->width, g->height, 0};
    f->outline_origin = MILORI_ASSUMED;
    mil_note(&f->notes, "outline",
             "no bed shows round the sheet; the whole scan is taken as the sheet");
}

static milori_status outlines(milori_context *ctx, const mil_grid *g, mil_found *found,
                              int *count) {
    mil_bed bed;
    uint8_t *map = NULL;
    int pieces = 0;
    milori_status status = mil_bed_estimate(ctx, g, &bed);
    *count = 0;
    if (status != MILORI_OK)
        return status;
    if (bed.lid == MIL_LID_NONE) {
        whole_scan(g, &found[0]);
        *count = 1;
        return MILORI_OK;
    }
    status = mil_pieces(ctx, g, &bed, &map, &pieces);
    for (int k = 1; k <= pieces && status == MILORI_OK; k++) {
        bool good;
        mil_found *f = &found[*count];
        status = mil_outline_fit(ctx, g, &bed, map, k, &f->outline, &good);
        if (status == MILORI_OK && good) {
            f->outline_origin = MILORI_FOUND;
            ++*count;
        }
    }
    free(map);
    return status;
}

/* Middle of a sheet in the upright scan. */
static void middle(const mil_grid *g, const mil_found *f, double *x, double *y) {
    mil_orient(g->orientation, g->width, g->height, f->outline.cx, f->outline.cy, x, y);
}

static void swap_found(mil_found *a, mil_found *b) {
    mil_found held = *a;
    *a = *b;
    *b = held;
}

/* Rows from the top, each from the left: a sheet whose middle lies above the lower edge of
 * the topmost one left is in its row. */
static void reading_order(const mil_grid *g, mil_found *f, int count) {
    for (int from = 0; from < count;) {
        double x, y, top;
        for (int k = from; k < count; k++) {
            double other;
            middle(g, &f[from], &x, &top);
            middle(g, &f[k], &x, &other);
            if (other < top)
                swap_found(&f[from], &f[k]);
        }
        middle(g, &f[from], &x, &top);
        double half = fmin(f[from].outline.w, f[from].outline.h) / 2;
        int end = from + 1;
        for (int k = end; k < count; k++) {
            middle(g, &f[k], &x, &y);
            if (y < top + half)
                swap_found(&f[end++], &f[k]);
        }
        for (int i = from; i < end; i++)
            for (int k = i + 1; k < end; k++) {
                double xi, xk;
                middle(g, &f[i], &xi, &y);
                middle(g, &f[k], &xk, &y);
                if (xk < xi)
                    swap_found(&f[i], &f[k]);
            }
        from = end;
    }
}

/* Which sheet holds the middle of the corners given, or -1. */
static int sheet_of_corners(const mil_grid *g, const milori_choices *choices,
                            const mil_found *found, int count) {
    double x = 0, y = 0, u, v;
    for (int k = 0; k < 4; k++) {
        x += choices->corners_px[k][0] / 4;
        y += choices->corners_px[k][1] / 4;
    }
    mil_orient_back(g->orientation, g->width, g->height, x, y, &x, &y);
    for (int k = 0; k < count; k++) {
        mil_rect_local(&found[k].outline, x, y, &u, &v);
        if (fabs(u) <= 1 && fabs(v) <= 1)
            return k;
    }
    return -1;
}

static milori_status frames(milori_context *ctx, const char *path, const mil_grid *g,
                            const milori_choices *choices, mil_found *found, int count) {
    int given = choices->corners_given ? sheet_of_corners(g, choices, found, count) : -1;
    if (choices->corners_given && given < 0)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "%s: the corners given lie on no sheet; give them in px of the upright "
                        "scan",
                        path);
    milori_status status = MILORI_OK;
    for (int k = 0; k < count && status == MILORI_OK; k++) {
        status = mil_check_cancel(ctx);
        if (status == MILORI_OK)
            status = k == given ? mil_frame_given(ctx, path, g, choices, &found[k])
                                : mil_frame_find(ctx, g, choices, &found[k]);
    }
    return status;
}

milori_status mil_find(milori_context *ctx, const char *path, const mil_grid *grid,
                       const milori_choices *choices, mil_found **found, int *count) {
    enum { ROOM = 256 };
    *count = 0;
    *found = mil_alloc(ctx, ROOM, sizeof **found);
    if (!*found)
        return MILORI_ERR_MEMORY;
    milori_status status = outlines(ctx, grid, *found, count);
    if (status == MILORI_OK && *count == 0)
        status = mil_fail(ctx, MILORI_ERR_SHEET,
                          "%s: no sheet is seen on the bed; scan the sheet with some bed round it, "
                          "or crop the scan to the sheet",
                          path);
    if (status == MILORI_OK) {
        reading_order(grid, *found, *count);
        status = frames(ctx, path, grid, choices, *found, *count);
    }
    if (status != MILORI_OK) {
        mil_found_free(*found, *count);
        *found = NULL;
        *count = 0;
    }
    return status;
}
