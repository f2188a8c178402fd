/* A sink that takes 16 bit codes whatever the file's depth. */
#ifndef MILORI_SINK_CODES_H
#define MILORI_SINK_CODES_H

#include "scan/sink.h"

typedef struct mil_code_sink {
    mil_sink *sink;
    size_t samples; /* a row */
    uint8_t *bytes; /* of a row, where the file has 8 bits; else NULL */
} mil_code_sink;

/* As mil_sink_open(). */
milori_status mil_code_sink_open(milori_context *ctx, const char *path,
                                 const mil_sink_options *options, mil_code_sink *sink);
/* The next count rows. 8 bits are the 16 rounded, without dithering: the paper's
 * grain is dither enough. */
milori_status mil_code_sink_write(mil_code_sink *sink, uint32_t count, const uint16_t *codes);
/* Commits if status is MILORI_OK, else aborts; the status it ends with. A sink never
 * opened ({0}) is fine. */
milori_status mil_code_sink_close(mil_code_sink *sink, milori_status status);

#endif
