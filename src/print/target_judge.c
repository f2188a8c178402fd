/* Prints that cannot be trusted, and why. */
#include "print/target_judge.h"

#include <math.h>
#include <stdlib.h>

/* Share of clipped px that makes tones unsure; share of patches that must serve; L
 * between full ink and clear film; L by which clear film may print lighter than
 * the darkest tone. */
static const double CLIPPED = 0.02, SERVE = 0.5, LEAST_RANGE = 15, REVERSED = 2.5;

/* Middle of L of the used patches whose ink lies in a range; NaN of none. */
static milori_status middle_between(milori_context *ctx, const mil_patches *patches, double least,
                                    double most, double *middle) {
    double *value = mil_alloc(ctx, patches->count, sizeof *value);
    size_t n = 0;
    if (!value)
        return MILORI_ERR_MEMORY;
    for (size_t i = 0; i < patches->count; i++) {
        const mil_patch *p = &patches->patch[i];
        if (p->used && p->ink >= least && p->ink <= most)
            value[n++] = p->L;
    }
    *middle = mil_median(value, n);
    free(value);
    return MILORI_OK;
}

static milori_status tones_run_up(milori_context *ctx, const char *shown,
                                  const mil_patches *patches) {
    double tenth[10], darkest = 1e9;
    for (int i = 0; i < 10; i++) {
        milori_status status =
            middle_between(ctx, patches, i / 10.0 - 1e-9, (i + 1) / 10.0 + 1e-9, &tenth[i]);
        if (status != MILORI_OK)
            return status;
        darkest = fmin(darkest, isnan(tenth[i]) ? 1e9 : tenth[i]);
    }
    if (tenth[9] - tenth[0] < LEAST_RANGE)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: from clear film to full ink the print is only %.1f L* lighter; "
                        "expose for the time that the time sheet gives, or print with an ink that "
                        "stops more light",
                        shown, tenth[9] - tenth[0]);
    if (tenth[0] - darkest > fmax(REVERSED, 4 * patches->repeat_sigma))
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: clear film printed %.1f L* lighter than some ink did: the deepest "
                        "blue has reversed; expose shorter, and let the print darken for a day "
                        "before scanning",
                        shown, tenth[0] - darkest);
    return MILORI_OK;
}

static void note_size(const mil_view *view, milori_notes *notes) {
    if (!view->grid.mm_known)
        return;
    double a[2], b[2], c[2];
    const mil_target *t = &view->target;
    double wide = t->columns * MIL_TARGET_PITCH, high = t->rows * MIL_TARGET_PITCH;
    mil_warp_at(&view->warp, wide * 0.25, high * 0.25, a);
    mil_warp_at(&view->warp, wide * 0.75, high * 0.25, b);
    mil_warp_at(&view->warp, wide * 0.25, high * 0.75, c);
    double across = hypot(b[0] - a[0], b[1] - a[1]) * view->look.mm / (wide / 2);
    double down = hypot(c[0] - a[0], c[1] - a[1]) * view->look.mm / (high / 2);
    if (fabs(across - 1) > 0.012 || fabs(down - 1) > 0.012)
        mil_note(notes, "size",
                 "the print measures %.1f %% of its true width and %.1f %% of its height: print "
                 "films at 100 %%, without fitting to the page",
                 100 * across, 100 * down);
}

static void note_rest(const mil_view *view, milori_notes *notes, const mil_patches *patches) {
    if (patches->mirrored)
        mil_note(notes, "mirrored",
                 "the print is mirrored: the film lay ink side up, or the printer driver mirrored "
                 "it once more; it was read all the same, but pictures will come out mirrored");
    if (patches->clipped > 0.001)
        mil_note(notes, "clipped",
                 "%.1f %% of the patches' pixels are clipped: scan with automatics off",
                 100 * patches->clipped);
    size_t all = (size_t)(view->target.columns + 1) * (size_t)(view->target.rows + 1);
    if (patches->kind != MIL_TARGET_TIME && view->beads * 10 < all * 9)
        mil_note(notes, "marks",
                 "%zu of %zu marks were found: the others are torn, stained or bare", view->beads,
                 all);
    if (patches->spoiled)
        mil_note(notes, "spoiled", "%zu of %zu patches were left out", patches->spoiled,
                 patches->count);
    note_size(view, notes);
}

milori_status mil_target_judge(milori_context *ctx, const char *shown, const mil_view *view,
                               milori_notes *notes, mil_patches *patches) {
    static const bool turned_over[9] = {false, false, true, false, true, true, false, true, false};
    patches->mirrored = view->mirrored != turned_over[view->grid.orientation];
    if (patches->clipped > CLIPPED)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: %.0f %% of the patches' pixels are clipped; scan again with levels "
                        "and other automatics off",
                        shown, 100 * patches->clipped);
    if ((double)patches->spoiled > (1 - SERVE) * (double)patches->count)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: only %zu of %zu patches can be read; coat past the chart's edges and "
                        "print it again",
                        shown, patches->count - patches->spoiled, patches->count);
    note_rest(view, notes, patches);
    return patches->kind == MIL_TARGET_TONE ? tones_run_up(ctx, shown, patches) : MILORI_OK;
}
