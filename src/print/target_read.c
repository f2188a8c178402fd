/* A print's patches, each read and looked over. */
#include "print/target.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "print/target_judge.h"

/* mm: half the side that is read of a patch and of the ground between beads. */
static const double INSIDE = 2.3, LANE = 0.6;
/* mm from the last bead to the middle of the bare coat beside the film. */
static const double BESIDE = 21;
/* What spoils a patch: share of it that is unlike the rest of it; L that it varies
 * by beyond what most do; L by which the ground beside it is too light. */
static const double ODD = 0.15, ROUGH = 2.5, BARE = 9;

static const char NO_PATCH[] = "holds no patch";

void mil_patches_free(mil_patches *patches) {
    free(patches->patch);
    memset(patches, 0, sizeof *patches);
}

/* What is seen of one patch beside its tone. */
typedef struct seen {
    double spread, odd, share, lightest; /* lightest: of the four lanes round it */
    int beads;
} seen;

/* L of the lane over the cell's edge in a way, 0 right 1 down 2 left 3 up. */
static double lane(const mil_view *view, int column, int row, int way) {
    static const double dx[4] = {1, 0.5, 0, 0.5}, dy[4] = {0.5, 1, 0.5, 0};
    return mil_view_square(view, (column + dx[way]) * MIL_TARGET_PITCH,
                           (row + dy[way]) * MIL_TARGET_PITCH, LANE)
        .L;
}

static void read_one(const mil_view *view, int column, int row, mil_patch *p, seen *s,
                     double *clipped) {
    mil_target_cell cell = mil_target_cell_at(&view->target, column, row);
    double x = (column + 0.5) * MIL_TARGET_PITCH, y = (row + 0.5) * MIL_TARGET_PITCH;
    mil_square square = mil_view_square(view, x, y, INSIDE);
    *p = (mil_patch){.ink = cell.ink,
                     .group = cell.group,
                     .L = square.L,
                     .a = square.a,
                     .b = square.b,
                     .x_mm = x,
                     .y_mm = y,
                     .used = cell.patch,
                     .why = cell.patch ? NULL : NO_PATCH};
    *s = (seen){.spread = square.spread,
                .odd = square.odd,
                .share = square.share,
                .beads = mil_view_beads(view, column, row)};
    for (int way = 0; way < 4; way++)
        s->lightest = fmax(s->lightest, lane(view, column, row, way));
    *clipped += square.clipped / ((double)view->target.columns * view->target.rows);
}

/* Middle and spread of the ground between the patches, by each cell's right lane. */
static milori_status read_clear(milori_context *ctx, const mil_view *view, mil_patches *patches) {
    double *value = mil_alloc(ctx, patches->count, sizeof *value);
    size_t n = 0;
    if (!value)
        return MILORI_ERR_MEMORY;
    for (int row = 0; row < patches->rows; row++)
        for (int column = 0; column + 1 < patches->columns; column++)
            if (mil_view_beads(view, column, row) == 4)
                value[n++] = lane(view, column, row, 0);
    patches->clear_sigma = mil_deviation(value, n, &patches->clear_L);
    free(value);
    return n ? MILORI_OK : mil_fail(ctx, MILORI_ERR_SHEET, "no whole cell of the chart was found");
}

/* The reason against a patch, or NULL. */
static const char *against(const mil_patches *all, const seen *s, double usual) {
    bool strips = all->kind == MIL_TARGET_TIME;
    if (s->share < 1)
        return "beyond the scan's edge";
    if (!strips && s->beads < 2)
        return "no marks round it: torn, stained or not coated";
    if (!strips && s->lightest > all->clear_L + fmax(BARE, 6 * all->clear_sigma))
        return "the coat beside it is missing or stained";
    if (s->odd > ODD)
        return "dust or a stain on part of it";
    if (s->spread > usual + ROUGH)
        return "uneven within";
    return NULL;
}

static milori_status look_over(milori_context *ctx, mil_patches *patches, const seen *s) {
    double *spread = mil_alloc(ctx, patches->count, sizeof *spread);
    size_t n = 0;
    if (!spread)
        return MILORI_ERR_MEMORY;
    for (size_t i = 0; i < patches->count; i++)
        if (patches->patch[i].used)
            spread[n++] = s[i].spread;
    double usual = mil_median(spread, n);
    free(spread);
    for (size_t i = 0; i < patches->count; i++) {
        mil_patch *p = &patches->patch[i];
        if (p->used)
            p->why = against(patches, &s[i], usual);
        p->used = p->used && !p->why;
        /* until repeats tell more: grain over the cells read, and the coat's own */
        p->sigma = hypot(s[i].spread / 8, patches->clear_sigma);
    }
    return MILORI_OK;
}

