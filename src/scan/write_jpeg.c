/* JPEG (ISO 10918-1, JFIF) through libjpeg. */
#include <math.h>
#include <setjmp.h>
#include <stdio.h> /* before jpeglib.h, which needs FILE */
#include <stdlib.h>
#include <string.h>

#include <jpeglib.h>

#include "scan/sink_face.h"

#define BUFFER_SIZE ((size_t)64 << 10)
/* A segment holds 65,533 bytes; XMP part 3, 1.1.3 allows 65,502 of packet. */
#define XMP_MOST 65502
static const char xmp_head[] = "http://ns.adobe.com/xap/1.0/"; /* its NUL counts */
/* ICC.1:2010 annex B.4: 255 segments, 14 bytes of head in each. */
#define ICC_MOST ((size_t)255 * (65533 - 14))

typedef struct writer {
    struct jpeg_compress_struct jpeg;
    struct jpeg_error_mgr errors;
    struct jpeg_destination_mgr destination;
    mil_transaction *tx;
    size_t row_bytes;
    jmp_buf out; /* set by the function that calls libjpeg */
    uint8_t buffer[BUFFER_SIZE];
    char said[JMSG_LENGTH_MAX];
} writer;

/* libjpeg's own would end the process. */
static void stop(j_common_ptr jpeg) {
    writer *w = jpeg->client_data;
    jpeg->err->format_message(jpeg, w->said);
    longjmp(w->out, 1);
}

static void say_nothing(j_common_ptr jpeg) {
    (void)jpeg;
}

static void start_buffer(j_compress_ptr jpeg) {
    writer *w = jpeg->client_data;
    w->destination.next_output_byte = w->buffer;
    w->destination.free_in_buffer = BUFFER_SIZE;
}

static void put_bytes(writer *w, size_t size) {
    if (mil_transaction_write(w->tx, w->buffer, size))
        return;
    snprintf(w->said, sizeof w->said, "short write");
    longjmp(w->out, 1);
}

static boolean empty_buffer(j_compress_ptr jpeg) {
    put_bytes(jpeg->client_data, BUFFER_SIZE); /* the whole, whatever next_output_byte says */
    start_buffer(jpeg);
    return TRUE;
}

static void end_buffer(j_compress_ptr jpeg) {
    writer *w = jpeg->client_data;
    put_bytes(w, BUFFER_SIZE - w->destination.free_in_buffer);
}

static milori_status fail(writer *w) {
    return mil_transaction_fail(w->tx, w->said);
}

static void put_xmp(writer *w, const mil_sink_options *o) {
    unsigned head = sizeof xmp_head;
    jpeg_write_m_header(&w->jpeg, JPEG_APP0 + 1, head + (unsigned)o->xmp_size);
    for (unsigned i = 0; i < head; i++)
        jpeg_write_m_byte(&w->jpeg, xmp_head[i]);
    for (size_t i = 0; i < o->xmp_size; i++)
        jpeg_write_m_byte(&w->jpeg, (unsigned char)o->xmp[i]);
}

static void put_header(writer *w, const mil_sink_options *o) {
    j_compress_ptr jpeg = &w->jpeg;
    jpeg->dest = &w->destination;
    jpeg->image_width = o->width;
    jpeg->image_height = o->height;
    jpeg->input_components = o->channels;
    jpeg->in_color_space = o->channels == 1 ? JCS_GRAYSCALE : JCS_RGB;
    jpeg_set_defaults(jpeg);
    jpeg_set_quality(jpeg, o->quality, TRUE);
    jpeg->dct_method = JDCT_ISLOW;
    for (int i = 0; i < jpeg->num_components; i++)
        jpeg->comp_info[i].h_samp_factor = jpeg->comp_info[i].v_samp_factor = 1; /* 4:4:4 */
    double density = round(o->dpi);
    if (density >= 1 && density <= 65535) {
        jpeg->density_unit = 1; /* an inch */
        jpeg->X_density = jpeg->Y_density = (UINT16)density;
    }
    jpeg_start_compress(jpeg, TRUE);
    if (o->xmp)
        put_xmp(w, o);
    if (o->icc)
        jpeg_write_icc_profile(jpeg, o->icc, (unsigned)o->icc_size);
}

static milori_status open_jpeg(mil_transaction *tx, const mil_sink_options *o, void **made) {
    writer *w = mil_alloc(mil_transaction_context(tx), 1, sizeof *w);
    if (!w)
        return MILORI_ERR_MEMORY;
    *made = w;
    w->tx = tx;
    w->row_bytes = (size_t)o->width * (size_t)o->channels;
    w->destination.init_destination = start_buffer;
    w->destination.empty_output_buffer = empty_buffer;
    w->destination.term_destination = end_buffer;
    w->jpeg.err = jpeg_std_error(&w->errors);
    w->errors.error_exit = stop;
    w->errors.output_message = say_nothing;
    w->jpeg.client_data = w; /* jpeg_create_compress() keeps it */
    if (setjmp(w->out))
        return fail(w);
    jpeg_create_compress(&w->jpeg);
    put_header(w, o);
    return MILORI_OK;
}

static milori_status put_rows(void *writer_, uint32_t count, const uint8_t *rows) {
    writer *w = writer_;
    if (setjmp(w->out))
        return fail(w);
    for (uint32_t i = 0; i < count; i++) {
        JSAMPROW row = (JSAMPROW)(rows + w->row_bytes * i); /* only read */
        jpeg_write_scanlines(&w->jpeg, &row, 1);
    }
    return MILORI_OK;
}

static milori_status finish(void *writer_) {
    writer *w = writer_;
    if (setjmp(w->out))
        return fail(w);
    jpeg_finish_compress(&w->jpeg);
    return MILORI_OK;
}

static void close_jpeg(void *writer_) {
    writer *w = writer_;
    jpeg_destroy_compress(&w->jpeg);
    free(w);
}

const mil_sink_face mil_jpeg_face = {
    .name = "JPEG",
    .longest_side = JPEG_MAX_DIMENSION, /* 65,500: libjpeg's, a little below the format's */
    .longest_row = INT32_MAX,
    .largest_icc = ICC_MOST,
    .largest_xmp = XMP_MOST,
    .open = open_jpeg,
    .rows = put_rows,
    .finish = finish,
    .close = close_jpeg,
};
