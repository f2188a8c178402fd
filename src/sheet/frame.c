/* The frame of one sheet, and what is to be said about it. */
#include "sheet/frame_private.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double PI = 3.14159265358979323846;
static const double SYSTEM_MM = 0.03;    /* what no scatter shows: blur, a rough gate */
static const double WEAKEST_SCORE = 1.0; /* below it nothing was found */
static const double OUTSIDE = 0.01;      /* what unrest outside takes from a rim's share */
static const double RIVAL_GAP = 0.3;     /* a rival this near in score is a doubt */
static const double LEAST_SHARE = 0.22;  /* a side that shows on less than this is one too */

/* Of the frame on the upright scan. */
static double frame_mm(const mil_found *f, const mil_grid *g, bool height) {
    return (height != (g->orientation >= 5) ? f->frame.h : f->frame.w) * g->mm_px;
}

/* Which side of the upright scan side k of the frame (stored scan) is. */
static const char *side_word(const mil_grid *g, const mil_rect *frame, int k) {
    double a = frame->angle + (k - 1) * PI / 2, x0, y0, x1, y1;
    mil_orient(g->orientation, g->width, g->height, 0, 0, &x0, &y0);
    mil_orient(g->orientation, g->width, g->height, cos(a), sin(a), &x1, &y1);
    double dx = x1 - x0, dy = y1 - y0;
    if (fabs(dx) > fabs(dy))
        return dx > 0 ? "right" : "left";
    return dy > 0 ? "bottom" : "top";
}

/* "left", "left and top", "left, top and right". */
static void list_sides(const mil_grid *g, const mil_found *f, char *text, size_t size) {
    int missing = 0, said = 0;
    for (int k = 0; k < 4; k++)
        missing += !f->side_found[k];
    text[0] = 0;
    for (int k = 0; k < 4; k++) {
        if (f->side_found[k])
            continue;
        size_t used = strlen(text);
        const char *join = said == 0 ? "" : said == missing - 1 ? " and " : ", ";
        snprintf(text + used, size - used, "%s%s", join, side_word(g, &f->frame, k));
        said++;
    }
}

/* A frame in samples of the patch to found, sides with it. */
static void place(const mil_patch *p, const mil_rect *in, const bool seen[4], mil_found *f) {
    mil_patch_to_scan(p, in, &f->frame);
    double turned = in->angle + p->outline.angle - f->frame.angle;
    int quarters = (int)floor(turned / (PI / 2) + 0.5);
    for (int k = 0; k < 4; k++)
        f->side_found[((k + quarters) % 4 + 4) % 4] = seen[k];
}

static void rect_of_guess(const mil_patch *p, const mil_guess *g, mil_rect *r) {
    double c = cos(g->angle), s = sin(g->angle);
    double u = (g->offset[MIL_RIGHT] - g->offset[MIL_LEFT]) / 2;
    double v = (g->offset[MIL_BOTTOM] - g->offset[MIL_TOP]) / 2;
    *r = (mil_rect){.cx = p->nx / 2.0 + u * c - v * s,
                    .cy = p->ny / 2.0 + u * s + v * c,
                    .w = g->offset[MIL_LEFT] + g->offset[MIL_RIGHT],
                    .h = g->offset[MIL_TOP] + g->offset[MIL_BOTTOM],
                    .angle = g->angle};
}

/* Whether margin lies round the frame: clear strips along two sides at least. */
static bool has_margin(const mil_grid *g, const mil_found *f) {
    double corner[4][2], least[4];
    mil_rect_corners(&f->frame, corner);
    for (int k = 0; k < 4; k++) {
        double u, v;
        const double *a = corner[k], *b = corner[(k + 1) % 4];
        mil_rect_local(&f->outline, (a[0] + b[0]) / 2, (a[1] + b[1]) / 2, &u, &v);
        double du = (1 - fabs(u)) * f->outline.w / 2, dv = (1 - fabs(v)) * f->outline.h / 2;
        least[k] = fmin(du, dv) * g->mm_px;
    }
    int clear = 0;
    for (int k = 0; k < 4; k++)
        clear += least[k] > 1.5;
    return clear >= 2;
}

/* What helps against a wrong crop. */
static const char *advice(const mil_frame_wish *wish) {
    return isnan(wish->size_mm[0]) ? "--frame or --corners" : "--corners";
}

