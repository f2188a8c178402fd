/* JPEG through libjpeg. */
#include <setjmp.h>
#include <stdlib.h>
#include <string.h>

#include "scan/source_reader.h" /* stdio.h before jpeglib.h */

#include <jerror.h>
#include <jpeglib.h>

#include "scan/app_segments.h"
#include "scan/exif.h"
#include "scan/source_pixels.h"

/* A progressive file of more scans than this is made to waste time; encoders
 * write about ten. */
enum { MOST_SCANS = 500 };

typedef struct jpeg_reader {
    struct jpeg_error_mgr errors;
    struct jpeg_progress_mgr progress;
    struct jpeg_decompress_struct jpeg;
    jmp_buf jump;
    char message[JMSG_LENGTH_MAX]; /* the first error or warning */
    bool created, started, unsupported;
    mil_layout layout;
    uint8_t *row;
} jpeg_reader;

static jpeg_reader *reader_of(j_common_ptr jpeg) {
    return jpeg->client_data;
}

static void keep_message(j_common_ptr jpeg) {
    jpeg_reader *r = reader_of(jpeg);
    if (!r->message[0])
        jpeg->err->format_message(jpeg, r->message);
}

static void on_error(j_common_ptr jpeg) {
    int code = jpeg->err->msg_code;
    keep_message(jpeg);
    reader_of(jpeg)->unsupported = code == JERR_SOF_UNSUPPORTED || code == JERR_BAD_PRECISION ||
                                   code == JERR_NOTIMPL || code == JERR_NOT_COMPILED ||
                                   code == JERR_ARITH_NOTIMPL || code == JERR_CONVERSION_NOTIMPL;
    longjmp(reader_of(jpeg)->jump, 1);
}

static void on_message(j_common_ptr jpeg, int level) {
    if (level >= 0)
        return;
    jpeg->err->num_warnings++;
    keep_message(jpeg);
}

static void on_output(j_common_ptr jpeg) {
    (void)jpeg;
}

static void on_progress(j_common_ptr jpeg) {
    jpeg_reader *r = reader_of(jpeg);
    if (r->jpeg.input_scan_number > MOST_SCANS)
        ERREXITS(jpeg, JERR_BAD_PROGRESSION, "");
}

static milori_status failure(mil_source *s) {
    jpeg_reader *r = s->codec;
    if (!r->unsupported)
        return mil_source_damaged(s, r->message);
    return mil_source_refuse(s, "a JPEG file of a rare kind (not 8 bit Huffman coded)");
}

/* Creates the decoder and reads the header. */
static milori_status read_header(mil_source *s) {
    jpeg_reader *r = s->codec;
    r->message[0] = 0;
    r->jpeg.err = jpeg_std_error(&r->errors);
    r->errors.error_exit = on_error;
    r->errors.emit_message = on_message;
    r->errors.output_message = on_output;
    r->jpeg.client_data = r;
    if (setjmp(r->jump))
        return failure(s);
    jpeg_create_decompress(&r->jpeg);
    r->created = true;
    r->progress.progress_monitor = on_progress;
    r->jpeg.progress = &r->progress;
    jpeg_save_markers(&r->jpeg, JPEG_APP0 + 1, 0xffff);
    jpeg_save_markers(&r->jpeg, JPEG_APP0 + 2, 0xffff);
    jpeg_stdio_src(&r->jpeg, s->file);
    jpeg_read_header(&r->jpeg, TRUE);
    return r->errors.num_warnings ? failure(s) : MILORI_OK;
}

static milori_status choose_colours(mil_source *s) {
    jpeg_reader *r = s->codec;
    switch (r->jpeg.jpeg_color_space) {
    case JCS_GRAYSCALE:
        r->jpeg.out_color_space = JCS_GRAYSCALE;
        s->info.channels = 1;
        break;
    case JCS_YCbCr:
    case JCS_RGB:
        r->jpeg.out_color_space = JCS_RGB;
        s->info.channels = 3;
        break;
    case JCS_CMYK:
    case JCS_YCCK:
        return mil_source_refuse(s, "a CMYK JPEG");
    default:
        return mil_source_refuse(s, "a JPEG of colours without a name");
    }
    r->jpeg.dct_method = JDCT_ISLOW;
    return MILORI_OK;
}

/* libjpeg keeps every coefficient of a file whose parts come in several scans. */
static milori_status hold_coefficients(mil_source *s) {
    jpeg_reader *r = s->codec;
    if (!jpeg_has_multiple_scans(&r->jpeg))
        return MILORI_OK;
    size_t bytes = 0;
    for (int i = 0; i < r->jpeg.num_components; i++) {
        const jpeg_component_info *c = &r->jpeg.comp_info[i];
        bytes += (size_t)c->width_in_blocks * c->height_in_blocks * sizeof(JBLOCK);
    }
    return mil_source_hold(s, bytes, "a progressive JPEG");
}

static void take_exif(mil_source *s, const mil_segment *segments, size_t count) {
    size_t size;
    const uint8_t *bytes = mil_segment_after(segments, count, "Exif\0", 6, &size);
    if (!bytes)
        return;
    mil_exif exif;
    mil_exif_parse(bytes, size, &exif);
    s->info.orientation = exif.orientation;
    memcpy(s->info.dpi, exif.dpi, sizeof exif.dpi);
    if (exif.srgb)
        s->info.space = MIL_SPACE_SRGB;
    mil_source_keep_software(s, exif.software, exif.software_size);
}

