#include "scan/sink.h"

#include <stdlib.h>
#include <string.h>

#include "scan/sink_face.h"

struct mil_sink {
    milori_context *ctx;
    const mil_sink_face *face;
    mil_transaction *transaction;
    void *writer;
    size_t row_bytes;
    uint32_t height, written;
    milori_status status; /* of the first failure; sticky */
};

static const mil_sink_face *face_of(milori_format format) {
    switch (format) {
    case MILORI_TIFF:
        return &mil_tiff_face;
    case MILORI_PNG:
        return &mil_png_face;
    case MILORI_JPEG:
        return &mil_jpeg_face;
    case MILORI_PDF:
        return &mil_pdf_face;
    }
    return NULL;
}

static milori_status check_size(milori_context *ctx, const char *path, const mil_sink_face *face,
                                const mil_sink_options *o) {
    if (o->width == 0 || o->height == 0)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "%s: nothing to write: %lu x %lu pixels; choose a larger frame", path,
                        (unsigned long)o->width, (unsigned long)o->height);
    size_t pixel = (size_t)o->channels * (size_t)o->bits / 8;
    if (o->width > face->longest_side || o->height > face->longest_side ||
        o->width > face->longest_row / pixel)
        return mil_fail(ctx, MILORI_ERR_LIMIT,
                        "%s: %lu x %lu pixels are more than %s holds (%lu a side); choose another "
                        "--format or fewer pixels",
                        path, (unsigned long)o->width, (unsigned long)o->height, face->name,
                        (unsigned long)face->longest_side);
    return MILORI_OK;
}

/* A channel more or less and a profile is for another kind of picture. */
static const char *kind_of(int channels) {
    return channels == 1 ? "grey" : channels == 3 ? "RGB" : "CMYK";
}

/* ICC.1, 7.2: size, data colour space, signature. */
int mil_sink_profile_channels(const uint8_t *icc, size_t size) {
    uint32_t declared = size < 128 ? 0
                                   : (uint32_t)icc[0] << 24 | (uint32_t)icc[1] << 16 |
                                         (uint32_t)icc[2] << 8 | icc[3];
    if (declared == 0 || declared != size || memcmp(icc + 36, "acsp", 4) != 0)
        return 0;
    return memcmp(icc + 16, "GRAY", 4) == 0   ? 1
           : memcmp(icc + 16, "RGB ", 4) == 0 ? 3
           : memcmp(icc + 16, "CMYK", 4) == 0 ? 4
                                              : 0;
}

/* A profile for colour on a grey picture, or cut short, would be misread or
 * dropped by readers. */
static milori_status check_profile(milori_context *ctx, const char *path, const mil_sink_face *face,
                                   const mil_sink_options *o) {
    if (o->output_icc && !mil_sink_profile_channels(o->output_icc, o->output_icc_size))
        return mil_fail(ctx, MILORI_ERR_PROFILE,
                        "%s: the printer's profile is not a whole ICC profile for grey, RGB or "
                        "CMYK; choose another",
                        path);
    if (!o->icc)
        return MILORI_OK;
    if (mil_sink_profile_channels(o->icc, o->icc_size) != o->channels)
        return mil_fail(ctx, MILORI_ERR_PROFILE,
                        "%s: the output profile is not a whole ICC profile for %s pictures; choose "
                        "another",
                        path, kind_of(o->channels));
    if (o->icc_size > face->largest_icc)
        return mil_fail(ctx, MILORI_ERR_PROFILE,
                        "%s: the output profile is larger than %s holds; choose another --format",
                        path, face->name);
    return MILORI_OK;
}

static milori_status check(milori_context *ctx, const char *path, const mil_sink_face *face,
                           const mil_sink_options *o) {
    bool depth = o->bits == 8 || (o->bits == 16 && o->format != MILORI_JPEG);
    bool quality = o->format != MILORI_JPEG || (o->quality >= 1 && o->quality <= 100);
    bool channels = o->channels == 1 || o->channels == 3 || o->channels == 4;
    if (!face || !depth || !quality || !channels)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "%s: cannot be written with %d channels of %d bits, quality %d; choose 1, "
                        "3 or 4 channels, 8 bits (not JPEG: or 16), quality 1 to 100",
                        path, o->channels, o->bits, o->quality);
    if (o->channels == 4 && !face->four_inks)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "%s: milori writes CMYK as TIFF or PDF, not as %s; choose --format tiff or "
                        "pdf, or an RGB profile",
                        path, face->name);
    milori_status status = check_size(ctx, path, face, o);
    if (status == MILORI_OK)
        status = check_profile(ctx, path, face, o);
    if (status == MILORI_OK && o->xmp && o->xmp_size > face->largest_xmp)
        return mil_fail(ctx, MILORI_ERR_LIMIT,
                        "%s: the record of choices, %zu bytes, is larger than %s holds; choose "
                        "another --format",
                        path, o->xmp_size, face->name);
    return status;
}

milori_status mil_sink_open(milori_context *ctx, const char *path, const mil_sink_options *options,
                            mil_sink **sink) {
    *sink = NULL;
    const mil_sink_face *face = face_of(options->format);
    char *shown = mil_printable(path);
    milori_status status = check(ctx, shown ? shown : "the output", face, options);
    free(shown);
    if (status != MILORI_OK)
        return status;
    mil_sink *s = mil_alloc(ctx, 1, sizeof *s);
    if (!s)
        return MILORI_ERR_MEMORY;
    s->ctx = ctx;
    s->face = face;
    s->height = options->height;
    s->row_bytes = (size_t)options->width * (size_t)options->channels * (size_t)options->bits / 8;
    status = mil_transaction_open(ctx, path, options->replace, &s->transaction);
    if (status == MILORI_OK)
        status = face->open(s->transaction, options, &s->writer);
    if (status != MILORI_OK) {
        mil_sink_abort(s);
        return status;
    }
    *sink = s;
    return MILORI_OK;
}

milori_status mil_sink_write(mil_sink *s, uint32_t count, const void *rows) {
    if (s->status == MILORI_OK && count > s->height - s->written)
        s->status = mil_fail(s->ctx, MILORI_ERR_ARGUMENT, "more rows written than announced");
    if (s->status == MILORI_OK)
        s->status = s->face->rows(s->writer, count, rows);
    if (s->status == MILORI_OK)
        s->written += count;
    return s->status;
}

milori_status mil_sink_commit(mil_sink *s) {
    if (s->status == MILORI_OK && s->written != s->height)
        s->status = mil_fail(s->ctx, MILORI_ERR_ARGUMENT, "fewer rows written than announced");
    if (s->status == MILORI_OK)
        s->status = s->face->finish(s->writer);
    milori_status status = s->status;
    if (status == MILORI_OK) {
        s->face->close(s->writer);
        s->writer = NULL;
        status = mil_transaction_commit(s->transaction);
        s->transaction = NULL;
    }
    mil_sink_abort(s);
    return status;
}

void mil_sink_abort(mil_sink *s) {
    if (!s)
        return;
    if (s->writer)
        s->face->close(s->writer);
    mil_transaction_abort(s->transaction);
    free(s);
}
