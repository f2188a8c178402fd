#include "draw/canvas.h"

#include <stdlib.h>
#include <string.h>

#include "base/temp_file.h"

/* Codes are kept as their difference (exclusive or) from the background, so that what was never
 * drawn on is a hole in the file, or zeroed memory, and costs nothing. */
struct mil_canvas {
    milori_context *ctx;
    uint32_t width, height;
    int channels;
    uint16_t background[4];
    uint16_t *memory;   /* NULL: in file */
    mil_temp_file file; /* fd -1: in memory */
    uint16_t *row;      /* one, to work on */
    milori_status failure;
};

/* What a canvas may hold in memory, bytes. */
static const uint64_t SMALL = (uint64_t)1 << 20;

static milori_status make_room(mil_canvas *canvas) {
    uint64_t row = (uint64_t)canvas->width * (uint64_t)canvas->channels;
    uint64_t bytes = row * canvas->height * sizeof(uint16_t);
    canvas->row = mil_alloc(canvas->ctx, (size_t)row, sizeof *canvas->row);
    if (!canvas->row)
        return MILORI_ERR_MEMORY;
    if (bytes <= SMALL) {
        canvas->memory = mil_alloc(canvas->ctx, (size_t)bytes, 1);
        return canvas->memory ? MILORI_OK : MILORI_ERR_MEMORY;
    }
    milori_status status = mil_temp_file_open(canvas->ctx, &canvas->file);
    return status == MILORI_OK ? mil_temp_file_size(canvas->ctx, &canvas->file, bytes) : status;
}

milori_status mil_canvas_new(milori_context *ctx, uint32_t width, uint32_t height, int channels,
                             const uint16_t *background, mil_canvas **out) {
    *out = NULL;
    if (width == 0 || height == 0 || channels < 1 || channels > 4)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT, "a page of %u x %u px cannot be drawn on", width,
                        height);
    if (height > mil_pixel_limit(ctx) / width)
        return mil_fail(ctx, MILORI_ERR_LIMIT,
                        "a page of %u x %u px is over the limit of pixels; raise it with --pixels",
                        width, height);
    mil_canvas *canvas = mil_alloc(ctx, 1, sizeof *canvas);
    if (!canvas)
        return MILORI_ERR_MEMORY;
    *canvas = (mil_canvas){
        .ctx = ctx, .width = width, .height = height, .channels = channels, .file.fd = -1};
    memcpy(canvas->background, background, (size_t)channels * sizeof *background);
    milori_status status = make_room(canvas);
    if (status != MILORI_OK) {
        mil_canvas_free(canvas);
        return status;
    }
    *out = canvas;
    return MILORI_OK;
}

uint32_t mil_canvas_width(const mil_canvas *canvas) {
    return canvas->width;
}

uint32_t mil_canvas_height(const mil_canvas *canvas) {
    return canvas->height;
}

int mil_canvas_channels(const mil_canvas *canvas) {
    return canvas->channels;
}

/* Codes to differences and back, count px. */
static void differ(const mil_canvas *canvas, const uint16_t *from, size_t count, uint16_t *to) {
    size_t n = (size_t)canvas->channels;
    for (size_t c = 0; c < n; c++) {
        uint16_t background = canvas->background[c];
        for (size_t i = c; i < count * n; i += n)
            to[i] = from[i] ^ background;
    }
}

static uint64_t place(const mil_canvas *canvas, uint32_t x, uint32_t y) {
    return ((uint64_t)y * canvas->width + x) * (uint64_t)canvas->channels;
}

/* What differs of count px at (x, y), all on the page. */
static void store(mil_canvas *canvas, uint32_t x, uint32_t y, size_t count,
                  const uint16_t *differences) {
    size_t bytes = count * (size_t)canvas->channels * sizeof *differences;
    uint64_t at = place(canvas, x, y);
    if (canvas->memory)
        memcpy(canvas->memory + at, differences, bytes);
    else if (canvas->failure == MILORI_OK)
        canvas->failure = mil_temp_file_write(canvas->ctx, &canvas->file, differences, bytes,
                                              at * sizeof *differences);
}

