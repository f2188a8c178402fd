/* TIFF through libtiff: opening, tags, pages. The rows are read_tiff_rows.c's. */
#include "scan/read_tiff.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { MOST_PAGES = 10000, LEAST_ALLOCATION = 16 << 20 };

tmsize_t mil_tiff_bytes(tiff_reader *r, uint64_t place, void *bytes, tmsize_t size) {
    tmsize_t have = 0;
    while (have < size) {
        ssize_t n = pread(fileno(r->source->file), (uint8_t *)bytes + have, (size_t)(size - have),
                          (off_t)(place + (uint64_t)have));
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return -1;
        if (n == 0)
            break;
        have += n;
    }
    return have;
}

static tmsize_t tiff_read(thandle_t data, void *bytes, tmsize_t size) {
    tiff_handle *h = data;
    tmsize_t n = mil_tiff_bytes(h->reader, h->place, bytes, size);
    h->place += n > 0 ? (uint64_t)n : 0;
    return n;
}

static tmsize_t tiff_write(thandle_t data, void *bytes, tmsize_t size) {
    (void)data, (void)bytes, (void)size;
    return -1;
}

static toff_t tiff_size(thandle_t data) {
    return ((tiff_handle *)data)->reader->source->file_size;
}

static toff_t tiff_seek(thandle_t data, toff_t offset, int whence) {
    tiff_handle *h = data;
    uint64_t from = whence == SEEK_SET ? 0 : whence == SEEK_CUR ? h->place : tiff_size(data);
    h->place = from + offset;
    return h->place > INT64_MAX ? (toff_t)-1 : h->place;
}

static int tiff_done(thandle_t data) {
    (void)data;
    return 0;
}

static void keep_message(tiff_reader *r, const char *format, va_list args) {
    if (!r->message[0])
        vsnprintf(r->message, sizeof r->message, format, args);
}

static int on_error(TIFF *tiff, void *data, const char *module, const char *format, va_list args) {
    (void)tiff, (void)module;
    tiff_reader *r = data;
    r->damaged = true;
    keep_message(r, format, args);
    return 1;
}

/* Codecs pad what is cut off and warn. The one harmless warning while decoding
 * is of a last strip that was compressed at full height. Of a tag that cannot be
 * read libtiff says '"ICC Profile"; tag ignored' and goes on. */
static int on_warning(TIFF *tiff, void *data, const char *module, const char *format,
                      va_list args) {
    tiff_reader *r = data;
    char text[256];
    if (r->reading && strncmp(format, "JPEG strip size exceeds", 23) != 0)
        return on_error(tiff, data, module, format, args);
    vsnprintf(text, sizeof text, format, args);
    r->profile_lost |= strstr(text, "ICC Profile") != NULL;
    return 1;
}

/* What libtiff said so far is not about what comes. */
static void forget(tiff_reader *r) {
    r->damaged = r->profile_lost = false;
    r->message[0] = 0;
}

milori_status mil_tiff_failure(tiff_reader *r) {
    return mil_source_damaged(r->source, r->message);
}

static tmsize_t most_allocation(const tiff_reader *r) {
    size_t limit = mil_memory_limit(r->source->ctx);
    return limit < LEAST_ALLOCATION            ? LEAST_ALLOCATION
           : limit > (size_t)TIFF_TMSIZE_T_MAX ? TIFF_TMSIZE_T_MAX
                                               : (tmsize_t)limit;
}

