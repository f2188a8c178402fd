#include "render/render.h"

#include <stdlib.h>

#include "render/pass.h"

void mil_render_size(const mil_plan *plan, const mil_part_rect *part, double scale, uint32_t *width,
                     uint32_t *height) {
    mil_raster raster;
    mil_raster_of(&plan->straight, part, scale, &raster);
    mil_raster_size(&plan->straight, &raster, width, height);
}

/* Where finished rows go: straight to the taker, or by way of the spill. */
typedef struct outlet {
    mil_pass pass;
    mil_spill *spill;
    const mil_taker *taker;
    uint32_t pending; /* rows of out[which ^ 1] still to be handed on */
    int which;
} outlet;

/* The first pass took the first half of a scan's work. */
static void tell(const outlet *o, double done) {
    mil_progress(o->pass.ctx, 0.5 + 0.5 * done);
}

static milori_status hand_on(outlet *o, const uint16_t *rows) {
    if (o->pending == 0 || o->pass.keep)
        return MILORI_OK;
    uint32_t count = o->pending;
    o->pending = 0;
    if (o->spill)
        return mil_spill_put(o->spill, count, rows);
    return o->taker->rows(o->taker->data, count, rows);
}

/* Output rows first .. first + count - 1 made by the pool while the ones before are handed on. */
static milori_status put_out(outlet *o, uint32_t first, uint32_t count) {
    mil_pass *pass = &o->pass;
    pass->chunk = pass->out[o->which];
    pass->chunk_first = first;
    mil_pool_start(pass->pool, mil_pass_give, pass, count);
    milori_status status = hand_on(o, pass->out[o->which ^ 1]);
    mil_pool_join(pass->pool);
    o->pending = count;
    o->which ^= 1;
    return status;
}

/* All rows whose scan rows, up to before end, are in the ring. */
static milori_status put_out_ready(outlet *o, int64_t end, uint32_t *next) {
    mil_pass *pass = &o->pass;
    milori_status status = MILORI_OK;
    while (status == MILORI_OK) {
        uint32_t count = 0;
        for (; count < MIL_BAND && *next + count < pass->raster.height; count++) {
            int64_t first, last;
            mil_pass_rows(pass, *next + count, &first, &last);
            if (last >= end && end <= pass->ring.last)
                break;
        }
        if (count == 0)
            break;
        status = put_out(o, *next, count);
        *next += count;
    }
    return status;
}

static milori_status skip_rows(mil_pass *pass) {
    milori_status status = mil_source_rewind(pass->source);
    for (int64_t y = 0; y < pass->ring.first && status == MILORI_OK;) {
        uint32_t n = pass->ring.first - y < MIL_BAND ? (uint32_t)(pass->ring.first - y) : MIL_BAND;
        status = mil_source_read(pass->source, n, pass->in[0]);
        if (status == MILORI_OK)
            status = mil_check_cancel(pass->ctx);
        y += n;
    }
    return status;
}

static uint32_t band_rows(const mil_pass *pass, int64_t y) {
    int64_t left = pass->ring.last + 1 - y;
    return left < MIL_BAND ? (uint32_t)left : MIL_BAND;
}

static milori_status run_bands(outlet *o) {
    mil_pass *pass = &o->pass;
    int64_t y = pass->ring.first, rows = pass->ring.last + 1;
    uint32_t next = 0;
    int b = 0;
    milori_status status = skip_rows(pass);
    if (status == MILORI_OK)
        status = mil_source_read(pass->source, band_rows(pass, y), pass->in[0]);
    while (status == MILORI_OK && y < rows) {
        uint32_t n = band_rows(pass, y);
        pass->band = pass->in[b];
        pass->band_first = y;
        y += n;
        b ^= 1;
        mil_pool_start(pass->pool, mil_pass_take, pass, n);
        if (y < rows)
            status = mil_source_read(pass->source, band_rows(pass, y), pass->in[b]);
        mil_pool_join(pass->pool);
        if (status == MILORI_OK)
            status = put_out_ready(o, y, &next);
        if (status == MILORI_OK)
            status = mil_check_cancel(pass->ctx);
        tell(o, (o->spill ? 0.8 : 1) * (double)y / (double)rows);
    }
    if (status == MILORI_OK)
        status = hand_on(o, pass->out[o->which ^ 1]);
    return status;
}

/* What the spill holds, turned, in bands. */
static milori_status run_spill(outlet *o) {
    milori_context *ctx = o->pass.ctx;
    const mil_plan *plan = o->pass.plan;
    uint32_t width, height;
    mil_raster_size(&plan->straight, &o->pass.raster, &width, &height);
    size_t band = (size_t)MIL_SPILL_STRIP * width;
    uint16_t *places = mil_alloc(ctx, band, sizeof *places);
    uint16_t *codes = mil_alloc(ctx, band * (size_t)plan->channels, sizeof *codes);
    milori_status status = places && codes ? MILORI_OK : MILORI_ERR_MEMORY;
    for (uint32_t y = 0; y < height && status == MILORI_OK;) {
        uint32_t n = height - y < MIL_SPILL_STRIP ? height - y : MIL_SPILL_STRIP;
        status = mil_spill_get(o->spill, y, n, places);
        for (uint32_t i = 0; i < n && status == MILORI_OK; i++)
            mil_pass_codes(plan, places + (size_t)i * width, width, false,
                           codes + (size_t)i * width * (size_t)plan->channels);
        if (status == MILORI_OK)
            status = o->taker->rows(o->taker->data, n, codes);
        if (status == MILORI_OK)
            status = mil_check_cancel(ctx);
        y += n;
        tell(o, 0.8 + 0.2 * (double)y / height);
    }
    free(places);
    free(codes);
    return status;
}

static milori_status run(milori_context *ctx, const mil_plan *plan, mil_source *source,
                         const mil_part_rect *part, double scale, float *keep,
                         const mil_taker *taker) {
    if (!(scale > 0 && scale <= 1))
        return mil_fail(ctx, MILORI_ERR_ARGUMENT, "scale %g is not above 0 and at most 1", scale);
    outlet o = {.taker = taker};
    mil_raster raster;
    mil_raster_of(&plan->straight, part, scale, &raster);
    milori_status status = mil_pass_begin(ctx, plan, source, &raster, keep, &o.pass);
    if (status == MILORI_OK && o.pass.to_spill)
        status = mil_spill_new(ctx, raster.width, raster.height, plan->straight.turn, &o.spill);
    if (status == MILORI_OK)
        status = run_bands(&o);
    if (status == MILORI_OK && o.spill)
        status = run_spill(&o);
    mil_spill_free(o.spill);
    mil_pass_end(&o.pass);
    return status;
}

milori_status mil_render(milori_context *ctx, const mil_plan *plan, mil_source *source,
                         const mil_part_rect *part, double scale, const mil_taker *taker) {
    return run(ctx, plan, source, part, scale, NULL, taker);
}

milori_status mil_render_amounts(milori_context *ctx, const mil_plan *plan, mil_source *source,
                                 const mil_part_rect *part, double scale, float *amount) {
    return run(ctx, plan, source, part, scale, amount, NULL);
}
