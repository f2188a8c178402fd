#include "scan/sink_codes.h"

#include <stdlib.h>

milori_status mil_code_sink_open(milori_context *ctx, const char *path,
                                 const mil_sink_options *options, mil_code_sink *sink) {
    *sink = (mil_code_sink){.samples = (size_t)options->width * (size_t)options->channels};
    if (options->bits == 8) {
        sink->bytes = mil_alloc(ctx, sink->samples, 1);
        if (!sink->bytes)
            return MILORI_ERR_MEMORY;
    }
    return mil_sink_open(ctx, path, options, &sink->sink);
}

milori_status mil_code_sink_write(mil_code_sink *sink, uint32_t count, const uint16_t *codes) {
    if (!sink->bytes)
        return mil_sink_write(sink->sink, count, codes);
    milori_status status = MILORI_OK;
    for (uint32_t y = 0; y < count && status == MILORI_OK; y++, codes += sink->samples) {
        for (size_t i = 0; i < sink->samples; i++)
            sink->bytes[i] = (uint8_t)((codes[i] * 255u + 32767u) / 65535u);
        status = mil_sink_write(sink->sink, 1, sink->bytes);
    }
    return status;
}

milori_status mil_code_sink_close(mil_code_sink *sink, milori_status status) {
    if (status == MILORI_OK)
        status = mil_sink_commit(sink->sink);
    else
        mil_sink_abort(sink->sink);
    free(sink->bytes);
    *sink = (mil_code_sink){0};
    return status;
}
