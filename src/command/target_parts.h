/* The two halves of `milori target`. */
#ifndef MILORI_COMMAND_TARGET_H
#define MILORI_COMMAND_TARGET_H

#include "command/options.h"
#include "print/fit.h"
#include "print/target.h"
#include "print/target_answers.h"

/* Writes the film, and says how to print it. */
milori_status mil_target_make(milori_context *ctx, const mil_options *options);
/* Reads the print, and says what it tells. */
milori_status mil_target_read_print(milori_context *ctx, const mil_options *options);

/* What was read, as one JSON object on standard output; answers that there are none
 * of are NULL. */
typedef struct mil_target_told {
    const mil_target *target;
    const mil_patches *patches;
    const milori_notes *notes;
    const mil_time_answer *time;
    const mil_ink_answer *ink;
    const mil_fit *fit;
} mil_target_told;

milori_status mil_target_print_json(milori_context *ctx, const mil_target_told *told);

#endif
