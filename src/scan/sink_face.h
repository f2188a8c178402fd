/* What a format must do to be written: one face, four writers behind it. */
#ifndef MILORI_SINK_FACE_H
#define MILORI_SINK_FACE_H

#include "scan/sink.h"
#include "scan/transaction.h"

/* Every function says MILORI_OK or the status given to mil_fail(). */
typedef struct mil_sink_face {
    const char *name;      /* for messages */
    bool four_inks;        /* CMYK pictures */
    uint32_t longest_side; /* px */
    size_t longest_row;    /* bytes */
    size_t largest_icc, largest_xmp;
    /* Writes the header. A writer made is to be closed even if this fails. */
    milori_status (*open)(mil_transaction *transaction, const mil_sink_options *options,
                          void **writer);
    milori_status (*rows)(void *writer, uint32_t count, const uint8_t *rows);
    /* Ends the file, after the last row. */
    milori_status (*finish)(void *writer);
    /* Frees, whatever the state; writes that this makes are not looked at. */
    void (*close)(void *writer);
} mil_sink_face;

extern const mil_sink_face mil_tiff_face, mil_png_face, mil_jpeg_face, mil_pdf_face;

/* Channels of what a profile describes: 1 grey, 3 RGB, 4 CMYK; 0 others, or not
 * a whole ICC profile. */
int mil_sink_profile_channels(const uint8_t *icc, size_t size);

#endif
