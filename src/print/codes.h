/* A palette on a printer: device codes of its places. */
#ifndef MILORI_PRINT_CODES_H
#define MILORI_PRINT_CODES_H

#include "print/tones.h"

typedef struct mil_print_codes {
    int channels;
    uint16_t *code;      /* MIL_PLACES x channels; the last is the bare paper: no ink at all */
    double (*wished)[3]; /* the palette's line as drawn, on paper: MIL_PLACES */
} mil_print_codes;

/* The palette of choices through output. For the relative and absolute intents its
 * chroma is first lowered, smoothly, where the printer lacks it, so that hue and
 * lightness stay; the other two fit it by the profile's own tables. */
milori_status mil_print_codes_make(milori_context *ctx, const milori_choices *choices,
                                   const mil_output *output, mil_print_codes *codes);
void mil_print_codes_free(mil_print_codes *codes);
/* The codes of bare paper: no ink. */
void mil_print_paper(const mil_output *output, uint16_t code[4]);

#endif
