/* TIFF 6.0 through libtiff: strips, Deflate with horizontal differencing. */
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <tiffio.h>

#include "scan/sink_face.h"

/* A strip is what a reader must hold: about 1 MiB, and no more than 256 rows. */
#define STRIP_BYTES ((size_t)1 << 20)
#define STRIP_ROWS 256
/* Classic TIFF has 32 bit offsets; noise hardly shrinks, so room is left. */
#define CLASSIC_BYTES ((uint64_t)7 << 29)
/* Measured on a 3000 x 3000 picture with grain (libdeflate), CPU time and size:
 * 16 bit RGB neutral: level 1 0.20 s 39.5 %, 4 0.46 s 34.7 %, 6 0.60 s 34.7 %,
 * 9 1.59 s 34.6 %; 8 bit: 4 0.26 s 33.0 %, 6 0.99 s 31.7 %, 9 3.25 s 29.3 %. */
#define LEVEL 4

typedef struct writer {
    mil_transaction *tx;
    TIFF *tif;
    uint8_t *strip;
    size_t row_bytes;
    uint32_t strip_rows, filled, next;
    char said[200]; /* libtiff's first complaint */
} writer;

static tmsize_t proc_read(thandle_t handle, void *bytes, tmsize_t size) {
    (void)handle, (void)bytes, (void)size;
    return -1; /* a file being written is not read */
}

static tmsize_t proc_write(thandle_t handle, void *bytes, tmsize_t size) {
    writer *w = handle;
    return size >= 0 && mil_transaction_write(w->tx, bytes, (size_t)size) ? size : -1;
}

static toff_t proc_seek(thandle_t handle, toff_t place, int whence) {
    writer *w = handle;
    if (whence == SEEK_CUR)
        place += mil_transaction_place(w->tx);
    else if (whence == SEEK_END)
        place += mil_transaction_size(w->tx);
    return mil_transaction_seek(w->tx, place) ? place : (toff_t)-1;
}

static int proc_close(thandle_t handle) {
    (void)handle;
    return 0; /* the transaction closes */
}

static toff_t proc_size(thandle_t handle) {
    writer *w = handle;
    return mil_transaction_size(w->tx);
}

static int keep_error(TIFF *tif, void *data, const char *module, const char *format, va_list args) {
    (void)tif, (void)module;
    writer *w = data;
    if (!w->said[0])
        vsnprintf(w->said, sizeof w->said, format, args);
    return 1; /* not on to the global handler, which prints */
}

static int drop_warning(TIFF *tif, void *data, const char *module, const char *format,
                        va_list args) {
    (void)tif, (void)data, (void)module, (void)format, (void)args;
    return 1;
}

static milori_status fail(writer *w) {
    return mil_transaction_fail(w->tx, w->said[0] ? w->said : "libtiff gave no reason");
}

static TIFF *open_client(writer *w, bool big) {
    TIFFOpenOptions *how = TIFFOpenOptionsAlloc();
    if (!how)
        return NULL;
    TIFFOpenOptionsSetErrorHandlerExtR(how, keep_error, w);
    TIFFOpenOptionsSetWarningHandlerExtR(how, drop_warning, w);
    /* l: the same bytes from every machine; 8: BigTIFF. */
    TIFF *tif = TIFFClientOpenExt("output", big ? "wl8" : "wl", w, proc_read, proc_write, proc_seek,
                                  proc_close, proc_size, NULL, NULL, how);
    TIFFOpenOptionsFree(how);
    return tif;
}

/* TIFF 6.0, section 16: CMYK is separated, 0 no ink. */
static int photometric_of(int channels) {
    return channels == 1   ? PHOTOMETRIC_MINISBLACK
           : channels == 3 ? PHOTOMETRIC_RGB
                           : PHOTOMETRIC_SEPARATED;
}