static milori_status load(mil_canvas *canvas, uint32_t x, uint32_t y, size_t count,
                          uint16_t *differences) {
    size_t bytes = count * (size_t)canvas->channels * sizeof *differences;
    uint64_t at = place(canvas, x, y);
    if (canvas->memory)
        memcpy(differences, canvas->memory + at, bytes);
    else if (canvas->failure == MILORI_OK)
        canvas->failure = mil_temp_file_read(canvas->ctx, &canvas->file, differences, bytes,
                                             at * sizeof *differences);
    return canvas->failure;
}

/* A rectangle cut off at the page's edges. */
typedef struct cut {
    uint32_t x, y, width, height;
    uint32_t left, top; /* by how much it was cut there */
} cut;

/* start and length of what lies within 0 .. most; skipped: cut off before. */
static bool cut_side(int64_t at, uint32_t length, uint32_t most, uint32_t *start, uint32_t *kept,
                     uint32_t *skipped) {
    if (at >= (int64_t)most || at <= -(int64_t)length)
        return false;
    *skipped = at < 0 ? (uint32_t)-at : 0;
    *start = at < 0 ? 0 : (uint32_t)at;
    *kept = length - *skipped < most - *start ? length - *skipped : most - *start;
    return true;
}

static bool cut_off(const mil_canvas *canvas, int64_t x, int64_t y, uint32_t width, uint32_t height,
                    cut *c) {
    return cut_side(x, width, canvas->width, &c->x, &c->width, &c->left) &&
           cut_side(y, height, canvas->height, &c->y, &c->height, &c->top);
}

void mil_canvas_put(mil_canvas *canvas, int64_t x, int64_t y, uint32_t width, uint32_t height,
                    const uint16_t *codes) {
    cut c;
    if (!cut_off(canvas, x, y, width, height, &c))
        return;
    for (uint32_t i = 0; i < c.height; i++) {
        size_t from = ((size_t)(c.top + i) * width + c.left) * (size_t)canvas->channels;
        differ(canvas, codes + from, c.width, canvas->row);
        store(canvas, c.x, c.y + i, c.width, canvas->row);
    }
}

void mil_canvas_fill(mil_canvas *canvas, int64_t x, int64_t y, uint32_t width, uint32_t height,
                     const uint16_t *code) {
    cut c;
    size_t n = (size_t)canvas->channels;
    if (!cut_off(canvas, x, y, width, height, &c))
        return;
    for (size_t i = 0; i < c.width * n; i++)
        canvas->row[i] = code[i % n] ^ canvas->background[i % n];
    for (uint32_t i = 0; i < c.height; i++)
        store(canvas, c.x, c.y + i, c.width, canvas->row);
}

void mil_canvas_ink(mil_canvas *canvas, int64_t x, int64_t y, const mil_mask *mask,
                    const uint16_t *code) {
    cut c;
    size_t n = (size_t)canvas->channels;
    if (!cut_off(canvas, x, y, mask->width, mask->height, &c))
        return;
    for (uint32_t i = 0; i < c.height; i++) {
        const uint8_t *cover = mask->cover + (size_t)(c.top + i) * mask->width + c.left;
        if (load(canvas, c.x, c.y + i, c.width, canvas->row) != MILORI_OK)
            return;
        differ(canvas, canvas->row, c.width, canvas->row);
        for (size_t k = 0; k < c.width * n; k++) {
            uint32_t much = cover[k / n];
            uint32_t sum = (255 - much) * canvas->row[k] + much * code[k % n];
            canvas->row[k] = (uint16_t)((sum + 127) / 255);
        }
        differ(canvas, canvas->row, c.width, canvas->row);
        store(canvas, c.x, c.y + i, c.width, canvas->row);
    }
}

milori_status mil_canvas_get(mil_canvas *canvas, uint32_t first, uint32_t count, uint16_t *rows) {
    if (first > canvas->height || count > canvas->height - first)
        return mil_fail(canvas->ctx, MILORI_ERR_ARGUMENT, "the page has %u rows, not %u",
                        canvas->height, first + count);
    size_t px = (size_t)count * canvas->width;
    milori_status status = load(canvas, 0, first, px, rows);
    if (status == MILORI_OK)
        differ(canvas, rows, px, rows);
    return status;
}

void mil_canvas_free(mil_canvas *canvas) {
    if (!canvas)
        return;
    mil_temp_file_close(&canvas->file);
    free(canvas->memory);
    free(canvas->row);
    free(canvas);
}
