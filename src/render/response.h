/* Densities in the dye's band to amounts, through a table. */
#ifndef MILORI_RESPONSE_H
#define MILORI_RESPONSE_H

#include "sheet/separate.h"

/* unit * (ks(base + z) - ks(base)) at even steps of z, straight between them: within 1e-7 of the
 * amount (the second derivative of K/S is at most 5.4 times K/S itself). What lies beyond either
 * end takes the end's value. No exponentials a pixel, so that the bits do not hang on a
 * processor's mathematics. */
typedef struct mil_response {
    float low;    /* z of the first entry */
    float *entry; /* MIL_RESPONSES */
} mil_response;
enum { MIL_RESPONSES = 32768, MIL_RESPONSES_A_UNIT = 8192 };

milori_status mil_response_make(milori_context *ctx, const mil_separation *separation,
                                mil_response *response);
/* In place. */
void mil_response_row(const mil_response *response, uint32_t count, float *values);
void mil_response_free(mil_response *response);

#endif
