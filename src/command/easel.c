/* milori easel: the live page, until Ctrl-C. */
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "command/command.h"
#include "command/folder.h"
#include "command/messages.h"
#include "view/easel.h"

/* Answers until asked to stop. */
enum { WAIT_MS = 200 };

/* The desktop's own browser, left to itself. */
static void open_browser(const char *address) {
    pid_t child = fork();
    if (child == 0) {
        if (fork() == 0) {
            execlp("xdg-open", "xdg-open", address, (char *)NULL);
            mil_error("xdg-open is not there to open a browser (package xdg-utils); open the "
                      "address yourself");
        }
        _exit(0);
    }
}

static int serve(milori_context *ctx, const mil_options *options, mil_easel *easel, int port) {
    mil_server *server = NULL;
    milori_status status = mil_server_new(ctx, port, mil_easel_answer, easel, &server);
    if (status != MILORI_OK) {
        mil_error_of(ctx);
        return MIL_EXIT_REFUSED;
    }
    printf("%s\n", mil_server_address(server));
    fflush(stdout);
    if (!options->quiet)
        fputs("Open this address in the browser of this machine. Ctrl-C ends; what was chosen is "
              "kept.\n",
              stderr);
    if (options->given[MIL_OPTION_OPEN])
        open_browser(mil_server_address(server));
    while (status == MILORI_OK && !mil_stopped())
        status = mil_server_step(ctx, server, WAIT_MS);
    if (status != MILORI_OK)
        mil_error_of(ctx);
    mil_server_free(server);
    return status == MILORI_OK ? MIL_EXIT_WELL : MIL_EXIT_SOME_FAILED;
}

/* Ctrl-C is how it ends: no failure. */
static int run(milori_context *ctx, const mil_options *options, const mil_batch *batch, int port) {
    int exit_status = MIL_EXIT_REFUSED;
    mil_easel *easel = NULL;
    mil_session_scan *scans = mil_alloc(ctx, batch->count, sizeof *scans);
    for (size_t i = 0; scans && i < batch->count; i++)
        scans[i] =
            (mil_session_scan){batch->entry[i].path, batch->entry[i].shown, batch->entry[i].stem};
    if (scans && mil_easel_new(ctx, scans, batch->count, options->output, &options->choices,
                               &easel) == MILORI_OK)
        exit_status = serve(ctx, options, easel, port);
    else
        mil_error_of(ctx);
    mil_easel_free(easel);
    free(scans);
    return exit_status;
}

static milori_status read_port(milori_context *ctx, const char *text, int *port) {
    double value = 0;
    *port = 0;
    if (!text)
        return MILORI_OK;
    if (!mil_parse_number(text, &value) || value < 1 || value > 65535 || value != (int)value)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT, "--port takes a whole number from 1 to 65535");
    *port = (int)value;
    return MILORI_OK;
}

int mil_command_easel(milori_context *ctx, const mil_options *options) {
    mil_batch batch = {0};
    bool made = false;
    int port = 0, exit_status = MIL_EXIT_REFUSED;
    char dodge[33], profile[33];
    if (!options->output) {
        mil_error("no folder for the choices and positives; give -o FOLDER");
        return exit_status;
    }
    milori_set_memory_limit(ctx, options->memory);
    if (options->pixels)
        milori_set_pixel_limit(ctx, options->pixels);
    milori_status status = read_port(ctx, options->given[MIL_OPTION_PORT], &port);
    if (status == MILORI_OK)
        status = mil_batch_list(ctx, options->names, options->count, options->output, &batch);
    if (status == MILORI_OK && batch.count == 0)
        status = mil_fail(ctx, MILORI_ERR_OPEN, "there is no scan to show; name one that is there");
    if (status == MILORI_OK)
        status = mil_refuse_strays(ctx, &batch, &options->choices);
    if (status == MILORI_OK)
        status = mil_files_ready(ctx, options, dodge, profile);
    if (status == MILORI_OK)
        status = mil_refuse_clashes(ctx, &batch, options->output, options->choices.format);
    if (status == MILORI_OK)
        status = mil_folder_ready(ctx, options->output, false, &made);
    if (status == MILORI_OK)
        exit_status = run(ctx, options, &batch, port);
    else
        mil_error_of(ctx);
    if (made)
        rmdir(options->output);
    mil_batch_free(&batch);
    return exit_status;
}
