/* Whether a print that was read can be trusted. */
#ifndef MILORI_TARGET_JUDGE_H
#define MILORI_TARGET_JUDGE_H

#include "print/target_view.h"

/* Refuses with the reason and what to do, or notes what is worth knowing. */
milori_status mil_target_judge(milori_context *ctx, const char *shown, const mil_view *view,
                               milori_notes *notes, mil_patches *patches);

#endif
