/* PDF 1.7 (ISO 32000-1): one page, one picture at its true size.
 *
 * Written here rather than through qpdf, whose C interface takes a stream only as one block of
 * memory, of which it keeps a copy (qpdf_oh_replace_stream_data()), or from a PDF file that is
 * there already. So rows go straight to the file, and what is held is a few rows.
 *
 * No level of PDF/X is claimed. That would be done by GTS_PDFXVersion in the information
 * dictionary (ISO 15930), which is not written. The subtype of the output intent still has to be
 * one of three (table 365): for print, archive or engineering drawings; GTS_PDFX is that for print,
 * and the one that readers of output intents look for. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <xxhash.h>
#include <zlib.h>

#include "scan/sink_face.h"

/* As for PNG: the same filters before the same compression. */
#define LEVEL 3
#define BUFFER_SIZE ((size_t)64 << 10)
/* ISO 32000-1, annex C: the longest side of a page in points, the largest integer. */
#define LONGEST_PAGE 14400
#define LARGEST_STREAM INT32_MAX

/* Numbers of the objects; those that are not needed are free in the table. */
enum {
    CATALOG = 1,
    PAGES,
    PAGE,
    CONTENTS,
    INFO,
    PROFILE,
    PRINTER,
    METADATA,
    IMAGE,
    IMAGE_LENGTH,
    OBJECTS
};

typedef struct writer {
    mil_transaction *tx;
    uint64_t place[OBJECTS]; /* 0: not there */
    uint64_t stream_start;
    size_t row_bytes, pixel_bytes;
    bool swap; /* samples are 16 bit and this machine's low byte is first */
    bool deflating;
    z_stream z;
    XXH3_state_t *hash;              /* of what is written, for the file's identifier */
    uint8_t *row, *above, *sub, *up; /* one row, the one before, the filtered two */
    uint8_t *out;
} writer;

/* Failures stick in the transaction and are looked at where a function ends. */
static void put(writer *w, const void *bytes, size_t size) {
    XXH3_128bits_update(w->hash, bytes, size);
    mil_transaction_write(w->tx, bytes, size);
}

static void say(writer *w, const char *format, ...) MIL_PRINTF(2, 3);
static void say(writer *w, const char *format, ...) {
    char text[1024];
    va_list args;
    va_start(args, format);
    int n = vsnprintf(text, sizeof text, format, args);
    va_end(args);
    put(w, text, n < 0 ? 0 : (size_t)n < sizeof text ? (size_t)n : sizeof text - 1);
}

static milori_status state(writer *w, const char *codec_reason) {
    return codec_reason || !mil_transaction_write(w->tx, "", 0)
               ? mil_transaction_fail(w->tx, codec_reason)
               : MILORI_OK;
}

static void begin(writer *w, int object) {
    w->place[object] = mil_transaction_place(w->tx);
    say(w, "%d 0 obj\n", object);
}

static void end(writer *w) {
    say(w, "endobj\n");
}

/* Points with five decimals, in no locale, without an exponent. */
static void point_text(double points, char text[32]) {
    long long parts = llround(points * 1e5);
    snprintf(text, 32, "%lld.%05lld", parts / 100000, parts % 100000);
}

/* A text string: UTF-16 with its mark, in hexadecimal (7.9.2.2, 7.3.4.3). */
static void say_text(writer *w, const char *utf8) {
    say(w, "<FEFF");
    uint32_t code;
    for (size_t n; *utf8 && (n = mil_utf8(utf8, &code)); utf8 += n)
        if (code > 0xffff)
            say(w, "%04X%04X", 0xd800 + (code - 0x10000) / 0x400,
                0xdc00 + (code - 0x10000) % 0x400);
        else
            say(w, "%04X", code);
    say(w, ">");
}

static bool same_profile(const mil_sink_options *o) {
    return o->icc && o->icc_size == o->output_icc_size &&
           memcmp(o->icc, o->output_icc, o->icc_size) == 0;
}

