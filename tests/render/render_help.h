/* A scan whose amounts a test paints itself, measured by hand, and a taker that keeps the rows. */
#ifndef TEST_RENDER_HELP_H
#define TEST_RENDER_HELP_H

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "render/plan.h"
#include "render/render.h"
#include "scan/sink.h"
#include "temp_folder.h"

/* Codes stand for amounts from LOW on; the separation is weight 1, offset 0. */
#define BED_BASE 0.5 /* K/S 0.74: amounts may fall to -0.7 */
#define BED_LOW (-0.25)
#define BED_SPAN 2.0

typedef struct bed {
    milori_context *ctx;
    mil_measured measured;
    mil_decode decode;
    mil_found found;
    mil_separation separation;
    uint32_t width, height;
    float *amount; /* as the pass has it, to the bit */
} bed;

static inline mil_surface flat_surface(uint32_t width, uint32_t height, uint32_t cell,
                                       float value) {
    mil_surface s = {0,    0,   (int)((width + cell - 1) / cell), (int)((height + cell - 1) / cell),
                     cell, NULL};
    s.knot = malloc((size_t)s.nx * (size_t)s.ny * sizeof(float));
    for (int i = 0; i < s.nx * s.ny; i++)
        s.knot[i] = value;
    return s;
}

/* Writes codes as a 16 bit TIFF of 1 or 3 channels and opens it. */
static inline mil_source *store(milori_context *ctx, const char *name, uint32_t width,
                                uint32_t height, int channels, int bits, const void *codes) {
    char path[256];
    mil_sink *sink = NULL;
    mil_source *source = NULL;
    milori_notes notes = {0};
    mil_sink_options options = {.format = MILORI_TIFF,
                                .width = width,
                                .height = height,
                                .channels = channels,
                                .bits = bits,
                                .replace = true};
    snprintf(path, sizeof path, "%s/%s", folder, name);
    assert_int_equal(mil_sink_open(ctx, path, &options, &sink), MILORI_OK);
    assert_int_equal(mil_sink_write(sink, height, codes), MILORI_OK);
    assert_int_equal(mil_sink_commit(sink), MILORI_OK);
    assert_int_equal(mil_source_open(ctx, path, &notes, &source), MILORI_OK);
    mil_notes_free(&notes);
    return source;
}

/* A grey scan with amounts paint(x, y), its frame given. */
static inline void bed_make(bed *b, uint32_t width, uint32_t height, mil_rect frame,
                            double (*paint)(double x, double y)) {
    *b = (bed){.ctx = milori_context_new(), .width = width, .height = height};
    size_t count = (size_t)width * height;
    uint16_t *codes = malloc(count * sizeof *codes);
    b->amount = malloc(count * sizeof *b->amount);
    float *table = malloc(65536 * sizeof *table);
    /* Densities whose amounts are BED_LOW .. BED_LOW + BED_SPAN. */
    for (int i = 0; i < 65536; i++) {
        double ks = mil_density_ks(BED_BASE) + BED_LOW + BED_SPAN * i / 65535;
        table[i] = (float)(-log10(1 + ks - sqrt(ks * ks + 2 * ks)) - BED_BASE);
    }
    for (uint32_t y = 0; y < height; y++)
        for (uint32_t x = 0; x < width; x++) {
            double code = (paint(x + 0.5, y + 0.5) - BED_LOW) / BED_SPAN * 65535;
            uint16_t c = (uint16_t)lround(fmin(fmax(code, 0), 65535));
            codes[(size_t)y * width + x] = c;
            b->amount[(size_t)y * width + x] = table[c];
        }
    mil_measured *m = &b->measured;
    m->source = store(b->ctx, "scan.tif", width, height, 1, 16, codes);
    free(codes);
    b->decode.channels = 1;
    m->decode = &b->decode;
    m->absorb = (mil_absorb){.decode = &b->decode, .table = {table}};
    m->grid = (mil_grid){.width = width,
                         .height = height,
                         .orientation = 1,
                         .channels = 1,
                         .bits = 16,
                         .mm_px = 0.1,
                         .mm_known = true,
                         .cell = 4};
    m->count = 1;
    m->found = &b->found;
    m->separation = &b->separation;
    b->found = (mil_found){.frame = frame, .outline = frame, .frame_origin = MILORI_GIVEN};
    b->separation = (mil_separation){
        .channels = 1,
        .mix = {1},
        .base = BED_BASE,
        .unit = 1,
        .scale = {.dark = 0.02, .light = 1, .middle = 0.3, .noise = 0.02, .grain = 0.02}};
    mil_response response;
    assert_int_equal(mil_response_make(b->ctx, &b->separation, &response), MILORI_OK);
    mil_response_row(&response, (uint32_t)count, b->amount);
    mil_response_free(&response);
}

static inline void bed_free(bed *b) {
    mil_source_close(b->measured.source);
    free(b->measured.absorb.table[0]);
    mil_surface_free(&b->separation.inner);
    mil_surface_free(&b->separation.fog);
    mil_surface_free(&b->separation.sun);
    free(b->amount);
    milori_context_free(b->ctx);
}

static inline mil_plan *bed_plan(bed *b, const milori_choices *choices) {
    mil_plan *plan = NULL;
    if (mil_plan_new(b->ctx, &b->measured, 0, choices, &plan) != MILORI_OK)
        fail_msg("%s", milori_message(b->ctx));
    return plan;
}

/* A finished picture, one channel of it kept. */
typedef struct kept {
    uint32_t width, height, rows;
    int channels;
    uint16_t *code;
} kept;

static inline milori_status keep_rows(void *data, uint32_t count, const uint16_t *codes) {
    kept *k = data;
    assert_true(k->rows + count <= k->height);
    for (size_t i = 0; i < (size_t)count * k->width; i++)
        k->code[(size_t)k->rows * k->width + i] = codes[i * (size_t)k->channels];
    k->rows += count;
    return MILORI_OK;
}

static inline kept bed_render(bed *b, const mil_plan *plan, const mil_part_rect *part,
                              double scale) {
    kept k = {.channels = plan->channels};
    mil_render_size(plan, part, scale, &k.width, &k.height);
    k.code = malloc((size_t)k.width * k.height * sizeof *k.code);
    const mil_taker taker = {keep_rows, &k};
    if (mil_render(b->ctx, plan, b->measured.source, part, scale, &taker) != MILORI_OK)
        fail_msg("%s", milori_message(b->ctx));
    assert_int_equal(k.rows, k.height);
    return k;
}

/* The code that an amount comes out as. */
static inline uint16_t code_of(const mil_plan *plan, float amount) {
    uint16_t place;
    mil_tones_row(&plan->tones, &amount, NULL, 1, &place);
    return plan->codes[(size_t)place * (size_t)plan->channels];
}

/* Amount back from a code, by search in the amounts' own line of codes; for palettes whose codes
 * rise. */
static inline double amount_of(const mil_plan *plan, uint16_t code) {
    double low = -0.25, high = 4;
    for (int i = 0; i < 40; i++) {
        double middle = (low + high) / 2;
        if (code_of(plan, (float)middle) < code)
            low = middle;
        else
            high = middle;
    }
    return high;
}

#endif
