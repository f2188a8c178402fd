/* PNG through libpng. */
#include <stdlib.h>
#include <string.h>

#include <png.h>

#include "scan/exif.h"
#include "scan/source_pixels.h"
#include "scan/source_reader.h"

enum {
    MOST_SIDE = 0x7fffffff, /* PNG's own; the pixel limit does the rest */
    /* Chunks that are not pixels, inflated, are in memory uncharged: bytes of one, and how many. */
    MOST_CHUNK = 8 << 20,
    MOST_CHUNKS = 32
};

typedef enum phase { HEADER, PIXELS, END } phase;

typedef struct png_reader {
    png_structp png;
    png_infop info;
    phase phase;
    char message[160]; /* the first error or warning of damage */
    char profile[160]; /* the first warning about a profile */
    bool damaged;      /* a warning that means damage */
    mil_layout layout;
    size_t row_bytes; /* after libpng's transforms */
    int passes;       /* 7 if interlaced, else 1 */
    uint8_t *row;     /* one row; of an interlaced file all rows */
    uint32_t next;
    bool whole; /* row holds the whole interlaced picture */
} png_reader;

static void keep(char *text, size_t size, const char *message) {
    if (!text[0])
        snprintf(text, size, "%s", message);
}

static void on_error(png_structp png, png_const_charp message) {
    png_reader *r = png_get_error_ptr(png);
    keep(r->message, sizeof r->message, message);
    png_longjmp(png, 1);
}

/* libpng drops a profile it does not like, and pads some damage, with no more
 * than a warning. */
static void on_warning(png_structp png, png_const_charp message) {
    png_reader *r = png_get_error_ptr(png);
    if (strncmp(message, "iCCP", 4) == 0 || strncmp(message, "sRGB", 4) == 0)
        keep(r->profile, sizeof r->profile, message);
    if (r->phase == PIXELS || strncmp(message, "IDAT", 4) == 0) {
        r->damaged = true;
        keep(r->message, sizeof r->message, message);
    }
}

static milori_status failure(mil_source *s) {
    png_reader *r = s->codec;
    return mil_source_damaged(s, r->message);
}

static milori_status create(mil_source *s) {
    png_reader *r = s->codec;
    r->message[0] = r->profile[0] = 0;
    r->damaged = r->whole = false;
    r->phase = HEADER;
    r->next = 0;
    r->png = png_create_read_struct(PNG_LIBPNG_VER_STRING, r, on_error, on_warning);
    r->info = r->png ? png_create_info_struct(r->png) : NULL;
    if (!r->info)
        return mil_fail(s->ctx, MILORI_ERR_MEMORY, "%s: out of memory; close other programs",
                        s->name);
    return MILORI_OK;
}

/* To the first row: header, and transforms to 8 or 16 bit grey or colour with or
 * without alpha. */
static milori_status start(mil_source *s) {
    png_reader *r = s->codec;
    milori_status status = create(s);
    if (status != MILORI_OK)
        return status;
    if (setjmp(png_jmpbuf(r->png)))
        return failure(s);
    png_init_io(r->png, s->file);
    png_set_user_limits(r->png, MOST_SIDE, MOST_SIDE);
    png_set_chunk_malloc_max(r->png, MOST_CHUNK);
    png_set_chunk_cache_max(r->png, MOST_CHUNKS);
    png_set_crc_action(r->png, PNG_CRC_ERROR_QUIT, PNG_CRC_ERROR_QUIT);
    png_read_info(r->png, r->info);
    png_set_expand(r->png);
    const uint16_t one = 1;
    if (*(const uint8_t *)&one)
        png_set_swap(r->png);
    return MILORI_OK;
}

/* The part of starting that sets row buffers up, once the size is allowed. */
static milori_status start_rows(mil_source *s) {
    png_reader *r = s->codec;
    if (setjmp(png_jmpbuf(r->png)))
        return failure(s);
    r->passes = png_set_interlace_handling(r->png);
    png_read_update_info(r->png, r->info);
    r->phase = PIXELS;
    return r->damaged ? failure(s) : MILORI_OK;
}