static void put_catalog(writer *w, const mil_sink_options *o) {
    begin(w, CATALOG);
    say(w, "<< /Type /Catalog /Pages %d 0 R", PAGES);
    if (o->xmp)
        say(w, " /Metadata %d 0 R", METADATA);
    if (o->output_icc) {
        say(w, " /OutputIntents [ << /Type /OutputIntent /S /GTS_PDFX"
               " /OutputConditionIdentifier (Custom) /Info ");
        say_text(w, o->output_name && *o->output_name ? o->output_name : "printer profile");
        say(w, " /DestOutputProfile %d 0 R >> ]", same_profile(o) ? PROFILE : PRINTER);
    }
    say(w, " >>\n");
    end(w);
}

static void put_page(writer *w, const char *wide, const char *high) {
    begin(w, PAGES);
    say(w, "<< /Type /Pages /Kids [ %d 0 R ] /Count 1 >>\n", PAGE);
    end(w);
    begin(w, PAGE);
    say(w,
        "<< /Type /Page /Parent %d 0 R /MediaBox [ 0 0 %s %s ] /Contents %d 0 R"
        " /Resources << /XObject << /Picture %d 0 R >> >> >>\n",
        PAGES, wide, high, CONTENTS, IMAGE);
    end(w);
    char drawing[128];
    snprintf(drawing, sizeof drawing, "q %s 0 0 %s 0 0 cm /Picture Do Q", wide, high);
    begin(w, CONTENTS);
    say(w, "<< /Length %zu >>\nstream\n%s\nendstream\n", strlen(drawing), drawing);
    end(w);
    begin(w, INFO);
    say(w, "<< /Producer (milori " MILORI_VERSION ") >>\n");
    end(w);
}

static const char *device_space(int channels) {
    return channels == 1 ? "/DeviceGray" : channels == 3 ? "/DeviceRGB" : "/DeviceCMYK";
}

static milori_status put_profile(writer *w, int object, const uint8_t *icc, size_t size) {
    uLongf packed_size = compressBound(size);
    uint8_t *packed = mil_alloc(mil_transaction_context(w->tx), packed_size, 1);
    if (!packed)
        return MILORI_ERR_MEMORY;
    bool good = compress2(packed, &packed_size, icc, size, 6) == Z_OK;
    int channels = mil_sink_profile_channels(icc, size);
    begin(w, object);
    say(w, "<< /N %d /Alternate %s /Filter /FlateDecode /Length %lu >>\nstream\n", channels,
        device_space(channels), packed_size);
    if (good)
        put(w, packed, packed_size);
    say(w, "\nendstream\n");
    end(w);
    free(packed);
    return state(w, good ? NULL : "zlib takes no profile");
}

/* Left as it is, so that programs which know nothing of PDF find it (14.3.2). */
static void put_metadata(writer *w, const mil_sink_options *o) {
    begin(w, METADATA);
    say(w, "<< /Type /Metadata /Subtype /XML /Length %zu >>\nstream\n", o->xmp_size);
    put(w, o->xmp, o->xmp_size);
    say(w, "\nendstream\n");
    end(w);
}

static void begin_image(writer *w, const mil_sink_options *o) {
    begin(w, IMAGE);
    say(w,
        "<< /Type /XObject /Subtype /Image /Width %lu /Height %lu /BitsPerComponent %d"
        " /ColorSpace ",
        (unsigned long)o->width, (unsigned long)o->height, o->bits);
    if (o->icc)
        say(w, "[ /ICCBased %d 0 R ]", PROFILE);
    else
        say(w, "%s", device_space(o->channels));
    say(w,
        " /Filter /FlateDecode /DecodeParms << /Predictor 15 /Colors %d /BitsPerComponent %d"
        " /Columns %lu >> /Length %d 0 R >>\nstream\n",
        o->channels, o->bits, (unsigned long)o->width, IMAGE_LENGTH);
    w->stream_start = mil_transaction_place(w->tx);
}

