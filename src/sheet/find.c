#include "sheet/find.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/frame_private.h"

static const double LEAST_MM2 = 25; /* of a frame given; ours */
static const double SIZE_MM = 3;    /* by which makers' frames vary, as frame_choose.c scores it */

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

/* What the corners given enclose, mm2. */
static double area_given(const mil_grid *g, const milori_choices *choices) {
    const double(*p)[2] = choices->corners_px;
    double twice = 0;
    for (int k = 0; k < 4; k++) {
        const double *a = p[k], *b = p[(k + 1) % 4];
        twice += a[0] * b[1] - b[0] * a[1];
    }
    return fabs(twice) / 2 * g->mm_px * g->mm_px;
}

static milori_status corners_fit(milori_context *ctx, const char *path, const mil_grid *g,
                                 const milori_choices *choices, int sheet) {
    double area = area_given(g, choices);
    if (sheet < 0)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "%s: the corners given lie on no sheet; give them in px of the upright "
                        "scan",
                        path);
    if (area < LEAST_MM2)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "%s: the corners given enclose %.1f mm2, too little for a frame; give them "
                        "in px of the upright scan",
                        path, area);
    return MILORI_OK;
}

/* Says so if the size that the user named is not what was taken. */
static void note_size(const mil_grid *g, const milori_choices *choices, mil_found *f) {
    bool across = g->orientation >= 5; /* the upright scan lies across the stored one */
    double w = (across ? f->frame.h : f->frame.w) * g->mm_px;
    double h = (across ? f->frame.w : f->frame.h) * g->mm_px;
    const double *mm = choices->frame_mm;
    if (isnan(mm[0]))
        return;
    double off =
        fmin(fmax(fabs(w - mm[0]), fabs(h - mm[1])), fmax(fabs(w - mm[1]), fabs(h - mm[0])));
    if (off > SIZE_MM)
        mil_note(
            &f->notes, "frame-size",
            "no frame of %g x %g mm is seen; %.1f x %.1f mm is taken; give another --frame, or "
            "--corners if the crop is wrong",
            mm[0], mm[1], w, h);
}

static bool in_a_frame(const mil_found *found, int count, double x, double y) {
    for (int k = 0; k < count; k++) {
        double u, v;
        mil_rect_local(&found[k].frame, x, y, &u, &v);
        if (found[k].shape == MILORI_ROUND ? hypot(u, v) <= 1 : fabs(u) <= 1 && fabs(v) <= 1)
            return true;
    }
    return false;
}

static milori_status spots_fit(milori_context *ctx, const char *path, const mil_grid *g,
                               const milori_choices *choices, const mil_found *found, int count) {
    for (size_t k = 0; k < choices->spots; k++) {
        const double *at = choices->spot_px[k];
        double x, y;
        mil_orient_back(g->orientation, g->width, g->height, at[0], at[1], &x, &y);
        if (!in_a_frame(found, count, x, y))
            return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                            "%s: the unexposed spot %g,%g is not in the frame; give px of the "
                            "upright scan",
                            path, at[0], at[1]);
    }
    return MILORI_OK;
}

static milori_status frames(milori_context *ctx, const char *path, const mil_grid *g,
                            const milori_choices *choices, mil_found *found, int count) {
    int given = choices->corners_given ? sheet_of_corners(g, choices, found, count) : -1;
    milori_status status = MILORI_OK;
    if (choices->corners_given)
        status = corners_fit(ctx, path, g, choices, given);
    for (int k = 0; k < count && status == MILORI_OK; k++) {
        status = mil_check_cancel(ctx);
        if (status == MILORI_OK)
            status = mil_frame_find(ctx, g, choices, &found[k]);
        found[k].exposed = found[k].frame;
        if (status == MILORI_OK && k == given) {
            /* Corners inside the picture must not make margin of the rest of it. */
            mil_notes_free(&found[k].notes);
            status = mil_frame_given(ctx, path, g, choices, &found[k]);
        } else if (status == MILORI_OK) {
            note_size(g, choices, &found[k]);
        }
    }
    return status == MILORI_OK ? spots_fit(ctx, path, g, choices, found, count) : status;
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
