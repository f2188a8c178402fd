#include "print/page_write.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "print/resample.h"
#include "scan/sink_codes.h"

enum { ROWS = 16 };

typedef struct writing {
    milori_context *ctx;
    mil_canvas *canvas;
    const uint16_t *table;
    size_t channels; /* of the file */
    mil_code_sink sink;
    uint16_t *rows, *codes;
} writing;

/* places of count px to codes of the table. */
static void look_up(const writing *w, size_t count) {
    size_t n = w->channels;
    for (size_t i = 0; i < count; i++)
        memcpy(w->codes + i * n, w->table + w->rows[i] * n, n * sizeof *w->codes);
}

static milori_status write_rows(writing *w) {
    uint32_t width = mil_canvas_width(w->canvas), height = mil_canvas_height(w->canvas);
    milori_status status = MILORI_OK;
    for (uint32_t y = 0; y < height && status == MILORI_OK; y += ROWS) {
        uint32_t n = height - y < ROWS ? height - y : ROWS;
        status = mil_canvas_get(w->canvas, y, n, w->rows);
        if (status == MILORI_OK && w->table)
            look_up(w, (size_t)n * width);
        if (status == MILORI_OK)
            status = mil_code_sink_write(&w->sink, n, w->table ? w->codes : w->rows);
        if (status == MILORI_OK)
            status = mil_check_cancel(w->ctx);
        mil_progress(w->ctx, (double)(y + n) / height);
    }
    return status;
}

static milori_status write_file(writing *w, const char *path, const mil_sink_options *options) {
    size_t samples = (size_t)options->width * (size_t)mil_canvas_channels(w->canvas);
    w->rows = mil_alloc(w->ctx, samples * ROWS, sizeof *w->rows);
    if (w->table)
        w->codes = mil_alloc(w->ctx, (size_t)options->width * w->channels * ROWS, sizeof *w->codes);
    milori_status status = w->rows && (w->codes || !w->table) ? MILORI_OK : MILORI_ERR_MEMORY;
    if (status == MILORI_OK)
        status = mil_code_sink_open(w->ctx, path, options, &w->sink);
    if (status == MILORI_OK)
        status = write_rows(w);
    status = mil_code_sink_close(&w->sink, status);
    free(w->rows);
    free(w->codes);
    return status;
}

milori_status mil_page_write(milori_context *ctx, mil_canvas *canvas, const uint16_t *table,
                             const mil_page_file *file) {
    char name[128];
    int channels = mil_output_channels(file->output);
    writing w = {.ctx = ctx, .canvas = canvas, .table = table, .channels = (size_t)channels};
    mil_sink_options options = {.format = file->format,
                                .width = mil_canvas_width(canvas),
                                .height = mil_canvas_height(canvas),
                                .channels = channels,
                                .bits = file->bits,
                                .quality = file->quality,
                                .dpi = file->dpi,
                                .replace = file->replace};
    options.icc = mil_output_icc(file->output, &options.icc_size);
    if (file->printer) {
        mil_output_name(file->output, name, sizeof name);
        options.output_icc = options.icc;
        options.output_icc_size = options.icc_size;
        options.output_name = name;
    }
    return write_file(&w, file->path, &options);
}

/* ---- the look ------------------------------------------------------------------ */

typedef struct looking {
    const mil_look *look;
    mil_code_sink sink;
    double dpi;
    uint32_t width, y;
    uint16_t *row;
} looking;

static milori_status take_rows(void *data, uint32_t count, const uint16_t *places) {
    looking *l = data;
    milori_status status = MILORI_OK;
    for (uint32_t j = 0; j < count && status == MILORI_OK; j++, l->y++) {
        for (uint32_t x = 0; x < l->width; x++, places++) {
            uint16_t *rgb = l->row + 3 * (size_t)x;
            if (*places == l->look->count - 1)
                memcpy(rgb, l->look->paper, sizeof l->look->paper);
            else
                mil_look_marked(l->look, *places, x, l->y, l->dpi, rgb);
        }
        status = mil_code_sink_write(&l->sink, 1, l->row);
    }
    return status;
}

milori_status mil_page_look(milori_context *ctx, mil_canvas *canvas, const mil_look *look,
                            double dpi, const char *path, bool replace) {
    uint32_t width = mil_canvas_width(canvas), height = mil_canvas_height(canvas);
    double scale = fmin(1, MIL_LOOK_SIDE / (double)(width > height ? width : height));
    looking l = {.look = look, .dpi = fmax(dpi * scale, 1)};
    const mil_taker taker = {take_rows, &l};
    mil_output *screen = NULL;
    l.width = (uint32_t)fmax(1, round(width * scale));
    mil_sink_options options = {.format = MILORI_PNG,
                                .width = l.width,
                                .height = (uint32_t)fmax(1, round(height * scale)),
                                .channels = 3,
                                .bits = 8,
                                .dpi = l.dpi,
                                .replace = replace};
    l.row = mil_alloc(ctx, 3 * (size_t)l.width, sizeof *l.row);
    milori_status status =
        l.row ? mil_output_new(ctx, "", MILORI_RELATIVE, true, &screen) : MILORI_ERR_MEMORY;
    if (status == MILORI_OK) {
        options.icc = mil_output_icc(screen, &options.icc_size);
        status = mil_code_sink_open(ctx, path, &options, &l.sink);
    }
    if (status == MILORI_OK)
        status = mil_print_resample(ctx, canvas, NULL, options.width, options.height, &taker);
    status = mil_code_sink_close(&l.sink, status);
    mil_output_free(screen);
    free(l.row);
    return status;
}