milori_status mil_tiff_handle_open(tiff_reader *r, tiff_handle *h) {
    TIFFOpenOptions *options = TIFFOpenOptionsAlloc();
    if (!options)
        return mil_fail(r->source->ctx, MILORI_ERR_MEMORY,
                        "%s: out of memory; close other programs", r->source->name);
    TIFFOpenOptionsSetMaxSingleMemAlloc(options, most_allocation(r));
    TIFFOpenOptionsSetErrorHandlerExtR(options, on_error, r);
    TIFFOpenOptionsSetWarningHandlerExtR(options, on_warning, r);
    h->reader = r;
    h->place = 0;
    /* m: no mapping, so that memory stays bounded; c: strips as they are. */
    h->tiff = TIFFClientOpenExt(r->source->name, "rmc", h, tiff_read, tiff_write, tiff_seek,
                                tiff_done, tiff_size, NULL, NULL, options);
    TIFFOpenOptionsFree(options);
    if (!h->tiff || (r->page && !TIFFSetDirectory(h->tiff, r->page)))
        return mil_tiff_failure(r);
    uint16_t compression;
    TIFFGetFieldDefaulted(h->tiff, TIFFTAG_COMPRESSION, &compression);
    if (compression == COMPRESSION_JPEG)
        TIFFSetField(h->tiff, TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
    /* Errors in tags that can be done without, say an orientation of 0. */
    r->damaged = false;
    r->message[0] = 0;
    return MILORI_OK;
}

void mil_tiff_handle_close(tiff_handle *h) {
    if (h->tiff)
        TIFFClose(h->tiff);
    h->tiff = NULL;
}

/* Smaller copies and masks of a picture are no pages. Leaves page at the first. */
static milori_status count_pages(tiff_reader *r, milori_notes *notes) {
    tiff_handle h = {0};
    milori_status status = mil_tiff_handle_open(r, &h);
    uint32_t pages = 0, directories = 0;
    if (status == MILORI_OK) {
        do {
            uint32_t kind = 0;
            TIFFGetFieldDefaulted(h.tiff, TIFFTAG_SUBFILETYPE, &kind);
            if (kind & (FILETYPE_REDUCEDIMAGE | FILETYPE_MASK))
                continue;
            if (pages++ == 0)
                r->page = TIFFCurrentDirectory(h.tiff);
        } while (++directories < MOST_PAGES && TIFFReadDirectory(h.tiff));
        r->source->info.pages = pages ? pages : 1;
        forget(r); /* a later page that is broken does not matter */
    }
    mil_tiff_handle_close(&h);
    if (pages > 1)
        mil_note(notes, "pages", "%u pages; the first is used", pages);
    return status;
}

static milori_status refuse_photometric(mil_source *s, uint16_t photometric) {
    char text[48];
    switch (photometric) {
    case PHOTOMETRIC_SEPARATED:
        return mil_source_refuse(s, "a CMYK TIFF");
    case PHOTOMETRIC_CIELAB:
    case PHOTOMETRIC_ICCLAB:
    case PHOTOMETRIC_ITULAB:
        return mil_source_refuse(s, "a CIELAB TIFF");
    case PHOTOMETRIC_YCBCR:
        return mil_source_refuse(s, "a YCbCr TIFF without ordinary JPEG compression");
    case PHOTOMETRIC_CFA:
    case 34892: /* LinearRaw of DNG */
        return mil_source_refuse(s, "a camera's raw file");
    default:
        snprintf(text, sizeof text, "a TIFF of colour kind %u", photometric);
        return mil_source_refuse(s, text);
    }
}

static milori_status check_samples(tiff_reader *r, TIFF *tiff) {
    uint16_t bits, format;
    char text[64];
    TIFFGetFieldDefaulted(tiff, TIFFTAG_BITSPERSAMPLE, &bits);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLEFORMAT, &format);
    if (format == SAMPLEFORMAT_IEEEFP)
        return mil_source_refuse(r->source, "a floating point TIFF");
    if (format != SAMPLEFORMAT_UINT && format != SAMPLEFORMAT_VOID)
        return mil_source_refuse(r->source, "a TIFF of signed or complex samples");
    if (bits != 1 && bits != 2 && bits != 4 && bits != 8 && bits != 16) {
        snprintf(text, sizeof text, "a TIFF of %u bits a sample", bits);
        return mil_source_refuse(r->source, text);
    }
    r->layout.bits = bits;
    r->source->info.bits = bits == 16 ? 16 : 8;
    return MILORI_OK;
}

/* Palettes of old writers hold 8 bit values. */
static milori_status take_palette(tiff_reader *r, TIFF *tiff) {
    uint16_t *map[3];
    size_t entries = (size_t)1 << r->layout.bits;
    if (!TIFFGetField(tiff, TIFFTAG_COLORMAP, &map[0], &map[1], &map[2]))
        return mil_source_damaged(r->source, "no colour map");
    uint16_t *palette = mil_alloc(r->source->ctx, 3 * entries, sizeof *palette);
    if (!palette)
        return MILORI_ERR_MEMORY;
    unsigned most = 0;
    for (size_t i = 0; i < 3 * entries; i++) {
        palette[i] = map[i / entries][i % entries];
        most = palette[i] > most ? palette[i] : most;
    }
    for (size_t i = 0; i < 3 * entries && most < 256; i++)
        palette[i] = (uint16_t)(palette[i] * 257);
    r->layout.palette = palette;
    return MILORI_OK;
}

