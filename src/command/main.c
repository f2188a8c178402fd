/* milori: the command line. */
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/command.h"
#include "command/messages.h"

static const struct {
    const char *name;
    int mask;
    int (*run)(milori_context *ctx, const mil_options *options);
} commands[] = {{"positive", MIL_FOR_POSITIVE, mil_command_positive},
                {"measure", MIL_FOR_MEASURE, mil_command_measure},
                {"print", MIL_FOR_PRINT, mil_command_print},
                {"proof", MIL_FOR_PROOF, mil_command_proof},
                {"easel", MIL_FOR_EASEL, mil_command_easel},
                {"target", MIL_FOR_TARGET, mil_command_target},
                {"tablet", MIL_FOR_TABLET, mil_command_tablet}};

static int run(milori_context *ctx, size_t which, char *const *arguments, size_t count) {
    mil_options options;
    int exit_status = MIL_EXIT_REFUSED;
    milori_status status = mil_options_read(ctx, commands[which].mask, commands[which].name,
                                            arguments, count, &options);
    if (status != MILORI_OK) {
        mil_error_of(ctx);
    } else if (options.help) {
        mil_help(commands[which].mask);
        exit_status = MIL_EXIT_WELL;
    } else if (options.count == 0) {
        mil_error("no scan named; see milori %s --help", commands[which].name);
    } else {
        mil_signals_catch();
        exit_status = commands[which].run(ctx, &options);
    }
    mil_options_free(&options);
    return exit_status;
}

static int dispatch(milori_context *ctx, int argc, char **argv) {
    if (argc < 2) {
        mil_error("no command; see milori --help");
        return MIL_EXIT_REFUSED;
    }
    for (size_t i = 0; i < sizeof commands / sizeof *commands; i++)
        if (strcmp(argv[1], commands[i].name) == 0)
            return run(ctx, i, argv + 2, (size_t)argc - 2);
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0) {
        mil_help(0);
    } else if (strcmp(argv[1], "--version") == 0) {
        printf("milori %s\n", milori_version());
    } else {
        char *shown = mil_printable(argv[1]);
        mil_error("%s is no command; see milori --help", shown ? shown : "this");
        free(shown);
        return MIL_EXIT_REFUSED;
    }
    return MIL_EXIT_WELL;
}

/* A closed standard stream would lend its number to the next file opened, and a
 * message would end up in a positive. Writing to what is put there fails. */
static bool hold_streams(void) {
    for (int fd = 0; fd <= 2; fd++)
        if (fcntl(fd, F_GETFD) == -1 && open("/dev/null", O_RDONLY) != fd)
            return false;
    return true;
}

int main(int argc, char **argv) {
    milori_context *ctx = hold_streams() ? milori_context_new() : NULL;
    if (!ctx) {
        mil_error("out of memory: close other programs and try again");
        return MIL_EXIT_REFUSED;
    }
    int status = mil_close_output(dispatch(ctx, argc, argv));
    milori_context_free(ctx);
    return status;
}
