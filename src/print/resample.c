#include "print/resample.h"

#include <math.h>
#include <stdlib.h>
#include <zimg.h>

/* Reach of the kernel in px of the coarser side, and one for rounding. */
enum { REACH = 3, ALIGN = 64, ROWS_READ = 512, ROWS_LEAST = 16, ROWS_MOST = 256 };

/* A band of output rows on its way. */
typedef struct band {
    milori_context *ctx;
    mil_canvas *canvas;
    mil_part_rect part;
    uint32_t width, height; /* of the output */
    uint32_t first, count;  /* output rows of this band */
    uint32_t top, rows;     /* canvas rows it stands on */
    size_t in_row, out_row; /* bytes from row to row, a multiple of ALIGN */
    uint16_t *in, *out;
} band;

static milori_status zimg_fail(milori_context *ctx) {
    char words[128] = "";
    zimg_get_last_error(words, sizeof words);
    return mil_fail(ctx, MILORI_ERR_LIMIT, "the picture cannot be resampled to this size (%s)",
                    words);
}

static void *aligned(milori_context *ctx, size_t bytes) {
    void *memory = NULL;
    if (posix_memalign(&memory, ALIGN, bytes ? bytes : ALIGN) != 0) {
        mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: close other programs and try again");
        return NULL;
    }
    return memory;
}

static size_t row_bytes(uint32_t width) {
    return ((size_t)width * sizeof(uint16_t) + ALIGN - 1) / ALIGN * ALIGN;
}

/* Canvas rows that the band stands on. */
static void find_rows(band *b) {
    double step = b->part.h / b->height, reach = REACH * fmax(step, 1) + 1;
    double top = floor(b->part.y + b->first * step - reach);
    double end = ceil(b->part.y + (b->first + b->count) * step + reach);
    double most = mil_canvas_height(b->canvas);
    b->top = top > 0 ? (uint32_t)top : 0;
    b->rows = (uint32_t)(end < most ? end : most) - b->top;
}

/* Canvas rows into buffers whose rows are row bytes apart. */
static milori_status get_rows(mil_canvas *canvas, uint32_t first, uint32_t count, size_t row,
                              uint16_t *rows) {
    milori_status status = MILORI_OK;
    for (uint32_t y = 0; y < count && status == MILORI_OK; y++)
        status = mil_canvas_get(canvas, first + y, 1, rows + y * row / 2);
    return status;
}

static milori_status load(band *b) {
    uint32_t width = mil_canvas_width(b->canvas);
    free(b->in);
    b->in_row = row_bytes(width);
    b->in = aligned(b->ctx, b->in_row * b->rows);
    return b->in ? get_rows(b->canvas, b->top, b->rows, b->in_row, b->in) : MILORI_ERR_MEMORY;
}

static zimg_filter_graph *build(const band *b) {
    double step = b->part.h / b->height;
    zimg_image_format from, to;
    zimg_graph_builder_params how;
    zimg_image_format_default(&from, ZIMG_API_VERSION);
    from.pixel_type = ZIMG_PIXEL_WORD;
    from.depth = 16;
    from.pixel_range = ZIMG_RANGE_FULL;
    from.color_family = ZIMG_COLOR_GREY;
    to = from;
    from.width = mil_canvas_width(b->canvas);
    from.height = b->rows;
    from.active_region.left = b->part.x;
    from.active_region.width = b->part.w;
    from.active_region.top = b->part.y + b->first * step - b->top;
    from.active_region.height = b->count * step;
    to.width = b->width;
    to.height = b->count;
    zimg_graph_builder_params_default(&how, ZIMG_API_VERSION);
    how.resample_filter = ZIMG_RESIZE_SPLINE36;
    return zimg_filter_graph_build(&from, &to, &how);
}

static milori_status process(band *b) {
    milori_status status = load(b);
    if (status != MILORI_OK)
        return status;
    size_t size = 0;
    void *room = NULL;
    zimg_filter_graph *graph = build(b);
    bool well = graph && zimg_filter_graph_get_tmp_size(graph, &size) == ZIMG_ERROR_SUCCESS;
    if (well) {
        room = aligned(b->ctx, size);
        const zimg_image_buffer_const from = {ZIMG_API_VERSION,
                                              {{b->in, (ptrdiff_t)b->in_row, ZIMG_BUFFER_MAX}}};
        const zimg_image_buffer to = {ZIMG_API_VERSION,
                                      {{b->out, (ptrdiff_t)b->out_row, ZIMG_BUFFER_MAX}}};
        well = room && zimg_filter_graph_process(graph, &from, &to, room, NULL, NULL, NULL, NULL) ==
                           ZIMG_ERROR_SUCCESS;
    }
    free(room);
    zimg_filter_graph_free(graph);
    return well ? MILORI_OK : zimg_fail(b->ctx);
}

static milori_status hand_on(const band *b, const mil_taker *taker) {
    milori_status status = MILORI_OK;
    for (uint32_t y = 0; y < b->count && status == MILORI_OK; y++)
        status = taker->rows(taker->data, 1, b->out + y * b->out_row / 2);
    return status;
}

/* Nothing to resample: rows as they are. */
static bool unchanged(const band *b) {
    return b->part.x == 0 && b->part.y == 0 && b->part.w == b->width && b->part.h == b->height &&
           b->width == mil_canvas_width(b->canvas) && b->height == mil_canvas_height(b->canvas);
}

static milori_status run(band *b, const mil_taker *taker) {
    double step = b->part.h / b->height;
    uint32_t most = (uint32_t)fmin(fmax(ROWS_READ / step, ROWS_LEAST), ROWS_MOST);
    b->out_row = row_bytes(b->width);
    b->out = aligned(b->ctx, b->out_row * most);
    milori_status status = b->out ? MILORI_OK : MILORI_ERR_MEMORY;
    for (b->first = 0; b->first < b->height && status == MILORI_OK; b->first += b->count) {
        b->count = b->height - b->first < most ? b->height - b->first : most;
        find_rows(b);
        status =
            unchanged(b) ? get_rows(b->canvas, b->first, b->count, b->out_row, b->out) : process(b);
        if (status == MILORI_OK)
            status = hand_on(b, taker);
        if (status == MILORI_OK)
            status = mil_check_cancel(b->ctx);
    }
    return status;
}

milori_status mil_print_resample(milori_context *ctx, mil_canvas *canvas, const mil_part_rect *part,
                                 uint32_t width, uint32_t height, const mil_taker *taker) {
    band b = {.ctx = ctx, .canvas = canvas, .width = width, .height = height};
    double w = mil_canvas_width(canvas), h = mil_canvas_height(canvas);
    b.part = part ? *part : (mil_part_rect){0, 0, w, h};
    if (width == 0 || height == 0 ||
        !(b.part.w > 0 && b.part.h > 0 && b.part.x >= 0 && b.part.y >= 0 &&
          b.part.x + b.part.w <= w + 1e-6 && b.part.y + b.part.h <= h + 1e-6))
        return mil_fail(ctx, MILORI_ERR_ARGUMENT, "that part does not lie on the picture");
    milori_status status = run(&b, taker);
    free(b.in);
    free(b.out);
    return status;
}