static void take_density(mil_source *s, const struct jpeg_decompress_struct *jpeg) {
    double scale = jpeg->density_unit == 1 ? 1 : jpeg->density_unit == 2 ? 2.54 : 0;
    if (!jpeg->saw_JFIF_marker || scale == 0 || !jpeg->X_density || !jpeg->Y_density)
        return;
    s->info.dpi[0] = scale * jpeg->X_density;
    s->info.dpi[1] = scale * jpeg->Y_density;
}

static milori_status take_segments(mil_source *s, const mil_segment *segments, size_t count) {
    take_exif(s, segments, count);
    static const char xmp_head[] = "http://ns.adobe.com/xap/1.0/";
    size_t size;
    const uint8_t *xmp = mil_segment_after(segments, count, xmp_head, sizeof xmp_head, &size);
    if (xmp && mil_source_keep_xmp(s, xmp, size) != MILORI_OK)
        return MILORI_ERR_MEMORY;
    uint8_t *icc;
    milori_status status = mil_segments_icc(s->ctx, s->name, segments, count, &icc, &size);
    if (status == MILORI_OK)
        status = mil_source_keep_icc(s, icc, size);
    free(icc);
    return status;
}

static milori_status take_metadata(mil_source *s) {
    jpeg_reader *r = s->codec;
    size_t count = 0;
    for (jpeg_saved_marker_ptr m = r->jpeg.marker_list; m; m = m->next)
        count++;
    mil_segment *segments = mil_alloc(s->ctx, count, sizeof *segments);
    if (!segments)
        return MILORI_ERR_MEMORY;
    size_t i = 0;
    for (jpeg_saved_marker_ptr m = r->jpeg.marker_list; m; m = m->next)
        segments[i++] = (mil_segment){m->marker, m->data, m->data_length};
    milori_status status = take_segments(s, segments, count);
    free(segments);
    take_density(s, &r->jpeg);
    return status;
}

static milori_status jpeg_open(mil_source *s, milori_notes *notes) {
    (void)notes;
    jpeg_reader *r = s->codec = mil_alloc(s->ctx, 1, sizeof *r);
    if (!r)
        return MILORI_ERR_MEMORY;
    milori_status status = read_header(s);
    if (status == MILORI_OK)
        status = mil_source_size(s, r->jpeg.image_width, r->jpeg.image_height);
    if (status == MILORI_OK)
        status = choose_colours(s);
    if (status == MILORI_OK)
        status = take_metadata(s);
    if (status == MILORI_OK)
        status = hold_coefficients(s);
    if (status != MILORI_OK)
        return status;
    s->info.bits = 8;
    s->info.lossy = true;
    uint32_t channels = (uint32_t)s->info.channels;
    r->layout = (mil_layout){.bits = 8, .samples = channels, .colours = channels};
    r->row = mil_alloc(s->ctx, s->info.width, channels);
    return r->row ? MILORI_OK : MILORI_ERR_MEMORY;
}

/* The next row of codes, and past the last one to the file's end. libjpeg pads
 * what is cut off with grey and only warns. */
static milori_status next_row(mil_source *s) {
    jpeg_reader *r = s->codec;
    if (setjmp(r->jump))
        return failure(s);
    if (!r->started) {
        jpeg_start_decompress(&r->jpeg);
        r->started = true;
    }
    JSAMPROW row = r->row;
    if (jpeg_read_scanlines(&r->jpeg, &row, 1) != 1)
        return failure(s);
    if (r->jpeg.output_scanline == r->jpeg.output_height)
        jpeg_finish_decompress(&r->jpeg);
    return r->errors.num_warnings ? failure(s) : MILORI_OK;
}

static milori_status jpeg_read(mil_source *s, uint32_t count, uint16_t *rows) {
    jpeg_reader *r = s->codec;
    size_t samples = (size_t)s->info.width * r->layout.samples;
    for (uint32_t i = 0; i < count; i++, rows += samples) {
        milori_status status = next_row(s);
        if (status != MILORI_OK)
            return status;
        mil_unpack(&r->layout, r->row, samples, 1, rows);
    }
    return MILORI_OK;
}

static void end_decoder(jpeg_reader *r) {
    if (r->created)
        jpeg_destroy_decompress(&r->jpeg);
    r->created = r->started = false;
}

static milori_status jpeg_rewind(mil_source *s) {
    jpeg_reader *r = s->codec;
    end_decoder(r);
    rewind(s->file);
    milori_status status = read_header(s);
    if (status != MILORI_OK)
        return status;
    /* The file may have been replaced meanwhile; row was sized for the first. */
    if (r->jpeg.image_width != s->info.width || r->jpeg.image_height != s->info.height ||
        (r->jpeg.jpeg_color_space == JCS_GRAYSCALE) != (s->info.channels == 1))
        return mil_source_damaged(s, "changed while it was read");
    return choose_colours(s);
}

static void jpeg_close(mil_source *s) {
    jpeg_reader *r = s->codec;
    if (!r)
        return;
    end_decoder(r);
    free(r->row);
    free(r);
}

const mil_reader mil_reader_jpeg = {jpeg_open, jpeg_read, jpeg_rewind, jpeg_close};
