/* milori target: charts for clear film, and what their prints tell. */
#include <math.h>
#include <string.h>

#include "command/command.h"
#include "command/messages.h"
#include "command/target_parts.h"

static int make_or_read(milori_context *ctx, const mil_options *options) {
    const char *what = options->names[0];
    bool make = strcmp(what, "make") == 0;
    milori_status status;
    if (make && options->count == 1 && options->output)
        status = mil_target_make(ctx, options);
    else if (strcmp(what, "read") == 0 && options->count == 2)
        status = mil_target_read_print(ctx, options);
    else
        status = mil_fail(ctx, MILORI_ERR_ARGUMENT,
                          "give \"make\" and a film with -o, or \"read\" and one scan; see milori "
                          "target --help");
    if (status == MILORI_OK)
        return MIL_EXIT_WELL;
    if (status == MILORI_ERR_CANCELLED) {
        mil_error("stopped");
        return MIL_EXIT_STOPPED;
    }
    mil_error_of(ctx);
    return status == MILORI_ERR_ARGUMENT ? MIL_EXIT_REFUSED : MIL_EXIT_SOME_FAILED;
}

int mil_command_target(milori_context *ctx, const mil_options *options) {
    milori_set_memory_limit(ctx, options->memory);
    if (options->pixels)
        milori_set_pixel_limit(ctx, options->pixels);
    milori_set_cancel(ctx, mil_stop_asked, NULL);
    return make_or_read(ctx, options);
}
