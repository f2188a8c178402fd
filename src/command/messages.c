#include "command/messages.h"

#include <errno.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

/* The context's words with bytes that a terminal might obey or cannot show
 * escaped. Names in them may be escaped already: a backslash stays one. */
static char *words_of(const milori_context *ctx) {
    char *text = mil_printable(milori_message(ctx));
    if (!text)
        return NULL;
    char *to = text;
    for (const char *from = text; *from; from++) {
        *to++ = *from;
        if (from[0] == '\\' && from[1] == '\\')
            from++;
    }
    *to = 0;
    return text;
}

void mil_error(const char *format, ...) {
    va_list args;
    va_start(args, format);
    fputs("milori: ", stderr);
    vfprintf(stderr, format, args);
    fputc('\n', stderr);
    va_end(args);
}

void mil_error_of(const milori_context *ctx) {
    char *words = words_of(ctx);
    mil_error("%s", words && words[0] ? words : "out of memory: close other programs");
    free(words);
}

void mil_report_open(mil_report *report, bool quiet, bool terse) {
    memset(report, 0, sizeof *report);
    report->quiet = quiet;
    report->terse = terse;
    report->out = open_memstream(&report->out_text, &report->out_size);
    report->err = open_memstream(&report->err_text, &report->err_size);
}

void mil_report_line(mil_report *report, const char *format, ...) {
    if (report->quiet || !report->out)
        return;
    va_list args;
    va_start(args, format);
    vfprintf(report->out, format, args);
    fputc('\n', report->out);
    va_end(args);
}

void mil_report_fail(mil_report *report, const char *format, ...) {
    report->failed++;
    FILE *err = report->err ? report->err : stderr;
    va_list args;
    va_start(args, format);
    fputs("milori: ", err);
    vfprintf(err, format, args);
    fputc('\n', err);
    va_end(args);
}

void mil_report_failure(mil_report *report, milori_context *ctx) {
    if (milori_failure(ctx) != MILORI_ERR_CANCELLED) {
        char *words = words_of(ctx);
        mil_report_fail(report, "%s", words && words[0] ? words : "out of memory");
        free(words);
    }
    milori_clear(ctx);
}

void mil_report_notes(mil_report *report, const char *about, const milori_notes *notes) {
    if (report->quiet || !report->err || !notes)
        return;
    for (size_t i = 0; i < notes->count; i++)
        fprintf(report->err, "%s: %s\n", about, notes->note[i].text);
}

void mil_report_close(mil_report *report) {
    if (report->out)
        fclose(report->out);
    if (report->err)
        fclose(report->err);
    if (report->err_text)
        fwrite(report->err_text, 1, report->err_size, stderr);
    if (report->out_text)
        fwrite(report->out_text, 1, report->out_size, stdout);
    free(report->out_text);
    free(report->err_text);
    report->out = report->err = NULL;
    report->out_text = report->err_text = NULL;
}

/* Set by a signal, read by every job: atomic and lock-free serves both. */
static atomic_int stopped;

static void stop(int signal_number) {
    (void)signal_number;
    atomic_store(&stopped, 1);
}

void mil_signals_catch(void) {
    struct sigaction action = {.sa_handler = stop, .sa_flags = SA_RESTART | (int)SA_RESETHAND};
    sigemptyset(&action.sa_mask);
    static const int signals[] = {SIGINT, SIGTERM, SIGHUP};
    for (size_t i = 0; i < sizeof signals / sizeof *signals; i++) {
        struct sigaction before;
        /* A signal ignored from outside (nohup) stays ignored. */
        if (sigaction(signals[i], NULL, &before) == 0 && before.sa_handler != SIG_IGN)
            sigaction(signals[i], &action, NULL);
    }
    signal(SIGPIPE, SIG_IGN);
    signal(SIGXFSZ, SIG_IGN);
}

bool mil_stopped(void) {
    return atomic_load(&stopped) != 0;
}

bool mil_stop_asked(void *data) {
    (void)data;
    return mil_stopped();
}

int mil_close_output(int status) {
    bool bad = ferror(stdout) != 0;
    errno = 0;
    if (fflush(stdout) != 0 || bad) {
        mil_error("standard output: cannot be written%s%s; send it elsewhere", errno ? ", " : "",
                  errno ? strerror(errno) : "");
        return status == MIL_EXIT_WELL ? MIL_EXIT_SOME_FAILED : status;
    }
    return status;
}
