#include "render/response.h"

#include <stdlib.h>

milori_status mil_response_make(milori_context *ctx, const mil_separation *separation,
                                mil_response *response) {
    double zero = mil_density_ks(separation->base);
    response->low = (float)-separation->base - 0.25f;
    response->entry = mil_alloc(ctx, MIL_RESPONSES, sizeof *response->entry);
    if (!response->entry)
        return MILORI_ERR_MEMORY;
    for (int i = 0; i < MIL_RESPONSES; i++) {
        double z = (double)response->low + (double)i / MIL_RESPONSES_A_UNIT;
        response->entry[i] =
            (float)(separation->unit * (mil_density_ks(separation->base + z) - zero));
    }
    return MILORI_OK;
}

void mil_response_row(const mil_response *response, uint32_t count, float *values) {
    const float *entry = response->entry, low = response->low;
    for (uint32_t i = 0; i < count; i++) {
        float x = (values[i] - low) * MIL_RESPONSES_A_UNIT;
        x = x > 0 ? x : 0; /* and what is no number */
        x = x < MIL_RESPONSES - 1.5f ? x : MIL_RESPONSES - 1.5f;
        int32_t k = (int32_t)x;
        values[i] = entry[k] + (x - (float)k) * (entry[k + 1] - entry[k]);
    }
}

void mil_response_free(mil_response *response) {
    free(response->entry);
    *response = (mil_response){0};
}
