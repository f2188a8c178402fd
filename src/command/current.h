/* Whether all positives of a scan are there already. */
#ifndef MILORI_CURRENT_H
#define MILORI_CURRENT_H

#include "command/batch.h"
#include "render/place.h"

/* How many positives of entry are there if all are and are current; else 0. */
int mil_all_current(milori_context *ctx, const char *folder, const mil_entry *entry,
                    milori_format format, const mil_making *making);

#endif