static bool set_tags(writer *w, const mil_sink_options *o) {
    TIFF *t = w->tif;
    bool ok = TIFFSetField(t, TIFFTAG_IMAGEWIDTH, o->width) &&
              TIFFSetField(t, TIFFTAG_IMAGELENGTH, o->height) &&
              TIFFSetField(t, TIFFTAG_BITSPERSAMPLE, o->bits) &&
              TIFFSetField(t, TIFFTAG_SAMPLESPERPIXEL, o->channels) &&
              TIFFSetField(t, TIFFTAG_PHOTOMETRIC, photometric_of(o->channels)) &&
              TIFFSetField(t, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG) &&
              TIFFSetField(t, TIFFTAG_ORIENTATION, ORIENTATION_TOPLEFT) &&
              TIFFSetField(t, TIFFTAG_ROWSPERSTRIP, w->strip_rows) &&
              TIFFSetField(t, TIFFTAG_COMPRESSION, COMPRESSION_ADOBE_DEFLATE) &&
              TIFFSetField(t, TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL) &&
              TIFFSetField(t, TIFFTAG_ZIPQUALITY, LEVEL) &&
              TIFFSetField(t, TIFFTAG_SOFTWARE, "milori " MILORI_VERSION);
    if (ok && o->channels == 4)
        ok = TIFFSetField(t, TIFFTAG_INKSET, INKSET_CMYK);
    if (ok && o->dpi > 0)
        ok = TIFFSetField(t, TIFFTAG_RESOLUTIONUNIT, RESUNIT_INCH) &&
             TIFFSetField(t, TIFFTAG_XRESOLUTION, o->dpi) &&
             TIFFSetField(t, TIFFTAG_YRESOLUTION, o->dpi);
    if (ok && o->icc)
        ok = TIFFSetField(t, TIFFTAG_ICCPROFILE, (uint32_t)o->icc_size, o->icc);
    if (ok && o->xmp)
        ok = TIFFSetField(t, TIFFTAG_XMLPACKET, (uint32_t)o->xmp_size, o->xmp);
    return ok;
}

static milori_status open_tiff(mil_transaction *tx, const mil_sink_options *o, void **made) {
    writer *w = mil_alloc(mil_transaction_context(tx), 1, sizeof *w);
    if (!w)
        return MILORI_ERR_MEMORY;
    *made = w;
    w->tx = tx;
    w->row_bytes = (size_t)o->width * (size_t)o->channels * (size_t)o->bits / 8;
    size_t rows = STRIP_BYTES / w->row_bytes;
    rows = rows < 1 ? 1 : rows > STRIP_ROWS ? STRIP_ROWS : rows;
    w->strip_rows = rows > o->height ? o->height : (uint32_t)rows;
    w->strip = mil_alloc(mil_transaction_context(tx), w->strip_rows, w->row_bytes);
    if (!w->strip)
        return MILORI_ERR_MEMORY;
    w->tif = open_client(w, o->height > CLASSIC_BYTES / w->row_bytes);
    return w->tif && set_tags(w, o) ? MILORI_OK : fail(w);
}

/* Whole strips, since libtiff hands only those to libdeflate, which is much
 * quicker than zlib. */
static bool put_strip(writer *w) {
    tmsize_t size = (tmsize_t)(w->row_bytes * w->filled);
    bool ok = TIFFWriteEncodedStrip(w->tif, w->next++, w->strip, size) == size;
    w->filled = 0;
    return ok;
}

static milori_status put_rows(void *writer_, uint32_t count, const uint8_t *rows) {
    writer *w = writer_;
    while (count > 0) {
        uint32_t room = w->strip_rows - w->filled;
        uint32_t n = count < room ? count : room;
        memcpy(w->strip + w->row_bytes * w->filled, rows, w->row_bytes * n);
        w->filled += n;
        rows += w->row_bytes * n;
        count -= n;
        if (w->filled == w->strip_rows && !put_strip(w))
            return fail(w);
    }
    return MILORI_OK;
}

/* TIFFClose() tells nothing, so all is written before it. */
static milori_status finish(void *writer_) {
    writer *w = writer_;
    if (w->filled > 0 && !put_strip(w))
        return fail(w);
    return TIFFWriteDirectory(w->tif) ? MILORI_OK : fail(w);
}

static void close_tiff(void *writer_) {
    writer *w = writer_;
    if (w->tif)
        TIFFClose(w->tif);
    free(w->strip);
    free(w);
}

const mil_sink_face mil_tiff_face = {
    .name = "TIFF",
    .four_inks = true,
    .longest_side = INT32_MAX,
    .longest_row = INT32_MAX,
    .largest_icc = INT32_MAX,
    .largest_xmp = INT32_MAX,
    .open = open_tiff,
    .rows = put_rows,
    .finish = finish,
    .close = close_tiff,
};
