#include "render/amount.h"

#include <stdlib.h>

#include "sheet/surface.h"

/* Px worked on at once, so that what is between them stays in the cache. */
enum { CHUNK = 1024, INNER = 0, FOG, SUN };

/* NULL where there is none to apply. */
static const mil_surface *surface_of(const mil_plan *plan, int which) {
    const mil_separation *s = plan->separation;
    const mil_surface *surface = which == SUN ? &s->sun : which == FOG ? &s->fog : &s->inner;
    return surface->knot ? surface : NULL;
}

milori_status mil_amount_room_make(milori_context *ctx, const mil_plan *plan,
                                   mil_amount_room *room) {
    *room = (mil_amount_room){0};
    bool whole = true;
    for (int i = 0; i < MIL_SURFACES; i++) {
        const mil_surface *surface = surface_of(plan, i);
        if (!surface)
            continue;
        room->line[i] = mil_alloc(ctx, (size_t)surface->nx, sizeof(float));
        room->span[i] = mil_alloc(ctx, CHUNK, sizeof(float));
        whole = whole && room->line[i] && room->span[i];
    }
    if (!plan->measured->absorb.table[0]) {
        room->light = mil_alloc(ctx, 3 * CHUNK, sizeof(float));
        room->absorb = mil_alloc(ctx, 3 * CHUNK, sizeof(float));
        whole = whole && room->light && room->absorb;
    }
    if (whole)
        return MILORI_OK;
    mil_amount_room_free(room);
    return MILORI_ERR_MEMORY;
}

void mil_amount_room_free(mil_amount_room *room) {
    free(room->light);
    free(room->absorb);
    for (int i = 0; i < MIL_SURFACES; i++) {
        free(room->line[i]);
        free(room->span[i]);
    }
    *room = (mil_amount_room){0};
}

/* Absorptions added up by the mix, straight from the tables or through room->absorb. */
static void weigh(const mil_plan *plan, mil_amount_room *room, const uint16_t *codes,
                  uint32_t count, float *restrict out) {
    const mil_absorb *absorb = &plan->measured->absorb;
    const float *r = absorb->table[0], *g = absorb->table[1], *b = absorb->table[2];
    const float *a = room->absorb;
    const double *mix = plan->separation->mix;
    float wr = (float)mix[0], wg = (float)mix[1], wb = (float)mix[2];
    bool grey = plan->separation->channels == 1;
    if (!r)
        mil_absorb_row(absorb, codes, count, room->light, room->absorb);
    if (r && grey)
        for (uint32_t i = 0; i < count; i++)
            out[i] = wr * r[codes[i]];
    else if (r)
        for (uint32_t i = 0; i < count; i++)
            out[i] = wr * r[codes[3 * i]] + wg * g[codes[3 * i + 1]] + wb * b[codes[3 * i + 2]];
    else if (grey)
        for (uint32_t i = 0; i < count; i++)
            out[i] = wr * a[i];
    else
        for (uint32_t i = 0; i < count; i++)
            out[i] = wr * a[3 * i] + wg * a[3 * i + 1] + wb * a[3 * i + 2];
}

static void fill_sun(float sun_amount, const float *span, uint32_t count, float *restrict out) {
    for (uint32_t i = 0; i < count; i++) {
        float s = span[i] < 0 ? 0 : span[i] > 1 ? 1 : span[i];
        out[i] += s * (sun_amount - out[i]);
    }
}

void mil_amount_row(const mil_plan *plan, mil_amount_room *room, const uint16_t *row, uint32_t y,
                    uint32_t first, uint32_t count, float *amount) {
    const mil_surface *surface[MIL_SURFACES];
    uint32_t channels = (uint32_t)plan->separation->channels;
    for (int i = 0; i < MIL_SURFACES; i++) {
        surface[i] = surface_of(plan, i);
        if (surface[i])
            mil_surface_row(surface[i], y + 0.5, room->line[i]);
    }
    for (uint32_t done = 0; done < count; done += CHUNK) {
        uint32_t n = count - done < CHUNK ? count - done : CHUNK, x = first + done;
        float *restrict out = amount + done;
        for (int i = 0; i < MIL_SURFACES; i++)
            if (surface[i])
                mil_surface_span(surface[i], room->line[i], x, n, room->span[i]);
        weigh(plan, room, row + (size_t)x * channels, n, out);
        if (surface[INNER])
            for (uint32_t i = 0; i < n; i++)
                out[i] += room->span[INNER][i];
        mil_response_row(&plan->response, n, out);
        if (surface[FOG])
            for (uint32_t i = 0; i < n; i++)
                out[i] -= room->span[FOG][i];
        if (surface[SUN])
            fill_sun(plan->sun_amount, room->span[SUN], n, out);
    }
}