static void take_space(mil_source *s) {
    png_reader *r = s->codec;
    int intent;
    double *c = s->info.chrm;
    if (s->info.space == MIL_SPACE_ICC)
        return;
    if (png_get_sRGB(r->png, r->info, &intent)) {
        s->info.space = MIL_SPACE_SRGB;
    } else if (png_get_gAMA(r->png, r->info, &s->info.gamma) && s->info.gamma > 0) {
        s->info.space = MIL_SPACE_GAMMA;
        s->info.has_chrm =
            png_get_cHRM(r->png, r->info, c, c + 1, c + 2, c + 3, c + 4, c + 5, c + 6, c + 7) != 0;
    }
}

static milori_status take_profile(mil_source *s) {
    png_reader *r = s->codec;
    png_charp name;
    png_bytep icc;
    int compression;
    png_uint_32 size;
    if (png_get_iCCP(r->png, r->info, &name, &compression, &icc, &size))
        return mil_source_keep_icc(s, icc, size);
    if (r->profile[0])
        return mil_fail(s->ctx, MILORI_ERR_PROFILE,
                        "%s: its ICC profile is broken (%s); assign the profile again", s->name,
                        r->profile);
    return MILORI_OK;
}

static milori_status take_texts(mil_source *s) {
    png_reader *r = s->codec;
    png_textp text;
    int count = 0;
    milori_status status = MILORI_OK;
    png_get_text(r->png, r->info, &text, &count);
    for (int i = 0; i < count && status == MILORI_OK; i++) {
        size_t size = text[i].compression >= PNG_ITXT_COMPRESSION_NONE ? text[i].itxt_length
                                                                       : text[i].text_length;
        if (strcmp(text[i].key, "XML:com.adobe.xmp") == 0)
            status = mil_source_keep_xmp(s, text[i].text, size);
        else if (strcmp(text[i].key, "Software") == 0)
            status = mil_source_keep_software(s, text[i].text, size);
    }
    return status;
}

static void take_resolution(mil_source *s) {
    png_reader *r = s->codec;
    png_uint_32 x, y, size;
    int unit;
    png_bytep bytes;
    if (png_get_pHYs(r->png, r->info, &x, &y, &unit) && unit == PNG_RESOLUTION_METER && x && y) {
        s->info.dpi[0] = x * 0.0254;
        s->info.dpi[1] = y * 0.0254;
    }
    if (png_get_eXIf_1(r->png, r->info, &size, &bytes)) {
        mil_exif exif;
        mil_exif_parse(bytes, size, &exif);
        s->info.orientation = exif.orientation;
    }
}

static milori_status take_header(mil_source *s) {
    png_reader *r = s->codec;
    milori_status status = mil_source_size(s, png_get_image_width(r->png, r->info),
                                           png_get_image_height(r->png, r->info));
    if (status == MILORI_OK)
        status = take_profile(s);
    if (status == MILORI_OK)
        status = take_texts(s);
    take_space(s);
    take_resolution(s);
    return status;
}

/* The layout after the transforms; true if it differs from the one before. */
static bool take_layout(png_reader *r) {
    uint32_t samples = png_get_channels(r->png, r->info);
    mil_layout layout = {.bits = png_get_bit_depth(r->png, r->info),
                         .samples = samples,
                         .colours = samples < 3 ? 1 : 3};
    layout.alpha = samples == layout.colours ? 0 : layout.colours;
    bool other = layout.samples != r->layout.samples || layout.bits != r->layout.bits;
    r->layout = layout;
    r->row_bytes = png_get_rowbytes(r->png, r->info);
    return other;
}

/* libpng takes the last of several profiles without a word. */
static milori_status check_profiles(mil_source *s) {
    uint8_t head[8];
    int profiles = 0;
    for (off_t at = 8; fseeko(s->file, at, SEEK_SET) == 0 && fread(head, 8, 1, s->file) == 1;) {
        if (memcmp(head + 4, "IDAT", 4) == 0)
            break;
        profiles += memcmp(head + 4, "iCCP", 4) == 0;
        at += 12 + (off_t)png_get_uint_32(head);
    }
    rewind(s->file);
    if (profiles < 2)
        return MILORI_OK;
    return mil_fail(s->ctx, MILORI_ERR_PROFILE,
                    "%s: its ICC profile is broken (there is more than one); assign one again",
                    s->name);
}