static milori_status take_photometric(tiff_reader *r, TIFF *tiff) {
    uint16_t photometric;
    if (!TIFFGetField(tiff, TIFFTAG_PHOTOMETRIC, &photometric))
        return mil_source_refuse(r->source, "a TIFF that does not say its kind of colour");
    bool jpeg = r->compression == COMPRESSION_JPEG && r->layout.bits == 8 && !r->separate;
    r->layout.colours = 1;
    switch (photometric) {
    case PHOTOMETRIC_MINISWHITE:
        r->layout.inverted = true;
        return MILORI_OK;
    case PHOTOMETRIC_MINISBLACK:
        return MILORI_OK;
    case PHOTOMETRIC_PALETTE:
        return take_palette(r, tiff);
    case PHOTOMETRIC_YCBCR:
        if (!jpeg)
            return refuse_photometric(r->source, photometric);
        r->layout.colours = 3;
        return MILORI_OK;
    case PHOTOMETRIC_RGB:
        r->layout.colours = 3;
        return MILORI_OK;
    default:
        return refuse_photometric(r->source, photometric);
    }
}

/* Extra samples that are not alpha are left out. */
static milori_status take_extras(tiff_reader *r, TIFF *tiff, milori_notes *notes) {
    uint16_t samples, count = 0, *kind = NULL;
    mil_layout *l = &r->layout;
    TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLESPERPIXEL, &samples);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_EXTRASAMPLES, &count, &kind);
    if (samples < l->colours)
        return mil_source_damaged(r->source, "too few samples a pixel");
    l->samples = r->stored_samples = samples;
    for (uint16_t i = 0; i < count && l->colours + i < samples && !l->palette; i++)
        if (!l->alpha && (kind[i] == EXTRASAMPLE_ASSOCALPHA || kind[i] == EXTRASAMPLE_UNASSALPHA)) {
            l->alpha = l->colours + i;
            l->associated = kind[i] == EXTRASAMPLE_ASSOCALPHA;
        }
    if (l->alpha)
        mil_source_note_alpha(notes);
    return MILORI_OK;
}

/* Which samples are read: all together, or each that is used from its plane. */
static void take_planes(tiff_reader *r) {
    mil_layout *l = &r->layout;
    r->planes = 1;
    r->plane[0] = 0;
    if (!r->separate)
        return;
    for (uint32_t c = 0; c < l->colours; c++)
        r->plane[c] = (uint16_t)c;
    r->planes = l->colours;
    if (l->alpha) {
        r->plane[r->planes++] = (uint16_t)l->alpha;
        l->alpha = l->colours;
    }
    l->samples = r->planes;
}

static void take_resolution(mil_source *s, TIFF *tiff) {
    uint16_t unit = RESUNIT_INCH;
    const uint32_t tag[2] = {TIFFTAG_XRESOLUTION, TIFFTAG_YRESOLUTION};
    TIFFGetFieldDefaulted(tiff, TIFFTAG_RESOLUTIONUNIT, &unit);
    for (int i = 0; i < 2 && unit != RESUNIT_NONE; i++) {
        float value;
        if (TIFFGetField(tiff, tag[i], &value) && isfinite(value) && value > 0)
            s->info.dpi[i] = unit == RESUNIT_CENTIMETER ? 2.54 * (double)value : (double)value;
    }
}

static milori_status take_metadata(mil_source *s, TIFF *tiff) {
    uint16_t orientation = 1;
    uint32_t size;
    void *bytes;
    const char *software;
    milori_status status = MILORI_OK;
    TIFFGetFieldDefaulted(tiff, TIFFTAG_ORIENTATION, &orientation);
    if (orientation >= 1 && orientation <= 8)
        s->info.orientation = orientation;
    take_resolution(s, tiff);
    if (TIFFGetField(tiff, TIFFTAG_ICCPROFILE, &size, &bytes))
        status = mil_source_keep_icc(s, bytes, size);
    else if (((tiff_reader *)s->codec)->profile_lost)
        status = mil_fail(s->ctx, MILORI_ERR_PROFILE,
                          "%s: its ICC profile is broken (its tag cannot be read); assign the "
                          "profile again",
                          s->name);
    if (status == MILORI_OK && TIFFGetField(tiff, TIFFTAG_XMLPACKET, &size, &bytes))
        status = mil_source_keep_xmp(s, bytes, size);
    if (status == MILORI_OK && TIFFGetField(tiff, TIFFTAG_SOFTWARE, &software))
        status = mil_source_keep_software(s, software, strlen(software));
    return status;
}

