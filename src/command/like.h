/* The choices of an earlier positive, or of a choices file. */
#ifndef MILORI_LIKE_H
#define MILORI_LIKE_H

#include "base/base.h"

/* Sets choices to those of path: a positive that milori made, or a JSON object
 * of choices. Those that are one sheet's own (corners, unexposed) are left out. */
milori_status mil_like_read(milori_context *ctx, const char *path, milori_choices *choices);

#endif
