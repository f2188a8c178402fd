/* PNG (ISO 15948) through libpng. */
#include <math.h>
#include <png.h>
#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scan/sink_face.h"

/* Measured on a 3000 x 3000 picture with grain: zlib's lazy levels, from 4 on,
 * do worse than its quick ones on filtered 16 bit samples. 16 bit RGB neutral:
 * level 1 0.55 s 41.3 %, 3 0.80 s 38.7 %, 6 1.58 s 50.8 %; 8 bit: 3 0.49 s
 * 35.5 %, 6 2.04 s 33.0 %. Paeth beside Sub and Up gains nothing there. */
#define LEVEL 3
/* Keyword, no compression, no language, no translated keyword (XMP
 * specification part 3, 1.1.5: PNG). */
static const char xmp_head[] = "XML:com.adobe.xmp\0\0\0\0";

typedef struct writer {
    mil_transaction *tx;
    png_structp png;
    png_infop info;
    bool in_profile; /* an error now is the profile's */
    size_t row_bytes;
    uint8_t *chunk; /* of XMP; here so that a jump does not lose it */
    jmp_buf out;    /* set by the function that calls libpng */
    char said[200];
} writer;

static void stop(png_structp png, png_const_charp message) {
    writer *w = png_get_error_ptr(png);
    snprintf(w->said, sizeof w->said, "%s", message);
    longjmp(w->out, 1);
}

static void keep_warning(png_structp png, png_const_charp message) {
    writer *w = png_get_error_ptr(png);
    if (!w->said[0])
        snprintf(w->said, sizeof w->said, "%s", message);
}

static void put_bytes(png_structp png, png_bytep bytes, size_t size) {
    writer *w = png_get_io_ptr(png);
    if (!mil_transaction_write(w->tx, bytes, size))
        png_error(png, "short write");
}

static void flush_nothing(png_structp png) {
    (void)png;
}

static milori_status fail(writer *w) {
    return mil_transaction_fail(w->tx, w->said);
}

static milori_status fail_profile(writer *w) {
    return mil_fail(mil_transaction_context(w->tx), MILORI_ERR_PROFILE,
                    "%s: the output profile cannot be put into PNG (%s); choose another",
                    mil_transaction_name(w->tx), w->said);
}

static bool little_endian(void) {
    const uint16_t one = 1;
    uint8_t first;
    memcpy(&first, &one, 1);
    return first == 1;
}

static void put_xmp(writer *w, const mil_sink_options *o) {
    size_t head = sizeof xmp_head; /* with the last NUL */
    memcpy(w->chunk, xmp_head, head);
    memcpy(w->chunk + head, o->xmp, o->xmp_size);
    png_write_chunk(w->png, (png_const_bytep) "iTXt", w->chunk, head + o->xmp_size);
}

static void put_header(writer *w, const mil_sink_options *o) {
    png_structp png = w->png;
    png_set_write_fn(png, w, put_bytes, flush_nothing);
    /* libpng's default refuses more than a million pixels a side. */
    png_set_user_limits(png, PNG_UINT_31_MAX, PNG_UINT_31_MAX);
    png_set_chunk_malloc_max(png, 0);
    png_set_compression_level(png, LEVEL);
    png_set_compression_buffer_size(png, (size_t)64 << 10);
    png_set_filter(png, PNG_FILTER_TYPE_BASE, PNG_FILTER_SUB | PNG_FILTER_UP);
    png_set_IHDR(png, w->info, o->width, o->height, o->bits,
                 o->channels == 1 ? PNG_COLOR_TYPE_GRAY : PNG_COLOR_TYPE_RGB, PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_BASE, PNG_FILTER_TYPE_BASE);
    double per_metre = round(o->dpi / 0.0254);
    if (per_metre >= 1 && per_metre <= PNG_UINT_31_MAX)
        png_set_pHYs(png, w->info, (png_uint_32)per_metre, (png_uint_32)per_metre,
                     PNG_RESOLUTION_METER);
    if (o->icc) {
        w->in_profile = true;
        png_set_iCCP(png, w->info, "output", PNG_COMPRESSION_TYPE_BASE, o->icc,
                     (png_uint_32)o->icc_size);
        /* libpng may leave a profile that it doubts out with a mere warning. */
        if (!png_get_valid(png, w->info, PNG_INFO_iCCP))
            png_error(png, "not taken");
        w->in_profile = false;
    }
    png_write_info(png, w->info);
    if (o->xmp)
        put_xmp(w, o);
    if (o->bits == 16 && little_endian())
        png_set_swap(png);
}

static milori_status open_png(mil_transaction *tx, const mil_sink_options *o, void **made) {
    writer *w = mil_alloc(mil_transaction_context(tx), 1, sizeof *w);
    if (!w)
        return MILORI_ERR_MEMORY;
    *made = w;
    w->tx = tx;
    w->row_bytes = (size_t)o->width * (size_t)o->channels * (size_t)o->bits / 8;
    w->chunk = mil_alloc(mil_transaction_context(tx), sizeof xmp_head + o->xmp_size, 1);
    if (!w->chunk)
        return MILORI_ERR_MEMORY;
    if (setjmp(w->out))
        return w->in_profile ? fail_profile(w) : fail(w);
    w->png = png_create_write_struct(PNG_LIBPNG_VER_STRING, w, stop, keep_warning);
    w->info = w->png ? png_create_info_struct(w->png) : NULL;
    if (!w->info)
        return mil_fail(mil_transaction_context(tx), MILORI_ERR_MEMORY,
                        "out of memory: close other programs and try again");
    put_header(w, o);
    return MILORI_OK;
}

static milori_status put_rows(void *writer_, uint32_t count, const uint8_t *rows) {
    writer *w = writer_;
    if (setjmp(w->out))
        return fail(w);
    for (uint32_t i = 0; i < count; i++)
        png_write_row(w->png, rows + w->row_bytes * i);
    return MILORI_OK;
}

static milori_status finish(void *writer_) {
    writer *w = writer_;
    if (setjmp(w->out))
        return fail(w);
    png_write_end(w->png, NULL);
    return MILORI_OK;
}

static void close_png(void *writer_) {
    writer *w = writer_;
    if (w->png)
        png_destroy_write_struct(&w->png, &w->info);
    free(w->chunk);
    free(w);
}

const mil_sink_face mil_png_face = {
    .name = "PNG",
    .longest_side = PNG_UINT_31_MAX,
    .longest_row = INT32_MAX,
    .largest_icc = INT32_MAX,
    .largest_xmp = INT32_MAX - 64,
    .open = open_png,
    .rows = put_rows,
    .finish = finish,
    .close = close_png,
};
