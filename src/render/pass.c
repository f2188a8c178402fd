#include "render/pass.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Where output column i begins on scan row y is first + i * step: px centres at whole numbers for
 * the kernel, px edges at whole numbers for averages. Both come from one place on an absolute
 * grid, so a part gets what the whole gets. */
static void across(const mil_pass *pass, int64_t y, int64_t *first, int64_t *step) {
    const mil_straight *g = &pass->plan->straight;
    const mil_raster *r = &pass->raster;
    double shear = g->sine / g->cosine * ((double)y + 0.5 - g->cy);
    double u = r->sharp ? 0.5 : 0, edge = r->sharp ? 0.5 : 0;
    *step = mil_fixed(r->qx / g->cosine);
    *first = mil_fixed(g->cx + (u * r->qx - (double)g->width / 2) / g->cosine - shear - edge) +
             (int64_t)r->left * *step;
}

/* The same down the columns of output row j: column i begins at first + i * slope and takes
 * height. */
static void down(const mil_pass *pass, uint32_t j, int64_t *first, int64_t *slope,
                 int64_t *height) {
    const mil_straight *g = &pass->plan->straight;
    const mil_raster *r = &pass->raster;
    double row = (double)r->top + j + (r->sharp ? 0.5 : 0);
    double v = row * r->qy - (double)g->height / 2, u = 0.5 * r->qx - (double)g->width / 2;
    *slope = mil_fixed(g->sine * r->qx);
    *height = mil_fixed(g->cosine * r->qy);
    *first = mil_fixed(g->cy + g->sine * u + g->cosine * v - (r->sharp ? 0.5 : 0)) +
             (int64_t)r->left * *slope;
}

void mil_pass_rows(const mil_pass *pass, uint32_t j, int64_t *first, int64_t *last) {
    int64_t a, slope, height;
    down(pass, j, &a, &slope, &height);
    int64_t b = a + slope * (pass->raster.width - (int64_t)1);
    int64_t low = a < b ? a : b, high = a < b ? b : a;
    if (pass->kernel) {
        *first = mil_fixed_px(low) - MIL_TAPS_BEFORE;
        *last = mil_fixed_px(high) + MIL_TAPS - 1 - MIL_TAPS_BEFORE;
    } else {
        *first = low >> 32;
        *last = pass->direct ? high >> 32 : (high + height) >> 32;
    }
}

static int64_t held(int64_t y, int64_t low, int64_t high) {
    return y < low ? low : y > high ? high : y;
}

/* Scan rows needed, and the most that stand behind one output row. */
static uint32_t plan_rows(mil_pass *pass) {
    const mil_grid *grid = &pass->plan->measured->grid;
    int64_t first, last, end = (int64_t)grid->height - 1;
    uint32_t bottom = pass->raster.height - 1;
    mil_pass_rows(pass, 0, &first, &last);
    int64_t span = last - first;
    pass->ring.first = held(first, 0, end);
    mil_pass_rows(pass, bottom, &first, &last);
    pass->ring.last = held(last, 0, end);
    span = (last - first > span ? last - first : span) + 3;
    return (uint32_t)held(span, 1, pass->ring.last - pass->ring.first + 1);
}

static milori_status make_ring(mil_pass *pass) {
    mil_ring *ring = &pass->ring;
    const char *path = mil_source_info_of(pass->source)->path;
    ring->width = pass->raster.width;
    ring->rows = plan_rows(pass) + MIL_BAND;
    size_t bytes = (size_t)ring->rows * ring->width * sizeof *ring->row;
    milori_status status = mil_charge(pass->ctx, bytes, path, "straightening it");
    if (status != MILORI_OK)
        return status;
    pass->charged = bytes;
    ring->row = mil_alloc(pass->ctx, (size_t)ring->rows * ring->width, sizeof *ring->row);
    return ring->row ? MILORI_OK : MILORI_ERR_MEMORY;
}

