/* What the command says: lines kept until their scan's turn, counts, the end. */
#ifndef MILORI_MESSAGES_H
#define MILORI_MESSAGES_H

#include <stdio.h>

#include "base/base.h"

/* How a command ends. */
enum { MIL_EXIT_WELL = 0, MIL_EXIT_SOME_FAILED = 1, MIL_EXIT_REFUSED = 2, MIL_EXIT_STOPPED = 130 };

/* "milori: ..." on standard error. */
void mil_error(const char *format, ...) MIL_PRINTF(1, 2);
/* The same with the context's failure. */
void mil_error_of(const milori_context *ctx);

/* What the work on one scan said, printed when the scans before it have had
 * their say. out and err are NULL without memory: use the functions below. */
typedef struct mil_report {
    FILE *out, *err;
    char *out_text, *err_text;
    size_t out_size, err_size;
    bool quiet; /* no notes, no lines */
    bool terse; /* no line for each positive: a bar on the same terminal tells */
    bool noted; /* the scan's own notes have been said */
    int next;   /* the first sheet not dealt with yet */
    int made, current, failed;
} mil_report;

void mil_report_open(mil_report *report, bool quiet, bool terse);
/* A line on standard output unless quiet. */
void mil_report_line(mil_report *report, const char *format, ...) MIL_PRINTF(2, 3);
/* A failure: "milori: ...", counted. */
void mil_report_fail(mil_report *report, const char *format, ...) MIL_PRINTF(2, 3);
/* The context's failure, counted and cleared; "stopped" is neither said nor counted. */
void mil_report_failure(mil_report *report, milori_context *ctx);
/* Notes as lines "about: text" on standard error unless quiet. */
void mil_report_notes(mil_report *report, const char *about, const milori_notes *notes);
/* Prints what was said and frees it; the counts stay. */
void mil_report_close(mil_report *report);

/* Asks SIGINT, SIGTERM and SIGHUP to stop the work at the next band of rows; a
 * second one ends the program at once. A closed pipe and a limit of the file size
 * become write errors. */
void mil_signals_catch(void);
bool mil_stopped(void);
/* milori_set_cancel()'s question. */
bool mil_stop_asked(void *data);

/* Standard output's last write; MIL_EXIT_SOME_FAILED after a line if any failed, else status. */
int mil_close_output(int status);

#endif
