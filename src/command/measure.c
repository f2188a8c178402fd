/* milori measure: what each sheet is, as a table for people or as JSON. */
#include <stdlib.h>

#include "command/command.h"
#include "command/folder.h"
#include "command/messages.h"
#include "command/sheet_table.h"
#include "command/together.h"
#include "command/work.h"

typedef struct job {
    const mil_options *options;
    const mil_batch *batch;
    char **json;            /* of each scan: its sheets, a comma between; NULL none */
    mil_together *together; /* what the notes are for */
} job;

static milori_status as_json(milori_context *ctx, milori_scan *scan, char **text) {
    size_t size = 0;
    int of = milori_scan_facts_of(scan)->sheets;
    FILE *out = open_memstream(text, &size);
    if (!out)
        return mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: close other programs");
    milori_status status = MILORI_OK;
    for (int i = 0; i < of && status == MILORI_OK; i++) {
        char *json = NULL;
        status = milori_scan_sheet_json(scan, i, &json);
        if (status == MILORI_OK)
            fprintf(out, "%s%s", i ? ",\n" : "", json);
        free(json);
    }
    fclose(out);
    if (status != MILORI_OK) {
        free(*text);
        *text = NULL;
    }
    return status;
}

static void as_table(const job *j, size_t index, milori_scan *scan, mil_report *report) {
    const milori_scan_facts *facts = milori_scan_facts_of(scan);
    if (!report->out)
        return;
    mil_table_scan(report->out, j->batch->entry[index].shown, facts);
    if (!j->options->quiet)
        mil_table_notes(report->out, milori_scan_notes(scan, -1));
    for (int i = 0; i < facts->sheets; i++) {
        mil_table_sheet(report->out, milori_scan_sheet(scan, i));
        if (j->options->quiet)
            continue;
        mil_table_told(report->out, milori_scan_sheet(scan, i));
        mil_table_notes(report->out, milori_scan_notes(scan, i));
    }
}

static milori_status one_scan(void *data, size_t index, milori_context *ctx, bool alone,
                              mil_report *report) {
    const job *j = data;
    milori_scan *scan = NULL;
    milori_status status = milori_scan_open(ctx, j->batch->entry[index].path, &scan);
    if (status == MILORI_OK)
        status = milori_scan_measure(scan, &j->options->choices);
    if (status == MILORI_OK)
        status = mil_together_keep(ctx, j->together, index, scan);
    if (status == MILORI_OK && j->options->json)
        status = as_json(ctx, scan, &j->json[index]);
    else if (status == MILORI_OK)
        as_table(j, index, scan, report);
    if (status != MILORI_OK && (status != MILORI_ERR_LIMIT || alone))
        mil_report_failure(report, ctx);
    milori_scan_close(scan);
    return status;
}

static void print_json(const job *j, const char *series) {
    const char *between = "\n";
    fputs("{\"sheets\":[", stdout);
    for (size_t i = 0; i < j->batch->count; i++)
        if (j->json[i] && j->json[i][0]) {
            printf("%s%s", between, j->json[i]);
            between = ",\n";
        }
    fputs("\n]", stdout);
    if (series)
        printf(",\n\"series\":%s", series);
    puts("}");
}

/* All that is said once every scan has been measured. */
static int say_together(milori_context *ctx, const job *j) {
    char *series = NULL;
    milori_status status = mil_together_say(ctx, j->together, j->batch, j->options, &series);
    if (j->options->json)
        print_json(j, series);
    free(series);
    if (status == MILORI_OK)
        return MIL_EXIT_WELL;
    mil_error_of(ctx);
    return MIL_EXIT_SOME_FAILED;
}

static int work_through(milori_context *ctx, job *j) {
    mil_totals totals = {.failed = j->batch->failed};
    mil_work work = {.batch = j->batch,
                     .jobs = j->options->jobs,
                     .memory = j->options->memory,
                     .pixels = j->options->pixels,
                     .quiet = j->options->quiet,
                     .one = one_scan,
                     .data = j};
    if (!j->options->json && j->batch->count)
        mil_table_head(stdout);
    if (mil_work_run(ctx, &work, &totals) != MILORI_OK) {
        mil_error_of(ctx);
        return MIL_EXIT_SOME_FAILED;
    }
    if (mil_stopped()) {
        mil_error("stopped");
        return MIL_EXIT_STOPPED;
    }
    int exit_status = say_together(ctx, j);
    return totals.failed ? MIL_EXIT_SOME_FAILED : exit_status;
}

int mil_command_measure(milori_context *ctx, const mil_options *options) {
    mil_batch batch = {0};
    job j = {.options = options, .batch = &batch};
    int exit_status = MIL_EXIT_REFUSED;
    milori_status status = mil_batch_list(ctx, options->names, options->count, NULL, &batch);
    if (status == MILORI_OK)
        status = mil_refuse_strays(ctx, &batch, &options->choices);
    if (status == MILORI_OK)
        status = mil_together_start(ctx, options, batch.count, &j.together);
    if (status == MILORI_OK)
        j.json = mil_alloc(ctx, batch.count, sizeof *j.json);
    if (j.json)
        exit_status = work_through(ctx, &j);
    else
        mil_error_of(ctx);
    for (size_t i = 0; j.json && i < batch.count; i++)
        free(j.json[i]);
    free(j.json);
    mil_together_free(j.together);
    mil_batch_free(&batch);
    return exit_status;
}
