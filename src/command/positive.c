/* milori positive: a finished positive of every sheet of every scan. */
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "command/command.h"
#include "command/current.h"
#include "command/folder.h"
#include "command/messages.h"
#include "command/work.h"
#include "render/scan.h"
#include "scan/sink.h"
#include "scan/source.h"

/* Choices twice: as they are, and as JSON. */
typedef struct recipe {
    const milori_choices *choices;
    char *json;
} recipe;

typedef struct job {
    const mil_options *options;
    const mil_batch *batch;
    recipe usual, own;           /* own: for the scan that --like's record is of */
    char dodge[33], profile[33]; /* digests; "" none */
} job;

/* One scan on its way. */
typedef struct pass {
    const job *job;
    const mil_entry *entry;
    const milori_choices *choices;
    milori_context *ctx;
    bool alone;
    mil_report *report;
    mil_making making;
    milori_scan *scan;
} pass;

/* Where sheet index of `of` goes; NULL when that is refused, which has been said. */
static char *target_of(const pass *p, int index, int of, bool *replace, bool *current) {
    const mil_options *o = p->job->options;
    const mil_entry *clash = mil_result_clash(p->job->batch, p->entry, index + 1, of);
    if (clash) {
        mil_report_fail(p->report,
                        "%s: sheet %d would have the name of the positive of %s; rename one",
                        p->entry->shown, index + 1, clash->shown);
        return NULL;
    }
    char *path =
        mil_result_path(p->ctx, o->output, p->entry->stem, index + 1, of, p->choices->format);
    if (!path) {
        mil_report_failure(p->report, p->ctx);
        return NULL;
    }
    char *shown = mil_printable(path);
    const char *name = shown ? shown : "its positive";
    mil_place place = mil_place_of(path, &p->making, index + 1, NULL);
    bool fits = false;
    if (mil_batch_same_file(p->job->batch, path))
        mil_report_fail(p->report, "%s: is a scan of this run and stays; name another folder",
                        name);
    else if (place == MIL_PLACE_OTHER && !o->replace)
        mil_report_fail(p->report,
                        "%s: made from another scan of that name; move it or give --replace", name);
    else if (place == MIL_PLACE_STRANGE && !o->replace)
        mil_report_fail(p->report,
                        "%s: is there and not this scan's positive; move it or give --replace",
                        name);
    else
        fits = true;
    free(shown);
    *replace = place != MIL_PLACE_FREE;
    *current = place == MIL_PLACE_CURRENT && !o->again;
    if (!fits) {
        free(path);
        return NULL;
    }
    return path;
}

static milori_status write_sheet(const pass *p, int index, const char *path, bool replace) {
    const mil_options *o = p->job->options;
    uint32_t width = 0, height = 0;
    milori_status status;
    if (o->dry_run)
        status = milori_scan_positive_size(p->scan, index, p->choices, &width, &height);
    else
        status = milori_scan_positive(p->scan, index, p->choices, path, replace);
    if (status == MILORI_ERR_LIMIT && !p->alone)
        return status;
    if (status != MILORI_OK) {
        mil_report_failure(p->report, p->ctx);
        return status;
    }
    p->report->made++;
    char *shown = mil_printable(path);
    if (o->dry_run)
        mil_report_line(p->report, "would make %s, %u x %u px", shown ? shown : "a positive", width,
                        height);
    else if (!p->report->terse)
        mil_report_line(p->report, "made %s", shown ? shown : "a positive");
    free(shown);
    return status;
}

/* What the messages call a sheet: its scan, and its number where there are more. */
static void sheet_notes(const pass *p, int index, int of) {
    const mil_entry *entry = p->entry;
    size_t size = strlen(entry->shown) + 32;
    char *about = mil_alloc(p->ctx, size, 1);
    if (!about)
        return;
    if (of > 1)
        snprintf(about, size, "%s, sheet %d", entry->shown, index + 1);
    else
        snprintf(about, size, "%s", entry->shown);
    mil_report_notes(p->report, about, milori_scan_notes(p->scan, index));
    free(about);
}

static milori_status one_sheet(const pass *p, int index, int of) {
    bool replace = false, current = false;
    char *path = target_of(p, index, of, &replace, &current);
    if (!path)
        return MILORI_OK;
    milori_status status = MILORI_OK;
    if (current) {
        p->report->current++;
    } else {
        status = write_sheet(p, index, path, replace);
        if (status == MILORI_OK)
            sheet_notes(p, index, of);
    }
    free(path);
    return status;
}

static milori_status all_sheets(pass *p) {
    int of = milori_scan_facts_of(p->scan)->sheets;
    if (!p->report->noted)
        mil_report_notes(p->report, p->entry->shown, milori_scan_notes(p->scan, -1));
    p->report->noted = true;
    for (int i = p->report->next; i < of; i++) {
        milori_status status = one_sheet(p, i, of);
        if (status == MILORI_ERR_CANCELLED || (status == MILORI_ERR_LIMIT && !p->alone))
            return status;
        p->report->next = i + 1;
    }
    return MILORI_OK;
}

