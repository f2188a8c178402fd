/* A 16 bit picture that is turned or stood on its head, by way of a temporary file. */
#ifndef MILORI_SPILL_H
#define MILORI_SPILL_H

#include "base/base.h"

typedef struct mil_spill mil_spill;

/* width x height as it will be put; turn is the orientation (TIFF 6.0, 1..8) that takes it to the
 * picture read back. The file lies in $TMPDIR or /tmp, already unlinked, and takes 2 bytes a
 * pixel; memory is MIL_SPILL_STRIP rows of the longer side. */
enum { MIL_SPILL_STRIP = 64 };
milori_status mil_spill_new(milori_context *ctx, uint32_t width, uint32_t height, int turn,
                            mil_spill **spill);
/* The next count rows, width values each. */
milori_status mil_spill_put(mil_spill *spill, uint32_t count, const uint16_t *rows);
/* Rows first .. first + count - 1 of the turned picture. count is at most MIL_SPILL_STRIP, first a
 * multiple of it. */
milori_status mil_spill_get(mil_spill *spill, uint32_t first, uint32_t count, uint16_t *rows);
void mil_spill_free(mil_spill *spill);

#endif
