/* The sheets of `milori measure` taken together with the notes on them. */
#ifndef MILORI_TOGETHER_H
#define MILORI_TOGETHER_H

#include "command/batch.h"
#include "command/options.h"

typedef struct mil_together mil_together;

/* Reads the notes that --notes names and readies the folder of --plots, for so many scans; NULL if
 * neither is given. Fails before any work with what is wrong of them. */
milori_status mil_together_start(milori_context *ctx, const mil_options *options, size_t scans,
                                 mil_together **together);
/* Keeps the sheets of a scan that has been measured. Each scan has its own place, so any thread
 * may. */
milori_status mil_together_keep(milori_context *ctx, mil_together *together, size_t index,
                                const milori_scan *scan);
/* Prints the series' table, or gives its JSON, and draws the plots. *json: to free(), or NULL. */
milori_status mil_together_say(milori_context *ctx, mil_together *together, const mil_batch *batch,
                               const mil_options *options, char **json);
void mil_together_free(mil_together *together);

#endif
