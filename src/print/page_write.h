/* A page drawn on a canvas, written as a file, or as a picture of how it will look. */
#ifndef MILORI_PAGE_WRITE_H
#define MILORI_PAGE_WRITE_H

#include "colour/look.h"
#include "draw/canvas.h"
#include "scan/sink.h"

/* What a file of pages needs beside its rows. */
typedef struct mil_page_file {
    const char *path;
    milori_format format;
    int bits, quality;
    double dpi;
    bool replace;
    const mil_output *output; /* its profile goes into the file */
    bool printer;             /* that is a printer's: PDF names it as what the file is meant for */
} mil_page_file;

/* Writes canvas as one transaction. table: NULL, and the canvas holds the output's
 * codes; or a canvas of one channel is looked up in it: 65536 entries of the
 * output's channels. */
milori_status mil_page_write(milori_context *ctx, mil_canvas *canvas, const uint16_t *table,
                             const mil_page_file *file);
/* Writes a canvas of places as it will look, at most MIL_LOOK_SIDE px long: an sRGB
 * PNG of 8 bits. dpi is the page's. */
enum { MIL_LOOK_SIDE = 1600 };
milori_status mil_page_look(milori_context *ctx, mil_canvas *canvas, const mil_look *look,
                            double dpi, const char *path, bool replace);

#endif