/* Opens, finds the sheets and makes each; says why when the scan cannot be used. */
static milori_status make(pass *p) {
    milori_status status = milori_scan_open(p->ctx, p->entry->path, &p->scan);
    if (status == MILORI_OK) {
        mil_scan_know_digest(p->scan, p->making.digest);
        status = milori_scan_measure(p->scan, p->choices);
    }
    if (status == MILORI_OK)
        status = all_sheets(p);
    else if (status != MILORI_ERR_LIMIT || p->alone)
        mil_report_failure(p->report, p->ctx);
    milori_scan_close(p->scan);
    return status;
}

static milori_status one_scan(void *data, size_t index, milori_context *ctx, bool alone,
                              mil_report *report) {
    const job *j = data;
    const mil_entry *entry = &j->batch->entry[index];
    char digest[33] = "";
    if (mil_file_digest(ctx, entry->path, digest) != MILORI_OK) {
        mil_report_failure(report, ctx);
        return MILORI_OK;
    }
    const recipe *r = strcmp(digest, j->options->record.digest) == 0 ? &j->own : &j->usual;
    pass p = {.job = j,
              .entry = entry,
              .choices = r->choices,
              .ctx = ctx,
              .alone = alone,
              .report = report,
              .making = {entry->name, digest, r->json, j->dodge, j->profile}};
    if (!j->options->again && report->next == 0) {
        report->current +=
            mil_all_current(ctx, j->options->output, entry, p.choices->format, &p.making);
        if (report->current)
            return MILORI_OK;
    }
    return make(&p);
}

/* The closing lines. On a terminal no line has said yet where the positives are. */
static int finish(const mil_options *options, const mil_totals *totals) {
    bool stopped = mil_stopped(), made = totals->made > 0 && !options->dry_run;
    char *folder = isatty(STDOUT_FILENO) ? mil_printable(options->output) : NULL;
    if (made && !options->quiet && options->choices.turn == 0)
        fputs("which way is up cannot be known: --turn turns\n", stderr);
    if (!options->quiet || stopped)
        fprintf(stopped ? stderr : stdout, "%s%d positive%s %s%s%s, %d up to date, %d failed\n",
                stopped ? "milori: stopped: " : "", totals->made, totals->made == 1 ? "" : "s",
                options->dry_run ? "to make" : "made", folder ? " in " : "", folder ? folder : "",
                totals->current, totals->failed);
    free(folder);
    if (stopped)
        return MIL_EXIT_STOPPED;
    return totals->failed ? MIL_EXIT_SOME_FAILED : MIL_EXIT_WELL;
}

static int work_through(milori_context *ctx, job *j) {
    const mil_options *o = j->options;
    mil_totals totals = {.failed = j->batch->failed};
    mil_work work = {.batch = j->batch,
                     .jobs = o->jobs,
                     .memory = o->memory,
                     .pixels = o->pixels,
                     .quiet = o->quiet,
                     .one = one_scan,
                     .data = j};
    if (!o->dry_run)
        mil_sink_sweep(o->output);
    if (mil_work_run(ctx, &work, &totals) != MILORI_OK) {
        mil_error_of(ctx);
        return MIL_EXIT_SOME_FAILED;
    }
    return finish(o, &totals);
}

static milori_status put_in_words(milori_context *ctx, job *j) {
    milori_status status = milori_choices_to_json(ctx, j->usual.choices, &j->usual.json);
    if (status == MILORI_OK)
        status = milori_choices_to_json(ctx, j->own.choices, &j->own.json);
    return status;
}

int mil_command_positive(milori_context *ctx, const mil_options *options) {
    if (!options->output) {
        mil_error("no folder for the positives; give -o FOLDER");
        return MIL_EXIT_REFUSED;
    }
    mil_batch batch = {0};
    job j = {.options = options,
             .batch = &batch,
             .usual.choices = &options->choices,
             .own.choices = &options->own};
    bool made = false;
    int exit_status = MIL_EXIT_REFUSED;
    milori_status status =
        mil_batch_list(ctx, options->names, options->count, options->output, &batch);
    if (status == MILORI_OK)
        status = mil_refuse_strays(ctx, &batch, &options->choices);
    if (status == MILORI_OK)
        status = mil_files_ready(ctx, options, j.dodge, j.profile);
    if (status == MILORI_OK)
        status = mil_refuse_clashes(ctx, &batch, options->output, options->choices.format);
    if (status == MILORI_OK)
        status = put_in_words(ctx, &j);
    if (status == MILORI_OK)
        status = mil_folder_ready(ctx, options->output, options->dry_run, &made);
    if (status == MILORI_OK)
        exit_status = work_through(ctx, &j);
    else
        mil_error_of(ctx);
    if (made) /* a folder that nothing came into goes again; any other stays */
        rmdir(options->output);
    free(j.usual.json);
    free(j.own.json);
    mil_batch_free(&batch);
    return exit_status;
}