static void note_missing(const mil_grid *g, const mil_choice *c, const mil_frame_wish *wish,
                         mil_found *f) {
    char sides[48];
    int missing = 0;
    for (int k = 0; k < 4; k++)
        missing += !f->side_found[k];
    if (!missing)
        return;
    list_sides(g, f, sides, sizeof sides);
    mil_note(&f->notes, "frame-side",
             "the %s side%s of the frame %s not show; %.1f x %.1f mm is assumed from %s; give "
             "%s if the crop is wrong",
             sides, missing > 1 ? "s" : "", missing > 1 ? "do" : "does", frame_mm(f, g, false),
             frame_mm(f, g, true),
             c->by_size ? isnan(wish->size_mm[0]) ? "the other sides" : "--frame"
                        : "the margins opposite",
             advice(wish));
}

static void note_doubt(const mil_grid *g, const mil_choice *c, const mil_frame_wish *wish,
                       mil_found *f) {
    double weakest = 1;
    for (int k = 0; k < 4; k++)
        if (c->guess.seen[k])
            weakest = fmin(weakest, c->closer.share[k]);
    bool rival = c->score - c->rival < RIVAL_GAP;
    bool odd = c->known < 0.5 && weakest < 0.5 && isnan(wish->size_mm[0]);
    bool rough = f->corner_sigma_px * g->mm_px > 0.15 || weakest < LEAST_SHARE;
    if (rival || odd || rough)
        mil_note(&f->notes, "frame-unsure",
                 "the frame's edges are faint or another edge is as likely; %.1f x %.1f mm is "
                 "taken; give %s if the crop is wrong",
                 frame_mm(f, g, false), frame_mm(f, g, true), advice(wish));
}

/* No frame shows: the size named in the sheet's middle, or the sheet less a little. */
static void nothing_found(const mil_grid *g, const mil_frame_wish *wish, mil_found *f) {
    f->frame = f->outline;
    f->frame_origin = MILORI_ASSUMED;
    f->corner_sigma_px = f->angle_sigma = NAN;
    double w = f->outline.w * g->mm_px, h = f->outline.h * g->mm_px;
    const double *size = wish->size_mm;
    bool named = !isnan(size[0]);
    bool swap = named && (w > h) != (size[0] > size[1]);
    f->frame.w = (named ? size[swap] : fmax(w - 2, w / 2)) / g->mm_px;
    f->frame.h = (named ? size[!swap] : fmax(h - 2, h / 2)) / g->mm_px;
    if (named)
        mil_note(&f->notes, "frame-missing",
                 "no frame shows; %.1f x %.1f mm in the middle of the sheet is taken; give "
                 "--corners if the crop is wrong",
                 frame_mm(f, g, false), frame_mm(f, g, true));
    else
        mil_note(&f->notes, "frame-missing",
                 "no frame shows; the whole sheet is taken; give --frame or --corners");
}

/* Two corners err apart by their sigma over the side's length. */
static void set_sigmas(const mil_grid *g, double corner_mm, mil_found *f) {
    f->corner_sigma_px = hypot(corner_mm, SYSTEM_MM) / g->mm_px;
    f->angle_sigma = f->corner_sigma_px / fmax(f->frame.w, f->frame.h);
}

static milori_status take_rectangle(milori_context *ctx, const mil_grid *g, const mil_patch *p,
                                    const mil_choice *c, const mil_frame_wish *wish, mil_found *f) {
    mil_rect r;
    mil_fitted fitted;
    rect_of_guess(p, &c->guess, &r);
    place(p, &r, c->guess.seen, f);
    f->shape = MILORI_RECTANGLE;
    bool all = true;
    for (int k = 0; k < 4; k++)
        all = all && f->side_found[k];
    f->frame_origin = all ? MILORI_FOUND : MILORI_ASSUMED;
    set_sigmas(g, c->closer.error * p->mm, f);
    milori_status status = mil_frame_fit(ctx, g, &f->outline, f->side_found, &f->frame, &fitted);
    if (fitted.good) {
        set_sigmas(g, fitted.corner_sigma * g->mm_px, f);
        f->angle_sigma = fitted.angle_sigma;
    }
    if (c->known > 0)
        snprintf(f->frame_name, sizeof f->frame_name, "%s", c->name);
    note_missing(g, c, wish, f);
    note_doubt(g, c, wish, f);
    return status;
}

