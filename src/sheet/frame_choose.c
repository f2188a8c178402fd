/* One rectangle out of the candidates, with the sides that do not show filled in. */
#include "sheet/frame_private.h"

#include <math.h>
#include <stdlib.h>

#include "base/frames.h"

static const double MISSING = 0.12;     /* what a side that is not seen counts */
static const double KNOWN = 0.5;        /* what a known size counts */
static const double LEAST_SHARE = 0.12; /* of a side's length that makes it seen */
static const double OFF_MM = 3;         /* how far off the sheet's middle a frame commonly lies */
static const double SAME_MM = 0.8;      /* sides nearer than this are one */
static const double WIDER_MM = 2;       /* a horizon lies at least so far in */
static const double CLEAR_MM = 1.5;     /* an unseen side from the cut */
enum { CLOSER = 10, MOST = 160 };

typedef struct choosing {
    const mil_patch *patch;
    const mil_frame_wish *wish;
    int count;
    mil_choice all[MOST];
} choosing;

static double width_mm(const mil_patch *p, const mil_guess *g) {
    return (g->offset[MIL_LEFT] + g->offset[MIL_RIGHT]) * p->mm;
}

static double height_mm(const mil_patch *p, const mil_guess *g) {
    return (g->offset[MIL_TOP] + g->offset[MIL_BOTTOM]) * p->mm;
}

/* Unrest outside the frame, a millimetre clear of it, for one sample of a mean side. */
static double unrest_outside(const choosing *c, const mil_guess *g) {
    const mil_patch *p = c->patch;
    double co = cos(g->angle), si = sin(g->angle), clear = 1.2 / p->mm, sum = 0;
    for (int y = 0; y < p->ny; y++)
        for (int x = 0; x < p->nx; x++) {
            double dx = x + 0.5 - p->nx / 2.0, dy = y + 0.5 - p->ny / 2.0;
            double u = dx * co + dy * si, v = -dx * si + dy * co;
            if (u > g->offset[MIL_RIGHT] + clear || u < -g->offset[MIL_LEFT] - clear ||
                v > g->offset[MIL_BOTTOM] + clear || v < -g->offset[MIL_TOP] - clear)
                sum += p->unrest[(size_t)y * (size_t)p->nx + (size_t)x];
        }
    return sum * 2 * p->mm / (width_mm(p, g) + height_mm(p, g));
}

/* How far the frame's middle is from the sheet's, in what is common. */
static double off_middle(const mil_patch *p, const mil_guess *g) {
    double du = (g->offset[MIL_RIGHT] - g->offset[MIL_LEFT]) / 2 * p->mm;
    double dv = (g->offset[MIL_BOTTOM] - g->offset[MIL_TOP]) / 2 * p->mm;
    double wide = 0.05 * p->nx * p->mm, tall = 0.05 * p->ny * p->mm;
    du /= wide > OFF_MM ? wide : OFF_MM;
    dv /= tall > OFF_MM ? tall : OFF_MM;
    return du * du + dv * dv;
}

static double size_score(const choosing *c, mil_choice *q) {
    double w = width_mm(c->patch, &q->guess), h = height_mm(c->patch, &q->guess), size[2];
    q->known = mil_frame_known(w, h, &q->name, size);
    const double *wish = c->wish->size_mm;
    if (isnan(wish[0]))
        return KNOWN * q->known;
    double off = fmin(fmax(fabs(w - wish[0]), fabs(h - wish[1])),
                      fmax(fabs(w - wish[1]), fabs(h - wish[0])));
    return off < 1 ? 1.5 : off < 3 ? 1.5 - 0.7 * (off - 1) : -1;
}

static void score(const choosing *c, mil_choice *q) {
    q->outside = unrest_outside(c, &q->guess);
    q->score =
        size_score(c, q) - 0.1 * off_middle(c->patch, &q->guess) - 0.04 * fmin(q->outside, 60);
    for (int k = 0; k < 4; k++) {
        double share = q->closer.share[k];
        q->score += q->guess.seen[k]
                        ? fmax(MISSING, 0.5 * share + 0.5 * fmin(1, 2 * share) *
                                                          fmin(1, q->guess.evidence[k] + 0.2))
                        : MISSING;
    }
    double degrees = q->guess.angle * 57.3;
    q->score -= 0.006 * degrees * degrees;
}

static void add(choosing *c, const mil_choice *q) {
    if (c->count < MOST)
        c->all[c->count++] = *q;
}

