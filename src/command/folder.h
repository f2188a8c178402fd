/* What is refused before any work, and the folder of the positives. */
#ifndef MILORI_FOLDER_H
#define MILORI_FOLDER_H

#include "command/batch.h"
#include "command/options.h"

/* MILORI_ERR_EXISTS if two scans' positives would have one name, or a positive's
 * place is taken by a scan of the batch, seen through links. */
milori_status mil_refuse_clashes(milori_context *ctx, const mil_batch *batch, const char *folder,
                                 milori_format format);
/* MILORI_ERR_ARGUMENT if choices that are true of one scan only are to meet several. */
milori_status mil_refuse_strays(milori_context *ctx, const mil_batch *batch,
                                const milori_choices *choices);
/* Opens the output profile and the dodging picture that choices name, to see that they serve, and
 * takes their digests ("" for none). Says, unless quiet, which is not what --like's record was
 * made with. */
milori_status mil_files_ready(milori_context *ctx, const mil_options *options, char dodge[33],
                              char profile[33]);
/* Makes folder if it is not there (its own parent must be) and sees that it can
 * be written to. look_only: makes nothing. *made: whether it was not there. */
milori_status mil_folder_ready(milori_context *ctx, const char *folder, bool look_only, bool *made);

#endif
