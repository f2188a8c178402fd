#include "render/hold.h"

#include <math.h>
#include <stdlib.h>

#include "render/pass.h"

struct mil_held {
    milori_context *ctx;
    const mil_separation *separation;
    mil_straight straight;
    mil_raster raster;
    float sun_amount;
    size_t charged;
    float *amount; /* the raster's rows, in the straight grid's order */
};

milori_status mil_hold(milori_context *ctx, const mil_plan *plan, mil_source *source,
                       const mil_part_rect *part, double scale, mil_held **out) {
    mil_held *held = mil_alloc(ctx, 1, sizeof *held);
    if (!held)
        return MILORI_ERR_MEMORY;
    *held = (mil_held){.ctx = ctx,
                       .separation = plan->separation,
                       .straight = plan->straight,
                       .sun_amount = plan->sun_amount};
    mil_raster_of(&plan->straight, part, scale, &held->raster);
    size_t count = (size_t)held->raster.width * held->raster.height;
    size_t bytes = count * sizeof *held->amount;
    milori_status status = mil_charge(ctx, bytes, mil_source_info_of(source)->path, "showing it");
    if (status == MILORI_OK) {
        held->charged = bytes;
        held->amount = mil_alloc(ctx, count, sizeof *held->amount);
        status = held->amount ? mil_render_amounts(ctx, plan, source, part, scale, held->amount)
                              : MILORI_ERR_MEMORY;
    }
    if (status != MILORI_OK) {
        mil_held_free(held);
        return status;
    }
    *out = held;
    return MILORI_OK;
}

void mil_held_size(const mil_held *held, uint32_t *width, uint32_t *height) {
    mil_raster_size(&held->straight, &held->raster, width, height);
}

bool mil_held_fits(const mil_held *held, const mil_plan *plan) {
    const mil_straight *a = &held->straight, *b = &plan->straight;
    return held->separation == plan->separation && held->sun_amount == plan->sun_amount &&
           a->cx == b->cx && a->cy == b->cy && a->cosine == b->cosine && a->sine == b->sine &&
           a->width == b->width && a->height == b->height && a->turn == b->turn;
}

void mil_held_free(mil_held *held) {
    if (!held)
        return;
    mil_release(held->ctx, held->charged);
    free(held->amount);
    free(held);
}

/* ---- the picture ------------------------------------------------------------ */

/* Where grid px (i, j) is seen: first + i * across + j * down, px of the turned picture. */
typedef struct turned {
    ptrdiff_t first, across, down;
} turned;

static ptrdiff_t seen_at(int orientation, uint32_t width, uint32_t height, int i, int j) {
    double x, y;
    mil_orient(orientation, width, height, i + 0.5, j + 0.5, &x, &y);
    return (ptrdiff_t)floor(y) * (ptrdiff_t)(orientation >= 5 ? height : width) +
           (ptrdiff_t)floor(x);
}

static turned turn_of(int orientation, uint32_t width, uint32_t height) {
    ptrdiff_t first = seen_at(orientation, width, height, 0, 0);
    return (turned){first, seen_at(orientation, width, height, 1, 0) - first,
                    seen_at(orientation, width, height, 0, 1) - first};
}

typedef struct showing {
    const mil_held *held;
    const mil_plan *plan;
    turned turn;
    float *stops;    /* a row a worker */
    uint16_t *place; /* the same */
    uint16_t *places;
} showing;

static void show_row(void *data, uint32_t j, int worker) {
    const showing *s = data;
    const mil_raster *r = &s->held->raster;
    const mil_plan *plan = s->plan;
    size_t width = r->width;
    float *stops = plan->dodged ? s->stops + (size_t)worker * width : NULL;
    uint16_t *place = s->place + (size_t)worker * width;
    if (stops)
        mil_dodge_row(&plan->dodge, (r->left + 0.5) * r->qx, r->qx, (r->top + j + 0.5) * r->qy,
                      r->width, stops);
    mil_tones_row(&plan->tones, s->held->amount + j * width, stops, r->width, place);
    ptrdiff_t at = s->turn.first + (ptrdiff_t)j * s->turn.down;
    for (size_t i = 0; i < width; i++, at += s->turn.across)
        s->places[at] = place[i];
}

milori_status mil_held_places(milori_context *ctx, const mil_held *held, const mil_plan *plan,
                              uint16_t *places) {
    const mil_raster *r = &held->raster;
    mil_pool *pool = mil_pool_new(ctx, mil_threads(ctx));
    if (!pool)
        return MILORI_ERR_MEMORY;
    size_t rooms = (size_t)mil_pool_workers(pool) * r->width;
    showing s = {.held = held,
                 .plan = plan,
                 .turn = turn_of(held->straight.turn, r->width, r->height),
                 .stops = mil_alloc(ctx, rooms, sizeof(float)),
                 .place = mil_alloc(ctx, rooms, sizeof(uint16_t)),
                 .places = places};
    bool have = s.stops && s.place;
    if (have) {
        mil_pool_start(pool, show_row, &s, r->height);
        mil_pool_join(pool);
    }
    mil_pool_free(pool);
    free(s.stops);
    free(s.place);
    return have ? MILORI_OK : MILORI_ERR_MEMORY;
}