static milori_status make_rooms(mil_pass *pass) {
    int count = mil_pool_workers(pass->pool);
    uint32_t width = pass->raster.width;
    pass->room = mil_alloc(pass->ctx, (size_t)count, sizeof *pass->room);
    if (!pass->room)
        return MILORI_ERR_MEMORY;
    for (int i = 0; i < count; i++) {
        mil_pass_room *room = &pass->room[i];
        if (mil_amount_room_make(pass->ctx, pass->plan, &room->amount) != MILORI_OK)
            return MILORI_ERR_MEMORY;
        room->line = mil_alloc(pass->ctx, pass->reach, sizeof *room->line);
        room->tone = mil_alloc(pass->ctx, width, sizeof *room->tone);
        room->stops = mil_alloc(pass->ctx, width, sizeof *room->stops);
        room->place = mil_alloc(pass->ctx, width, sizeof *room->place);
        if (!room->line || !room->tone || !room->stops || !room->place)
            return MILORI_ERR_MEMORY;
    }
    return MILORI_OK;
}

static milori_status make_bands(mil_pass *pass) {
    const mil_source_info *info = mil_source_info_of(pass->source);
    size_t row = (size_t)info->width * (size_t)info->channels;
    size_t made = pass->raster.width * (size_t)(pass->to_spill ? 1 : pass->plan->channels);
    for (int i = 0; i < 2; i++) {
        pass->in[i] = mil_alloc(pass->ctx, row * MIL_BAND, sizeof(uint16_t));
        pass->out[i] = mil_alloc(pass->ctx, made * MIL_BAND, sizeof(uint16_t));
        if (!pass->in[i] || !pass->out[i])
            return MILORI_ERR_MEMORY;
    }
    return MILORI_OK;
}

milori_status mil_pass_begin(milori_context *ctx, const mil_plan *plan, mil_source *source,
                             const mil_raster *raster, float *keep, mil_pass *pass) {
    const mil_straight *g = &plan->straight;
    *pass = (mil_pass){.ctx = ctx, .plan = plan, .source = source, .raster = *raster, .keep = keep};
    pass->mirror = g->turn == 2;
    pass->to_spill = g->turn > 2 && !keep;
    pass->direct = raster->sharp && g->sine == 0;
    if (raster->sharp && !pass->direct) {
        mil_kernel *kernel = mil_alloc(ctx, 1, sizeof *kernel);
        if (!kernel)
            return MILORI_ERR_MEMORY;
        mil_kernel_make(kernel);
        pass->kernel = kernel;
    }
    double reach = raster->width * raster->qx / g->cosine + 2 * MIL_TAPS;
    if (!(reach < UINT32_MAX))
        return mil_fail(ctx, MILORI_ERR_SHEET, "a part of %u px is too wide; ask for less",
                        raster->width);
    pass->reach = (uint32_t)reach;
    pass->pool = mil_pool_new(ctx, mil_threads(ctx));
    milori_status status = pass->pool ? make_ring(pass) : MILORI_ERR_MEMORY;
    if (status == MILORI_OK)
        status = make_rooms(pass);
    return status == MILORI_OK ? make_bands(pass) : status;
}

void mil_pass_end(mil_pass *pass) {
    int count = pass->pool ? mil_pool_workers(pass->pool) : 0;
    mil_pool_free(pass->pool);
    for (int i = 0; pass->room && i < count; i++) {
        mil_amount_room_free(&pass->room[i].amount);
        free(pass->room[i].line);
        free(pass->room[i].tone);
        free(pass->room[i].stops);
        free(pass->room[i].place);
    }
    free(pass->room);
    for (int i = 0; i < 2; i++) {
        free(pass->in[i]);
        free(pass->out[i]);
    }
    free(pass->ring.row);
    free((void *)pass->kernel);
    mil_release(pass->ctx, pass->charged);
    *pass = (mil_pass){0};
}