/* The coat beside the film, at the right of each strip: if it is there it darkens
 * with the strips as they do. */
static void read_bare(const mil_view *view, mil_patches *patches) {
    const mil_target *t = &view->target;
    double least = 1e9, most = -1e9;
    bool there = true;
    for (int i = 0; i < t->levels; i++) {
        double y = (i + 0.5) * (t->rows / t->levels) * MIL_TARGET_PITCH;
        mil_square s = mil_view_square(view, t->columns * MIL_TARGET_PITCH + BESIDE, y, INSIDE);
        patches->bare_L[i] = s.L;
        there = there && s.share >= 1;
        least = fmin(least, s.L);
        most = fmax(most, s.L);
    }
    patches->film_only = !there || most - least < BARE || least > patches->clear_L + BARE;
}

static void name_chart(const mil_target *t, mil_patches *patches) {
    patches->kind = t->kind;
    patches->columns = t->columns;
    patches->rows = t->rows;
    patches->levels = t->levels;
    patches->groups = mil_target_groups(t);
    patches->seed = t->seed;
    patches->stops = 0.5 * t->half_stops;
    patches->film_only = true;
    mil_target_group_rgb(t, 0, patches->ink_rgb);
    for (int i = 0; i < MIL_TARGET_GROUPS; i++) {
        patches->bare_L[i] = NAN;
        mil_target_group_rgb(t, i < patches->groups ? i : 0, patches->group_rgb[i]);
    }
}

static milori_status read_patches(milori_context *ctx, const mil_view *view, mil_patches *patches) {
    const mil_target *t = &view->target;
    name_chart(t, patches);
    patches->count = (size_t)t->columns * (size_t)t->rows;
    patches->patch = mil_alloc(ctx, patches->count, sizeof *patches->patch);
    seen *s = mil_alloc(ctx, patches->count, sizeof *s);
    milori_status status = patches->patch && s ? MILORI_OK : MILORI_ERR_MEMORY;
    for (int row = 0; row < t->rows && status == MILORI_OK; row++) {
        status = mil_check_cancel(ctx);
        for (int column = 0; column < t->columns; column++) {
            size_t at = (size_t)row * (size_t)t->columns + (size_t)column;
            read_one(view, column, row, &patches->patch[at], &s[at], &patches->clipped);
        }
    }
    if (status == MILORI_OK)
        status = read_clear(ctx, view, patches);
    if (status == MILORI_OK)
        status = look_over(ctx, patches, s);
    free(s);
    if (status == MILORI_OK && t->kind == MIL_TARGET_TIME)
        read_bare(view, patches);
    if (status == MILORI_OK && t->kind == MIL_TARGET_TONE)
        status = mil_patches_even(ctx, t, patches);
    for (size_t i = 0; i < patches->count && status == MILORI_OK; i++)
        patches->spoiled += patches->patch[i].why && patches->patch[i].why != NO_PATCH;
    return status;
}

static milori_status curve_fits(milori_context *ctx, const char *shown, const mil_target *target,
                                const mil_process *printed) {
    if (target->curved == (printed != NULL))
        return MILORI_OK;
    if (printed)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "%s: this target was not printed through a curve; leave --process out",
                        shown);
    return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                    "%s: this target was printed through a curve; name that with --process", shown);
}

static void true_inks(mil_patches *patches, const mil_process *printed) {
    for (size_t i = 0; i < patches->count && printed; i++)
        patches->patch[i].ink = mil_process_ink(printed, patches->patch[i].ink);
}

milori_status mil_target_read(milori_context *ctx, const char *path, double dpi,
                              const mil_process *printed, milori_notes *notes, mil_target *target,
                              mil_patches *patches) {
    mil_view view = {0};
    memset(patches, 0, sizeof *patches);
    char *shown = mil_printable(path);
    if (!shown)
        return mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: close other programs");
    milori_status status = mil_view_open(ctx, path, dpi, notes, &view);
    if (status == MILORI_OK)
        status = mil_view_find(ctx, shown, &view);
    if (status == MILORI_OK)
        status = curve_fits(ctx, shown, &view.target, printed);
    if (status == MILORI_OK) {
        *target = view.target;
        status = read_patches(ctx, &view, patches);
    }
    if (status == MILORI_OK)
        status = mil_target_judge(ctx, shown, &view, notes, patches);
    if (status == MILORI_OK)
        true_inks(patches, printed);
    mil_view_free(&view);
    free(shown);
    if (status != MILORI_OK)
        mil_patches_free(patches);
    return status;
}
