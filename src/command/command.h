/* The commands: one file each. */
#ifndef MILORI_COMMAND_H
#define MILORI_COMMAND_H

#include "command/options.h"

/* Each returns the program's exit status and has said what went wrong. */
int mil_command_positive(milori_context *ctx, const mil_options *options);
int mil_command_measure(milori_context *ctx, const mil_options *options);
int mil_command_proof(milori_context *ctx, const mil_options *options);
int mil_command_easel(milori_context *ctx, const mil_options *options);
int mil_command_print(milori_context *ctx, const mil_options *options);
int mil_command_target(milori_context *ctx, const mil_options *options);
int mil_command_tablet(milori_context *ctx, const mil_options *options);

/* Help on standard output: command MIL_FOR_... or 0 for milori's own. */
void mil_help(int command);

#endif