static milori_status png_open(mil_source *s, milori_notes *notes) {
    png_reader *r = s->codec = mil_alloc(s->ctx, 1, sizeof *r);
    if (!r)
        return MILORI_ERR_MEMORY;
    milori_status status = check_profiles(s);
    if (status == MILORI_OK)
        status = start(s);
    if (status == MILORI_OK)
        status = take_header(s);
    if (status == MILORI_OK)
        status = start_rows(s);
    if (status != MILORI_OK)
        return status;
    take_layout(r);
    s->info.channels = (int)r->layout.colours;
    s->info.bits = r->layout.bits;
    if (r->layout.alpha)
        mil_source_note_alpha(notes);
    size_t rows = r->passes > 1 ? s->info.height : 1;
    if (rows > SIZE_MAX / r->row_bytes)
        return mil_source_damaged(s, "too large");
    if (rows > 1)
        status = mil_source_hold(s, rows * r->row_bytes, "an interlaced PNG");
    if (status == MILORI_OK && !(r->row = mil_alloc(s->ctx, rows, r->row_bytes)))
        status = MILORI_ERR_MEMORY;
    return status;
}

/* Checks what follows the last row: the rest of its data, its sums, the end. */
static void read_end(png_reader *r) {
    r->phase = END;
    png_read_end(r->png, NULL);
}

static milori_status read_interlaced(mil_source *s) {
    png_reader *r = s->codec;
    if (setjmp(png_jmpbuf(r->png)))
        return failure(s);
    for (int pass = 0; pass < r->passes; pass++)
        for (uint32_t y = 0; y < s->info.height; y++)
            png_read_row(r->png, r->row + y * r->row_bytes, NULL);
    read_end(r);
    r->whole = !r->damaged;
    return r->damaged ? failure(s) : MILORI_OK;
}

static milori_status read_next(mil_source *s) {
    png_reader *r = s->codec;
    if (setjmp(png_jmpbuf(r->png)))
        return failure(s);
    png_read_row(r->png, r->row, NULL);
    if (r->next + 1 == s->info.height)
        read_end(r);
    return r->damaged ? failure(s) : MILORI_OK;
}

static milori_status png_read(mil_source *s, uint32_t count, uint16_t *rows) {
    png_reader *r = s->codec;
    size_t width = s->info.width, samples = width * r->layout.samples;
    uint16_t *unpacked = NULL;
    milori_status status = MILORI_OK;
    if (!mil_layout_plain(&r->layout) && !(unpacked = mil_alloc(s->ctx, samples, 2)))
        return MILORI_ERR_MEMORY;
    for (uint32_t i = 0; i < count && status == MILORI_OK; i++, rows += width * r->layout.colours) {
        if (r->passes == 1)
            status = read_next(s);
        else if (!r->whole)
            status = read_interlaced(s);
        if (status != MILORI_OK)
            break;
        const uint8_t *row = r->row + (r->passes > 1 ? r->next * r->row_bytes : 0);
        mil_unpack(&r->layout, row, samples, 1, unpacked ? unpacked : rows);
        if (unpacked)
            mil_compose(&r->layout, width, unpacked, rows);
        r->next++;
    }
    free(unpacked);
    return status;
}

static milori_status png_rewind(mil_source *s) {
    png_reader *r = s->codec;
    if (r->whole) {
        r->next = 0;
        return MILORI_OK;
    }
    int passes = r->passes;
    png_destroy_read_struct(&r->png, &r->info, NULL);
    rewind(s->file);
    milori_status status = start(s);
    /* The file may have been replaced meanwhile; row was sized for the first. */
    if (status == MILORI_OK && (png_get_image_width(r->png, r->info) != s->info.width ||
                                png_get_image_height(r->png, r->info) != s->info.height))
        status = mil_source_damaged(s, "changed while it was read");
    if (status == MILORI_OK)
        status = start_rows(s);
    if (status == MILORI_OK && (take_layout(r) || passes != r->passes))
        status = mil_source_damaged(s, "changed while it was read");
    return status;
}

static void png_close(mil_source *s) {
    png_reader *r = s->codec;
    if (!r)
        return;
    png_destroy_read_struct(&r->png, &r->info, NULL);
    free(r->row);
    free(r);
}

const mil_reader mil_reader_png = {png_open, png_read, png_rewind, png_close};