static bool inside_sheet(const mil_patch *p, const mil_guess *g) {
    double half[4] = {p->ny / 2.0, p->nx / 2.0, p->ny / 2.0, p->nx / 2.0};
    for (int k = 0; k < 4; k++)
        if (!(g->offset[k] < half[k] + 0.5 / p->mm))
            return false;
    return width_mm(p, g) > 10 && height_mm(p, g) > 10;
}

/* Sets the unseen ones of the two sides a, b so that they are size samples apart: from the one
 * that is seen, or about the sheet's middle. */
static bool set_pair(mil_guess *g, int a, int b, double size, double slack) {
    if (g->seen[a] && g->seen[b])
        return fabs(g->offset[a] + g->offset[b] - size) < slack;
    if (g->seen[a])
        g->offset[b] = size - g->offset[a];
    else if (g->seen[b])
        g->offset[a] = size - g->offset[b];
    else
        g->offset[a] = g->offset[b] = size / 2;
    return true;
}

/* Adds a guess with its unseen sides set by one size; a second look may find them after all. */
static milori_status try_size(milori_context *ctx, choosing *c, const mil_guess *guess, double w,
                              double h) {
    const mil_patch *p = c->patch;
    mil_choice q = {.guess = *guess, .by_size = true};
    if (!set_pair(&q.guess, MIL_LEFT, MIL_RIGHT, w / p->mm, 1.5 / p->mm) ||
        !set_pair(&q.guess, MIL_TOP, MIL_BOTTOM, h / p->mm, 1.5 / p->mm) ||
        !inside_sheet(p, &q.guess))
        return MILORI_OK;
    mil_guess looked = q.guess;
    for (int k = 0; k < 4; k++)
        looked.seen[k] = true;
    milori_status status = mil_frame_refine(ctx, p, &looked, &q.closer);
    for (int k = 0; k < 4; k++) {
        bool moved = fabs(looked.offset[k] - q.guess.offset[k]) > 1.5 / p->mm;
        bool now = q.closer.share[k] >= LEAST_SHARE && !moved;
        if (!q.guess.seen[k] && now)
            q.guess.evidence[k] = q.closer.share[k] / 2;
        q.guess.seen[k] = now;
        if (now)
            q.guess.offset[k] = looked.offset[k];
    }
    q.guess.angle = looked.angle;
    score(c, &q);
    add(c, &q);
    return status;
}

static milori_status try_sizes(milori_context *ctx, choosing *c, const mil_guess *g) {
    size_t count;
    const mil_frame_size *known = mil_frame_sizes(&count);
    const double *wish = c->wish->size_mm;
    milori_status status = MILORI_OK;
    if (!isnan(wish[0])) {
        status = try_size(ctx, c, g, wish[0], wish[1]);
        if (status == MILORI_OK && wish[0] != wish[1])
            status = try_size(ctx, c, g, wish[1], wish[0]);
        return status;
    }
    for (size_t i = 0; i < count && status == MILORI_OK; i++) {
        double w = known[i].width_mm, h = known[i].height_mm;
        status = try_size(ctx, c, g, w, h);
        if (status == MILORI_OK && w != h)
            status = try_size(ctx, c, g, h, w);
    }
    return status;
}

/* Unseen sides as far from the cut as the sides opposite. */
static void try_margins(choosing *c, const mil_guess *guess, const mil_closer *closer) {
    mil_choice q = {.guess = *guess, .closer = *closer};
    for (int k = 0; k < 4; k++)
        if (!guess->seen[k]) {
            if (!guess->seen[(k + 2) % 4])
                return;
            q.guess.offset[k] = guess->offset[(k + 2) % 4];
        }
    if (!inside_sheet(c->patch, &q.guess))
        return;
    score(c, &q);
    /* A size out of nowhere is the last resort. */
    q.score -= 0.3 + KNOWN * q.known;
    add(c, &q);
}