static milori_status check_page(mil_transaction *tx, double wide, double high) {
    double longest = fmax(wide, high);
    if (longest <= LONGEST_PAGE)
        return MILORI_OK;
    return mil_fail(mil_transaction_context(tx), MILORI_ERR_LIMIT,
                    "%s: a side of %.2f m is longer than a page of PDF may be (%.2f m); choose "
                    "another --format or a smaller size",
                    mil_transaction_name(tx), longest / 72 * .0254, LONGEST_PAGE / 72 * .0254);
}

static milori_status take_memory(writer *w) {
    milori_context *ctx = mil_transaction_context(w->tx);
    w->row = mil_alloc(ctx, w->row_bytes, 1);
    w->above = mil_alloc(ctx, w->row_bytes, 1);
    w->sub = mil_alloc(ctx, w->row_bytes + 1, 1);
    w->up = mil_alloc(ctx, w->row_bytes + 1, 1);
    w->out = mil_alloc(ctx, BUFFER_SIZE, 1);
    w->hash = XXH3_createState();
    w->deflating = deflateInit(&w->z, LEVEL) == Z_OK;
    if (!w->row || !w->above || !w->sub || !w->up || !w->out)
        return MILORI_ERR_MEMORY;
    if (!w->hash || !w->deflating || XXH3_128bits_reset(w->hash) != XXH_OK)
        return mil_fail(ctx, MILORI_ERR_MEMORY,
                        "out of memory: close other programs and try again");
    return MILORI_OK;
}

static milori_status open_pdf(mil_transaction *tx, const mil_sink_options *o, void **made) {
    const uint16_t one = 1;
    double dpi = o->dpi > 0 ? o->dpi : 72; /* a pixel a point */
    double wide = o->width * 72 / dpi, high = o->height * 72 / dpi;
    milori_status status = check_page(tx, wide, high);
    writer *w = status == MILORI_OK ? mil_alloc(mil_transaction_context(tx), 1, sizeof *w) : NULL;
    if (!w)
        return status == MILORI_OK ? MILORI_ERR_MEMORY : status;
    *made = w;
    w->tx = tx;
    w->pixel_bytes = (size_t)o->channels * (size_t)o->bits / 8;
    w->row_bytes = (size_t)o->width * w->pixel_bytes;
    w->swap = o->bits == 16 && *(const uint8_t *)&one == 1;
    status = take_memory(w);
    if (status != MILORI_OK)
        return status;
    char wide_text[32], high_text[32];
    point_text(wide, wide_text);
    point_text(high, high_text);
    say(w, "%%PDF-1.7\n%%\xe2\xe3\xcf\xd3\n"); /* bytes above 127: not a text (7.5.2) */
    put_catalog(w, o);
    put_page(w, wide_text, high_text);
    if (o->icc)
        status = put_profile(w, PROFILE, o->icc, o->icc_size);
    if (status == MILORI_OK && o->output_icc && !same_profile(o))
        status = put_profile(w, PRINTER, o->output_icc, o->output_icc_size);
    if (o->xmp)
        put_metadata(w, o);
    begin_image(w, o);
    return status == MILORI_OK ? state(w, NULL) : status;
}

static milori_status compress_on(writer *w, const uint8_t *bytes, size_t size, int flush) {
    w->z.next_in = (Bytef *)(uintptr_t)bytes; /* only read */
    w->z.avail_in = (uInt)size;
    int said;
    do {
        w->z.next_out = w->out;
        w->z.avail_out = BUFFER_SIZE;
        said = deflate(&w->z, flush);
        put(w, w->out, BUFFER_SIZE - w->z.avail_out);
    } while (w->z.avail_out == 0 && said == Z_OK);
    if (mil_transaction_place(w->tx) - w->stream_start > LARGEST_STREAM)
        return mil_fail(mil_transaction_context(w->tx), MILORI_ERR_LIMIT,
                        "%s: the picture is larger than PDF holds (2 GiB); choose another --format "
                        "or fewer pixels",
                        mil_transaction_name(w->tx));
    bool good = said == (flush == Z_FINISH ? Z_STREAM_END : Z_OK) || said == Z_BUF_ERROR;
    return state(w, good ? NULL : "zlib gave no reason");
}