static void take_round(const mil_grid *g, const mil_patch *p, const mil_round *round,
                       mil_found *f) {
    const mil_rect r = {.cx = p->nx / 2.0 + round->cx,
                        .cy = p->ny / 2.0 + round->cy,
                        .w = 2 * round->rx,
                        .h = 2 * round->ry,
                        .angle = round->angle};
    const bool seen[4] = {true, true, true, true};
    place(p, &r, seen, f);
    f->shape = MILORI_ROUND;
    f->frame_origin = MILORI_FOUND;
    set_sigmas(g, round->sigma * p->mm, f);
    if (round->share < 0.75)
        mil_note(&f->notes, "frame-unsure",
                 "a round frame shows on %.0f %% of its rim only; give --frame or --corners if "
                 "the crop is wrong",
                 100 * round->share);
}

/* How much of a rectangle's rim shows steps, less for unrest outside. */
static double rim_share(const mil_choice *c) {
    double w = c->guess.offset[MIL_LEFT] + c->guess.offset[MIL_RIGHT];
    double h = c->guess.offset[MIL_TOP] + c->guess.offset[MIL_BOTTOM], sum = 0;
    for (int k = 0; k < 4; k++)
        if (c->guess.seen[k])
            sum += c->closer.share[k] * (k == MIL_TOP || k == MIL_BOTTOM ? w : h);
    return sum / (2 * (w + h)) - OUTSIDE * fmin(c->outside, 60);
}

milori_status mil_frame_find(milori_context *ctx, const mil_grid *g, const milori_choices *choices,
                             mil_found *f) {
    mil_frame_wish wish = {{choices->frame_mm[0], choices->frame_mm[1]}};
    mil_patch p;
    mil_choice c = {0};
    mil_round round = {0};
    bool straight = false, curved = false;
    milori_status status = mil_patch_make(ctx, g, &f->outline, &p);
    if (status != MILORI_OK)
        return status;
    status = mil_patch_dye(ctx, &p);
    if (status == MILORI_OK)
        status = mil_frame_choose(ctx, &p, &wish, &c, &straight);
    straight = straight && c.score > WEAKEST_SCORE;
    if (status == MILORI_OK && choices->shape != MILORI_RECTANGLE)
        status = mil_frame_round(ctx, &p, 0, &round, &curved);
    if (status == MILORI_OK) {
        bool rounder =
            curved && (choices->shape == MILORI_ROUND || !straight ||
                       round.share - OUTSIDE * fmin(round.outside, 60) > rim_share(&c) + 0.15);
        if (rounder)
            take_round(g, &p, &round, f);
        else if (straight && choices->shape != MILORI_ROUND)
            status = take_rectangle(ctx, g, &p, &c, &wish, f);
        else {
            nothing_found(g, &wish, f);
            f->shape = choices->shape == MILORI_ROUND ? MILORI_ROUND : MILORI_RECTANGLE;
        }
        f->margin_known = f->frame_origin == MILORI_FOUND || has_margin(g, f);
    }
    mil_patch_free(&p);
    return status;
}

milori_status mil_frame_given(milori_context *ctx, const char *path, const mil_grid *g,
                              const milori_choices *choices, mil_found *f) {
    double corner[4][2];
    for (int k = 0; k < 4; k++) {
        const double *at = choices->corners_px[k];
        mil_orient_back(g->orientation, g->width, g->height, at[0], at[1], &corner[k][0],
                        &corner[k][1]);
    }
    mil_corners_sort(corner);
    if (!mil_rect_fit(corner, &f->frame))
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "%s: the corners given are no rectangle; give four points, clockwise "
                        "from the one nearest the top left",
                        path);
    f->shape = choices->shape == MILORI_ROUND ? MILORI_ROUND : MILORI_RECTANGLE;
    f->frame_origin = MILORI_GIVEN;
    f->corner_sigma_px = 0.5;
    f->angle_sigma = f->corner_sigma_px / fmax(f->frame.w, f->frame.h);
    const char *name;
    double size[2];
    if (mil_frame_known(frame_mm(f, g, false), frame_mm(f, g, true), &name, size) > 0)
        snprintf(f->frame_name, sizeof f->frame_name, "%s", name);
    for (int k = 0; k < 4; k++)
        f->side_found[k] = true;
    f->margin_known = has_margin(g, f);
    return MILORI_OK;
}
