/* A page drawn on a canvas, written as a picture file. */
#ifndef MILORI_PAGE_WRITE_H
#define MILORI_PAGE_WRITE_H

#include "draw/canvas.h"
#include "scan/sink.h"

/* Writes canvas to path as one transaction. options hold format, bits, quality,
 * dpi, profile and replace; size and channels are set here. table: NULL, and the
 * canvas holds the device's codes; or a canvas of one channel is looked up in it:
 * 65536 entries of channels codes. */
milori_status mil_page_write(milori_context *ctx, mil_canvas *canvas, const uint16_t *table,
                             int channels, const char *path, mil_sink_options *options);

#endif
