#include "scan/jpeg_bytes.h"

#include <setjmp.h>
#include <stdio.h> /* before jpeglib.h, which needs FILE */
#include <stdlib.h>

#include <jpeglib.h>

typedef struct packing {
    struct jpeg_compress_struct jpeg;
    struct jpeg_error_mgr errors;
    jmp_buf out;
    unsigned char *bytes;
    unsigned long size;
} packing;

/* libjpeg's own would end the process. */
static void stop(j_common_ptr jpeg) {
    packing *p = jpeg->client_data;
    longjmp(p->out, 1);
}

static void pack(packing *p, uint32_t width, uint32_t height, const uint8_t *rgb, int quality) {
    j_compress_ptr jpeg = &p->jpeg;
    jpeg_create_compress(jpeg);
    jpeg_mem_dest(jpeg, &p->bytes, &p->size);
    jpeg->image_width = width;
    jpeg->image_height = height;
    jpeg->input_components = 3;
    jpeg->in_color_space = JCS_RGB;
    jpeg_set_defaults(jpeg);
    jpeg_set_quality(jpeg, quality, TRUE);
    jpeg_start_compress(jpeg, TRUE);
    for (uint32_t y = 0; y < height; y++) {
        JSAMPROW row = (JSAMPROW)(rgb + (size_t)y * width * 3); /* only read */
        jpeg_write_scanlines(jpeg, &row, 1);
    }
    jpeg_finish_compress(jpeg);
}

milori_status mil_jpeg_bytes(milori_context *ctx, uint32_t width, uint32_t height,
                             const uint8_t *rgb, int quality, uint8_t **bytes, size_t *size) {
    packing *p = mil_alloc(ctx, 1, sizeof *p);
    if (!p)
        return MILORI_ERR_MEMORY;
    p->jpeg.err = jpeg_std_error(&p->errors);
    p->errors.error_exit = stop;
    p->jpeg.client_data = p;
    milori_status status = MILORI_OK;
    if (setjmp(p->out))
        status = mil_fail(ctx, MILORI_ERR_MEMORY, "a picture of %u x %u px cannot be packed", width,
                          height);
    else
        pack(p, width, height, rgb, quality);
    jpeg_destroy_compress(&p->jpeg);
    if (status == MILORI_OK) {
        *bytes = p->bytes;
        *size = p->size;
    } else {
        free(p->bytes);
    }
    free(p);
    return status;
}