/* Bytes from 0 either way: what is left to compress, roughly. */
static size_t weight(const uint8_t *bytes, size_t count) {
    size_t sum = 0;
    for (size_t i = 0; i < count; i++)
        sum += bytes[i] < 128 ? bytes[i] : 256u - bytes[i];
    return sum;
}

/* PNG's filters Sub and Up (ISO 15948, 9.2), each with its number before it. */
static const uint8_t *filter(writer *w) {
    w->sub[0] = 1, w->up[0] = 2;
    for (size_t i = 0; i < w->row_bytes; i++) {
        uint8_t left = i < w->pixel_bytes ? 0 : w->row[i - w->pixel_bytes];
        w->sub[1 + i] = (uint8_t)(w->row[i] - left);
        w->up[1 + i] = (uint8_t)(w->row[i] - w->above[i]);
    }
    return weight(w->sub + 1, w->row_bytes) < weight(w->up + 1, w->row_bytes) ? w->sub : w->up;
}

static milori_status put_rows(void *writer_, uint32_t count, const uint8_t *rows) {
    writer *w = writer_;
    milori_status status = MILORI_OK;
    for (; count > 0 && status == MILORI_OK; count--, rows += w->row_bytes) {
        for (size_t i = 0; i < w->row_bytes; i++) /* high byte first */
            w->row[i] = rows[w->swap ? i ^ 1 : i];
        status = compress_on(w, filter(w), w->row_bytes + 1, Z_NO_FLUSH);
        uint8_t *above = w->above;
        w->above = w->row;
        w->row = above;
    }
    return status;
}

/* Entries of 20 bytes (7.5.4); the free ones point from one to the next. */
static void put_table(writer *w) {
    say(w, "xref\n0 %d\n", OBJECTS);
    for (int i = 0; i < OBJECTS; i++) {
        int next = i + 1;
        while (next < OBJECTS && w->place[next])
            next++;
        if (w->place[i])
            say(w, "%010llu 00000 n \n", (unsigned long long)w->place[i]);
        else
            say(w, "%010d %05d f \n", next == OBJECTS ? 0 : next, i == 0 ? 65535 : 0);
    }
}

static milori_status finish(void *writer_) {
    writer *w = writer_;
    milori_status status = compress_on(w, NULL, 0, Z_FINISH);
    if (status != MILORI_OK)
        return status;
    uint64_t length = mil_transaction_place(w->tx) - w->stream_start;
    say(w, "\nendstream\n");
    end(w);
    begin(w, IMAGE_LENGTH);
    say(w, "%llu\n", (unsigned long long)length);
    end(w);
    uint64_t table = mil_transaction_place(w->tx);
    put_table(w);
    /* The same file, the same identifier. */
    XXH128_canonical_t id;
    XXH128_canonicalFromHash(&id, XXH3_128bits_digest(w->hash));
    char hex[2 * sizeof id.digest + 1];
    for (size_t i = 0; i < sizeof id.digest; i++)
        snprintf(hex + 2 * i, 3, "%02x", id.digest[i]);
    say(w, "trailer\n<< /Size %d /Root %d 0 R /Info %d 0 R /ID [ <%s> <%s> ] >>\n", OBJECTS,
        CATALOG, INFO, hex, hex);
    say(w, "startxref\n%llu\n%%%%EOF\n", (unsigned long long)table);
    return state(w, NULL);
}

static void close_pdf(void *writer_) {
    writer *w = writer_;
    if (w->deflating)
        deflateEnd(&w->z);
    XXH3_freeState(w->hash);
    free(w->row);
    free(w->above);
    free(w->sub);
    free(w->up);
    free(w->out);
    free(w);
}

const mil_sink_face mil_pdf_face = {
    .name = "PDF",
    .four_inks = true,
    .longest_side = INT32_MAX,
    .longest_row = INT32_MAX,
    .largest_icc = INT32_MAX,
    .largest_xmp = INT32_MAX,
    .open = open_pdf,
    .rows = put_rows,
    .finish = finish,
    .close = close_pdf,
};