/* Amounts of px first .. first + count - 1 of a scan row; beyond the scan its border goes on. */
static void amounts(const mil_pass *pass, mil_pass_room *room, const uint16_t *row, int64_t y,
                    int64_t first, uint32_t count, float *out) {
    int64_t width = pass->plan->measured->grid.width;
    int64_t a = held(first, 0, width - 1), b = held(first + count - 1, 0, width - 1);
    uint32_t inside = (uint32_t)(b - a + 1), before = (uint32_t)held(a - first, 0, count - 1);
    if (before + inside > count)
        inside = count - before;
    mil_amount_row(pass->plan, &room->amount, row, (uint32_t)y, (uint32_t)a, inside, out + before);
    for (uint32_t i = 0; i < before; i++)
        out[i] = out[before];
    for (uint32_t i = before + inside; i < count; i++)
        out[i] = out[before + inside - 1];
}

void mil_pass_take(void *data, uint32_t item, int worker) {
    const mil_pass *pass = data;
    mil_pass_room *room = &pass->room[worker];
    const mil_source_info *info = mil_source_info_of(pass->source);
    const uint16_t *row = pass->band + (size_t)item * info->width * (size_t)info->channels;
    int64_t y = pass->band_first + item, first, step;
    float *out = mil_ring_row(&pass->ring, y);
    uint32_t width = pass->raster.width;
    across(pass, y, &first, &step);
    if (pass->direct) {
        amounts(pass, room, row, y, first >> 32, width, out);
        return;
    }
    int64_t low = pass->kernel ? mil_fixed_px(first) - MIL_TAPS_BEFORE : first >> 32;
    int64_t end = pass->kernel ? mil_fixed_px(first + step * (width - (int64_t)1)) + MIL_TAPS -
                                     MIL_TAPS_BEFORE
                               : ((first + step * width) >> 32) + 1;
    amounts(pass, room, row, y, low, (uint32_t)(end - low), room->line);
    first -= low * ((int64_t)1 << 32);
    if (pass->kernel)
        mil_resample_row(pass->kernel, room->line, first, step, width, out);
    else
        mil_average_row(room->line, first, step, width, out);
}

/* Amounts of an output row. */
static const float *straighten(const mil_pass *pass, mil_pass_room *room, uint32_t j) {
    int64_t first, slope, height;
    down(pass, j, &first, &slope, &height);
    if (pass->direct)
        return mil_ring_row(&pass->ring, first >> 32);
    if (pass->kernel)
        mil_resample_columns(pass->kernel, &pass->ring, first, slope, room->tone);
    else
        mil_average_columns(&pass->ring, first, slope, height, room->tone);
    return room->tone;
}

void mil_pass_give(void *data, uint32_t item, int worker) {
    const mil_pass *pass = data;
    const mil_plan *plan = pass->plan;
    const mil_raster *r = &pass->raster;
    mil_pass_room *room = &pass->room[worker];
    uint32_t j = pass->chunk_first + item, width = r->width;
    const float *amount = straighten(pass, room, j);
    if (pass->keep) {
        memcpy(pass->keep + (size_t)j * width, amount, width * sizeof *amount);
        return;
    }
    if (plan->dodged)
        mil_dodge_row(&plan->dodge, (r->left + 0.5) * r->qx, r->qx, (r->top + j + 0.5) * r->qy,
                      width, room->stops);
    const float *stops = plan->dodged ? room->stops : NULL;
    if (pass->to_spill) {
        mil_tones_row(&plan->tones, amount, stops, width, pass->chunk + (size_t)item * width);
        return;
    }
    mil_tones_row(&plan->tones, amount, stops, width, room->place);
    mil_pass_codes(plan, room->place, width, pass->mirror,
                   pass->chunk + (size_t)item * width * (size_t)plan->channels);
}

void mil_pass_codes(const mil_plan *plan, const uint16_t *place, uint32_t count, bool mirror,
                    uint16_t *codes) {
    const uint16_t *table = plan->codes;
    const uint16_t *from = mirror ? place + count - 1 : place;
    ptrdiff_t step = mirror ? -1 : 1;
    if (plan->channels == 1)
        for (size_t i = 0; i < count; i++, from += step)
            codes[i] = table[*from];
    else
        for (size_t i = 0; i < count; i++, from += step) {
            const uint16_t *code = table + (size_t)3 * *from;
            codes[3 * i] = code[0];
            codes[3 * i + 1] = code[1];
            codes[3 * i + 2] = code[2];
        }
}
