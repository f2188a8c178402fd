/* Light to absorption: additive in the amounts of what colours the paper. */
#include "sheet/grid.h"

#include <math.h>
#include <stdlib.h>

/* About density 2.7: below it a flatbed's noise and flare, not the paper, decide, and K/S
 * would blow that up. */
static const float FLOOR = 0.002f;

milori_status mil_absorb_init(milori_context *ctx, const mil_decode *decode, mil_absorb *absorb) {
    *absorb = (mil_absorb){.decode = decode, .floor = FLOOR};
    if (decode->kind != MIL_DECODE_TABLES)
        return MILORI_OK;
    for (int c = 0; c < decode->channels; c++) {
        absorb->table[c] = mil_alloc(ctx, 65536, sizeof(float));
        if (!absorb->table[c]) {
            mil_absorb_free(absorb);
            return MILORI_ERR_MEMORY;
        }
        for (int i = 0; i < 65536; i++)
            absorb->table[c][i] = mil_absorb_light(absorb, decode->table[c][i]);
    }
    return MILORI_OK;
}

void mil_absorb_free(mil_absorb *absorb) {
    for (int c = 0; c < 3; c++) {
        free(absorb->table[c]);
        absorb->table[c] = NULL;
    }
}

float mil_absorb_light(const mil_absorb *absorb, float light) {
    /* Written so that NaN becomes the floor. */
    double r = light > absorb->floor ? light : absorb->floor;
    if (r >= 1)
        return 0;
    return (float)-log10(r);
}

void mil_absorb_row(const mil_absorb *absorb, const uint16_t *codes, uint32_t count, float *scratch,
                    float *out) {
    int n = absorb->decode->channels;
    if (absorb->decode->kind != MIL_DECODE_TABLES) {
        size_t all = (size_t)count * (size_t)n;
        mil_decode_row(absorb->decode, codes, count, scratch);
        for (size_t i = 0; i < all; i++)
            out[i] = mil_absorb_light(absorb, scratch[i]);
        return;
    }
    if (n == 1) {
        for (uint32_t i = 0; i < count; i++)
            out[i] = absorb->table[0][codes[i]];
        return;
    }
    for (uint32_t i = 0; i < count; i++, codes += 3, out += 3) {
        out[0] = absorb->table[0][codes[0]];
        out[1] = absorb->table[1][codes[1]];
        out[2] = absorb->table[2][codes[2]];
    }
}
