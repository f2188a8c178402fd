/* Rows of a scan to amounts of picture dye. */
#ifndef MILORI_AMOUNT_H
#define MILORI_AMOUNT_H

#include "render/plan.h"

/* Surfaces of a separation: inner, fog, sun. */
enum { MIL_SURFACES = 3 };

/* A thread's own room for it. */
typedef struct mil_amount_room {
    float *light, *absorb;     /* of a decode without tables */
    float *line[MIL_SURFACES]; /* knots gathered for a row */
    float *span[MIL_SURFACES];
} mil_amount_room;

milori_status mil_amount_room_make(milori_context *ctx, const mil_plan *plan,
                                   mil_amount_room *room);
void mil_amount_room_free(mil_amount_room *room);

/* Amounts of px first .. first + count - 1 of stored row y, whose codes start at row; the sun's
 * track filled where that is chosen. */
void mil_amount_row(const mil_plan *plan, mil_amount_room *room, const uint16_t *row, uint32_t y,
                    uint32_t first, uint32_t count, float *amount);

#endif
