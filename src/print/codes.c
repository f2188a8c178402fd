#include "print/codes.h"

#include <stdlib.h>
#include <string.h>

void mil_print_paper(const mil_output *output, uint16_t code[4]) {
    /* Grey and RGB are light, CMYK is ink. */
    for (int c = 0; c < 4; c++)
        code[c] = mil_output_channels(output) == 4 ? 0 : 65535;
}

static milori_status fill(milori_context *ctx, const milori_choices *choices,
                          const mil_output *output, mil_print_codes *codes, double (*kept)[3]) {
    bool own_tables = choices->intent == MILORI_PERCEPTUAL || choices->intent == MILORI_SATURATION;
    milori_status status = mil_print_line(ctx, choices, NULL, codes->wished);
    if (status == MILORI_OK)
        status = mil_print_line(ctx, choices, own_tables ? NULL : output, kept);
    if (status != MILORI_OK)
        return status;
    size_t n = (size_t)codes->channels;
    uint16_t paper[4];
    mil_output_line(output, (const double(*)[3])kept, MIL_PLACES, codes->code);
    mil_print_paper(output, paper);
    memcpy(codes->code + (MIL_PLACES - 1) * n, paper, n * sizeof *paper);
    return MILORI_OK;
}

milori_status mil_print_codes_make(milori_context *ctx, const milori_choices *choices,
                                   const mil_output *output, mil_print_codes *codes) {
    *codes = (mil_print_codes){.channels = mil_output_channels(output)};
    codes->code = mil_alloc(ctx, (size_t)MIL_PLACES * (size_t)codes->channels, sizeof *codes->code);
    codes->wished = mil_alloc(ctx, MIL_PLACES, sizeof *codes->wished);
    double(*kept)[3] = mil_alloc(ctx, MIL_PLACES, sizeof *kept);
    milori_status status = codes->code && codes->wished && kept ? MILORI_OK : MILORI_ERR_MEMORY;
    if (status == MILORI_OK)
        status = fill(ctx, choices, output, codes, kept);
    free(kept);
    if (status != MILORI_OK)
        mil_print_codes_free(codes);
    return status;
}

void mil_print_codes_free(mil_print_codes *codes) {
    free(codes->code);
    free(codes->wished);
    *codes = (mil_print_codes){0};
}
