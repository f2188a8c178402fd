/* What is refused before any work, and the folder of the positives. */
#ifndef MILORI_FOLDER_H
#define MILORI_FOLDER_H

#include "command/batch.h"

/* MILORI_ERR_EXISTS if two scans' positives would have one name, or a positive's
 * place is taken by a scan of the batch, seen through links. */
milori_status mil_refuse_clashes(milori_context *ctx, const mil_batch *batch, const char *folder,
                                 milori_format format);
/* Makes folder if it is not there (its own parent must be) and sees that it can
 * be written to. look_only: makes nothing. */
milori_status mil_folder_ready(milori_context *ctx, const char *folder, bool look_only);

#endif
