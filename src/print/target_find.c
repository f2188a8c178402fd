/* The chart on a scan of its print. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "colour/lab.h"
#include "print/target_view.h"

/* The sizes tried, in turn: a scan may have lost its resolution. Between them the
 * lattice's own tolerance. */
static const double SCALES[] = {1, 1.45, 0.69, 2.1, 0.48, 3, 4.4};

static milori_status read_grid(milori_context *ctx, mil_source *source, double dpi,
                               milori_notes *notes, mil_view *view) {
    mil_decode *decode = NULL;
    mil_absorb absorb = {0};
    milori_status status = mil_decode_new(ctx, mil_source_info_of(source), notes, &decode);
    if (status != MILORI_OK)
        return status;
    memcpy(view->to_xyz, decode->to_xyz, sizeof view->to_xyz);
    status = mil_absorb_init(ctx, decode, &absorb);
    if (status == MILORI_OK)
        status = mil_grid_build(ctx, source, &absorb, dpi, &view->grid);
    mil_absorb_free(&absorb);
    mil_decode_free(decode);
    return status;
}

milori_status mil_view_open(milori_context *ctx, const char *path, double dpi, milori_notes *notes,
                            mil_view *view) {
    mil_source *source = NULL;
    memset(view, 0, sizeof *view);
    milori_status status = mil_source_open(ctx, path, notes, &source);
    if (status == MILORI_OK)
        status = read_grid(ctx, source, dpi, notes, view);
    mil_source_close(source);
    if (status != MILORI_OK)
        return status;
    const mil_grid *g = &view->grid;
    size_t cells = (size_t)g->nx * (size_t)g->ny;
    view->look = (mil_look){.nx = g->nx, .ny = g->ny, .mm = g->mm_px * g->cell};
    view->look.value = mil_alloc(ctx, cells, sizeof *view->look.value);
    if (!view->look.value)
        return MILORI_ERR_MEMORY;
    for (size_t i = 0; i < cells; i++)
        view->look.value[i] = (float)mil_lightness(fmin(g->light[0][i], 1));
    return MILORI_OK;
}

/* One size; found tells whether there is a chart. */
static milori_status find_at(milori_context *ctx, double pitch, mil_view *view, bool *found) {
    mil_blob *blob = NULL;
    size_t blobs = 0;
    *found = false;
    milori_status status = mil_target_blobs(ctx, &view->look, pitch, &blob, &blobs);
    if (status == MILORI_OK)
        status = mil_target_lattice(ctx, blob, blobs, pitch, &view->bead, &view->beads);
    free(blob);
    if (status == MILORI_OK && view->beads) {
        mil_target_look_in(&view->look, pitch, view->bead, view->beads);
        *found = mil_target_decode(view->bead, view->beads, &view->target, &view->mirrored);
    }
    if (!*found) {
        free(view->bead);
        view->bead = NULL;
    }
    return status;
}

static milori_status find_any(milori_context *ctx, mil_view *view, bool *found) {
    milori_status status = MILORI_OK;
    *found = false;
    for (size_t i = 0; i < sizeof SCALES / sizeof *SCALES && !*found && status == MILORI_OK; i++) {
        double pitch = SCALES[i] * MIL_TARGET_PITCH / view->look.mm;
        if (pitch < 10 || pitch > fmax(view->look.nx, view->look.ny) / 4.0)
            continue;
        status = mil_check_cancel(ctx);
        if (status == MILORI_OK)
            status = find_at(ctx, pitch, view, found);
    }
    return status;
}

static void turn_over(mil_look *look) {
    for (size_t i = 0; i < (size_t)look->nx * (size_t)look->ny; i++)
        look->value[i] = 100 - look->value[i];
}

milori_status mil_view_find(milori_context *ctx, const char *shown, mil_view *view) {
    bool found = false;
    milori_status status = find_any(ctx, view, &found);
    if (status == MILORI_OK && !found) {
        turn_over(&view->look);
        status = find_any(ctx, view, &found);
        if (status == MILORI_OK && found)
            return mil_fail(ctx, MILORI_ERR_SHEET,
                            "%s: the chart is dark where it should be light: this is the film, a "
                            "picture of it, or a positive; scan the blue print made through the "
                            "film",
                            shown);
    }
    if (status == MILORI_OK && !found)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: no chart found: its light beads do not show on the blue; scan all of "
                        "the print at 200 dpi or more with automatics off, and if the blue is "
                        "pale expose longer",
                        shown);
    return status == MILORI_OK ? mil_warp_fit(ctx, view->bead, &view->beads, &view->warp) : status;
}

void mil_view_free(mil_view *view) {
    mil_grid_free(&view->grid);
    free(view->look.value);
    free(view->bead);
    mil_warp_free(&view->warp);
    memset(view, 0, sizeof *view);
}