static milori_status check_compression(tiff_reader *r, TIFF *tiff) {
    char text[64];
    TIFFGetFieldDefaulted(tiff, TIFFTAG_COMPRESSION, &r->compression);
    uint16_t c = r->compression;
    if (!TIFFIsCODECConfigured(c) || c == COMPRESSION_OJPEG || c == COMPRESSION_SGILOG ||
        c == COMPRESSION_SGILOG24) {
        snprintf(text, sizeof text, "a TIFF of compression %u", c);
        return mil_source_refuse(r->source, text);
    }
    r->source->info.lossy = c == COMPRESSION_JPEG || c == COMPRESSION_WEBP;
    return MILORI_OK;
}

static milori_status take_header(tiff_reader *r, TIFF *tiff, milori_notes *notes) {
    uint32_t width = 0, height = 0;
    uint16_t planar;
    TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &width);
    TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &height);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_PLANARCONFIG, &planar);
    r->tiled = TIFFIsTiled(tiff) != 0;
    milori_status status = mil_source_size(r->source, width, height);
    if (status == MILORI_OK)
        status = check_compression(r, tiff);
    if (status == MILORI_OK)
        status = check_samples(r, tiff);
    r->separate = planar == PLANARCONFIG_SEPARATE;
    if (status == MILORI_OK)
        status = take_photometric(r, tiff);
    if (status == MILORI_OK)
        status = take_extras(r, tiff, notes);
    if (status == MILORI_OK)
        status = take_metadata(r->source, tiff);
    take_planes(r);
    r->source->info.channels = (int)mil_layout_channels(&r->layout);
    return status;
}

static milori_status tiff_open(mil_source *s, milori_notes *notes) {
    tiff_reader *r = s->codec = mil_alloc(s->ctx, 1, sizeof *r);
    if (!r)
        return MILORI_ERR_MEMORY;
    r->source = s;
    milori_status status = count_pages(r, notes);
    if (status == MILORI_OK)
        status = mil_tiff_handle_open(r, &r->handle[0]);
    if (status == MILORI_OK)
        status = take_header(r, r->handle[0].tiff, notes);
    if (status == MILORI_OK)
        status = mil_tiff_rows_prepare(r);
    return status;
}

static void close_handles(tiff_reader *r) {
    for (int i = 0; i < TIFF_PLANES; i++)
        mil_tiff_handle_close(&r->handle[i]);
}

/* The tags were trusted once; opened again they must say the same, since the
 * buffers were sized by them. */
static bool same_file(const tiff_reader *r, TIFF *tiff) {
    uint32_t width = 0, height = 0;
    uint16_t samples = 0, bits = 0, planar = 0;
    TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &width);
    TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &height);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLESPERPIXEL, &samples);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_BITSPERSAMPLE, &bits);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_PLANARCONFIG, &planar);
    return width == r->source->info.width && height == r->source->info.height &&
           bits == r->layout.bits && samples == r->stored_samples &&
           r->separate == (planar == PLANARCONFIG_SEPARATE) && mil_tiff_rows_fit(r, tiff);
}

static milori_status tiff_rewind(mil_source *s) {
    tiff_reader *r = s->codec;
    close_handles(r);
    r->next = r->tile_row = 0;
    r->reading = false;
    forget(r);
    for (uint32_t p = 0; p < r->handles; p++) {
        milori_status status = mil_tiff_handle_open(r, &r->handle[p]);
        if (status != MILORI_OK)
            return status;
        if (!same_file(r, r->handle[p].tiff))
            return mil_source_damaged(s, "changed while it was read");
    }
    return MILORI_OK;
}

static void tiff_close(mil_source *s) {
    tiff_reader *r = s->codec;
    if (!r)
        return;
    close_handles(r);
    mil_tiff_rows_free(r);
    free(r->layout.palette);
    free(r);
}

const mil_reader mil_reader_tiff = {tiff_open, mil_tiff_rows_read, tiff_rewind, tiff_close};
