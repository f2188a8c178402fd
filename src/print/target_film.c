/* A chart's film as a file: of its true size, mirrored, without a profile. */
#include <stdlib.h>

#include "print/paper.h"
#include "print/target_draw.h"
#include "scan/sink.h"

enum { BAND = 64 };

static void mirror(uint16_t *row, uint32_t width) {
    for (uint32_t left = 0, right = width - 1; left < right; left++, right--)
        for (int c = 0; c < 3; c++) {
            uint16_t swap = row[3 * (size_t)left + (size_t)c];
            row[3 * (size_t)left + (size_t)c] = row[3 * (size_t)right + (size_t)c];
            row[3 * (size_t)right + (size_t)c] = swap;
        }
}

static milori_status copy_rows(milori_context *ctx, mil_canvas *canvas, mil_sink *sink) {
    uint32_t width = mil_canvas_width(canvas), height = mil_canvas_height(canvas);
    uint16_t *rows = mil_alloc(ctx, (size_t)width * 3 * BAND, sizeof *rows);
    milori_status status = rows ? MILORI_OK : MILORI_ERR_MEMORY;
    for (uint32_t y = 0; y < height && status == MILORI_OK; y += BAND) {
        uint32_t count = height - y < BAND ? height - y : BAND;
        status = mil_check_cancel(ctx);
        if (status == MILORI_OK)
            status = mil_canvas_get(canvas, y, count, rows);
        for (uint32_t k = 0; k < count && status == MILORI_OK; k++)
            mirror(rows + (size_t)k * width * 3, width);
        if (status == MILORI_OK)
            status = mil_sink_write(sink, count, rows);
    }
    free(rows);
    return status;
}

static milori_status write_canvas(milori_context *ctx, mil_canvas *canvas,
                                  const mil_target_film *film, const char *path) {
    mil_sink_options options = {.format = film->format,
                                .width = mil_canvas_width(canvas),
                                .height = mil_canvas_height(canvas),
                                .channels = 3,
                                .bits = 16,
                                .dpi = film->dpi,
                                .replace = film->replace};
    mil_sink *sink = NULL;
    milori_status status = mil_sink_open(ctx, path, &options, &sink);
    if (status != MILORI_OK)
        return status;
    status = copy_rows(ctx, canvas, sink);
    if (status == MILORI_OK)
        return mil_sink_commit(sink);
    mil_sink_abort(sink);
    return status;
}

milori_status mil_target_write(milori_context *ctx, const mil_target *target,
                               const mil_target_film *film, const char *path) {
    static const uint16_t white[3] = {65535, 65535, 65535};
    mil_drawing d = {.ctx = ctx,
                     .target = target,
                     .px_mm = film->dpi / 25.4,
                     .film_name = film->film_name,
                     .process = film->process};
    mil_target_origin(target, film->film_mm, d.origin);
    milori_status status = mil_font_open(ctx, &d.font);
    if (status == MILORI_OK)
        status = mil_canvas_new(ctx, mil_px_of_mm(film->film_mm[0], film->dpi),
                                mil_px_of_mm(film->film_mm[1], film->dpi), 3, white, &d.canvas);
    if (status == MILORI_OK)
        status = mil_target_draw(&d);
    if (status == MILORI_OK)
        status = write_canvas(ctx, d.canvas, film, path);
    mil_canvas_free(d.canvas);
    mil_font_free(d.font);
    return status;
}
