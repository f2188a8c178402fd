/* A picture file written as rows: whole under its name, or not there at all. */
#ifndef MILORI_SINK_H
#define MILORI_SINK_H

#include "base/base.h"

typedef struct mil_sink_options {
    milori_format format;
    uint32_t width, height;
    int channels; /* 1 grey, 3 RGB, 4 CMYK (0 no ink; TIFF and PDF only) */
    int bits;     /* 8 or 16; JPEG 8 only */
    int quality;  /* JPEG */
    double dpi;   /* 0: none written; in PDF a pixel is then a point, 1/72 in */
    const uint8_t *icc;
    size_t icc_size;
    const char *xmp; /* an XMP packet, or NULL; like icc, needed only while opening */
    size_t xmp_size;
    /* PDF alone: the profile of the printer that the file is meant for (output
     * intent), NULL none, and its description in UTF-8, NULL none. Needed only
     * while opening. */
    const uint8_t *output_icc;
    size_t output_icc_size;
    const char *output_name;
    bool replace; /* a file of that name may be replaced */
} mil_sink_options;

typedef struct mil_sink mil_sink;

/* Creates an exclusive temporary beside path. Fails if path is there and may
 * not be replaced, the folder cannot be written, or the format cannot hold the
 * picture's size or depth. */
milori_status mil_sink_open(milori_context *ctx, const char *path, const mil_sink_options *options,
                            mil_sink **sink);
/* The next count rows: uint16_t or uint8_t samples as bits says. Once this has
 * failed it always fails, and so does mil_sink_commit(). */
milori_status mil_sink_write(mil_sink *sink, uint32_t count, const void *rows);
/* Ends the file, checks every write and the close, makes it durable (fsync) and
 * renames it. The sink is freed either way; on failure nothing is left. A
 * process that writes should ignore SIGXFSZ, else a file size limit ends it. */
milori_status mil_sink_commit(mil_sink *sink);
/* Removes the temporary and frees the sink. NULL is fine. */
void mil_sink_abort(mil_sink *sink);

/* Removes temporaries in folder that a killed milori left behind (none that a
 * living one still holds). How many, or -1. */
int mil_sink_sweep(const char *folder);

/* A small text or binary file written by the same transaction. */
milori_status mil_write_file(milori_context *ctx, const char *path, const void *bytes, size_t size,
                             bool replace);

#endif