/* One guess looked at closely: as it is, and with its weaker sides doubted. */
static milori_status consider(milori_context *ctx, choosing *c, const mil_guess *guess) {
    mil_guess g = *guess;
    mil_closer closer;
    milori_status status = mil_frame_refine(ctx, c->patch, &g, &closer);
    int seen = 0, weak = -1;
    for (int k = 0; k < 4; k++) {
        g.seen[k] = g.seen[k] && closer.share[k] >= LEAST_SHARE;
        if (!g.seen[k])
            g.offset[k] = NAN;
        seen += g.seen[k];
        if (g.seen[k] && closer.share[k] < 0.85 &&
            (weak < 0 || closer.share[k] < closer.share[weak]))
            weak = k;
    }
    if (status != MILORI_OK || seen < 2)
        return status;
    if (seen == 4) {
        mil_choice q = {.guess = g, .closer = closer};
        if (inside_sheet(c->patch, &g)) {
            score(c, &q);
            add(c, &q);
        }
    } else {
        status = try_sizes(ctx, c, &g);
        if (status == MILORI_OK)
            try_margins(c, &g, &closer);
    }
    if (status == MILORI_OK && weak >= 0 && seen > 2) {
        g.seen[weak] = false;
        g.offset[weak] = NAN;
        status = try_sizes(ctx, c, &g);
    }
    return status;
}

/* Greatest distance between two frames' corners, mm. */
static double apart(const mil_patch *p, const mil_guess *a, const mil_guess *b) {
    double most = 0;
    for (int k = 0; k < 4; k++)
        most = fmax(most, fabs(a->offset[k] - b->offset[k]));
    return most * p->mm;
}

/* Whether a frame of known size is likelier than one whose one side lies further in, where a
 * horizon over dark ground may pass for it: it has to be less off the sheet's middle, and clear of
 * the cut. */
static bool is_wider(const choosing *c, const mil_choice *inner, const mil_choice *outer) {
    const mil_patch *p = c->patch;
    int moved = -1;
    for (int k = 0; k < 4; k++) {
        double out = (outer->guess.offset[k] - inner->guess.offset[k]) * p->mm;
        if (fabs(out) < SAME_MM)
            continue;
        if (moved >= 0 || out < WIDER_MM)
            return false;
        moved = k;
    }
    if (moved < 0 || outer->known < 0.8)
        return false;
    double half = (moved % 2 ? p->nx : p->ny) / 2.0, off = off_middle(p, &inner->guess);
    bool rough = inner->closer.share[moved] < 0.8 && off > 2;
    return (half - outer->guess.offset[moved]) * p->mm > CLEAR_MM &&
           off_middle(p, &outer->guess) < off && (inner->known < 0.5 || rough);
}

/* Gives each side of the best up in turn, for a known size that the other three allow. */
static milori_status try_wider(milori_context *ctx, choosing *c, const mil_choice *best,
                               mil_choice *choice) {
    milori_status status = MILORI_OK;
    bool found = false;
    for (int k = 0; k < 4 && status == MILORI_OK; k++) {
        mil_guess g = best->guess;
        g.seen[k] = false;
        g.offset[k] = NAN;
        c->count = 0;
        status = try_sizes(ctx, c, &g);
        for (int i = 0; i < c->count; i++)
            if (is_wider(c, best, &c->all[i]) && (!found || c->all[i].score > choice->score)) {
                found = true;
                *choice = c->all[i];
                choice->rival = best->score;
            }
    }
    return status;
}

milori_status mil_frame_choose(milori_context *ctx, mil_patch *patch, const mil_frame_wish *wish,
                               mil_choice *choice, bool *any) {
    mil_guesses *guesses = mil_alloc(ctx, 1, sizeof *guesses);
    choosing *c = mil_alloc(ctx, 1, sizeof *c);
    milori_status status = guesses && c ? MILORI_OK : MILORI_ERR_MEMORY;
    *any = false;
    if (status == MILORI_OK)
        status = mil_frame_search(ctx, patch, wish, guesses);
    if (status == MILORI_OK) {
        *c = (choosing){.patch = patch, .wish = wish};
        for (int k = 0; k < guesses->count && k < CLOSER && status == MILORI_OK; k++)
            status = consider(ctx, c, &guesses->guess[k]);
    }
    if (status == MILORI_OK && c->count) {
        int best = 0;
        for (int k = 1; k < c->count; k++)
            if (c->all[k].score > c->all[best].score)
                best = k;
        *choice = c->all[best];
        choice->rival = -9;
        for (int k = 0; k < c->count; k++)
            if (apart(patch, &c->all[k].guess, &choice->guess) > SAME_MM)
                choice->rival = fmax(choice->rival, c->all[k].score);
        *any = true;
        const mil_choice inner = *choice;
        bool all_seen = inner.guess.seen[0] && inner.guess.seen[1] && inner.guess.seen[2] &&
                        inner.guess.seen[3];
        if (all_seen && isnan(wish->size_mm[0]))
            status = try_wider(ctx, c, &inner, choice);
    }
    free(guesses);
    free(c);
    return status;
}
