#include "command/print_job.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/messages.h"
#include "print/paper.h"
#include "scan/source.h"
#include "tone/choices.h"

/* ---- the file ------------------------------------------------------------------ */

static milori_status read_format(mil_print_job *job) {
    const char *path = job->options->output;
    if (!path && job->options->dry_run)
        return MILORI_OK;
    if (!path)
        return mil_fail(job->ctx, MILORI_ERR_ARGUMENT, "no file for the print; give -o FILE.tif");
    if (mil_format_of_name(path, &job->file.format))
        return MILORI_OK;
    return mil_fail_option(job->ctx, "output", path,
                           "a file that ends in .tif, .png, .pdf or .jpg");
}

static milori_status read_file(mil_print_job *job) {
    const mil_options *o = job->options;
    milori_status status = read_format(job);
    if (status != MILORI_OK)
        return status;
    bool jpeg = job->file.format == MILORI_JPEG;
    if (jpeg && o->choices.depth == 16)
        return mil_fail(job->ctx, MILORI_ERR_ARGUMENT,
                        "JPEG holds 8 bits; leave --depth out or name a .tif");
    job->file.path = o->output;
    job->file.bits = o->choices.depth ? o->choices.depth : jpeg ? 8 : 16;
    job->file.quality = o->choices.quality;
    job->file.replace = o->replace;
    job->file.printer = o->given[MIL_OPTION_PRINTER] != NULL;
    return MILORI_OK;
}

/* ---- the page ------------------------------------------------------------------ */

static milori_status read_paper(mil_print_job *job, const char *text) {
    job->layout.no_paper = strcmp(text, "none") == 0;
    if (job->layout.no_paper)
        return MILORI_OK;
    job->layout.paper_lies = mil_paper_lies(text);
    return mil_paper_size(job->ctx, text, job->layout.paper_mm);
}

static milori_status read_numbers(mil_print_job *job) {
    const char *const *given = job->options->given;
    const char *dpi = given[MIL_OPTION_PRINT_DPI], *sharpen = given[MIL_OPTION_SHARPEN];
    const char *sheet = given[MIL_OPTION_SHEET];
    double number = 0;
    if (dpi && !(mil_parse_number(dpi, &job->layout.dpi) && job->layout.dpi >= 72 &&
                 job->layout.dpi <= 2880))
        return mil_fail_option(job->ctx, "print-dpi", dpi, "a number from 72 to 2880");
    if (sharpen && strcmp(sharpen, "none") != 0 &&
        !(mil_length_mm(sharpen, &job->sharpen_mm) && job->sharpen_mm >= 0.02 &&
          job->sharpen_mm <= 1))
        return mil_fail_option(job->ctx, "sharpen", sharpen, "none or a length from 0.02mm to 1mm");
    job->sheet = -1;
    if (sheet && !(mil_parse_number(sheet, &number) && number >= 1 && number <= 999 &&
                   number == (int)number))
        return mil_fail_option(job->ctx, "sheet", sheet, "a whole number from 1");
    if (sheet)
        job->sheet = (int)number - 1;
    return MILORI_OK;
}

static milori_status read_page(mil_print_job *job) {
    const char *const *given = job->options->given;
    milori_status status = MILORI_OK;
    mil_layout_default(&job->layout);
    if (given[MIL_OPTION_PAPER])
        status = read_paper(job, given[MIL_OPTION_PAPER]);
    if (status == MILORI_OK && given[MIL_OPTION_SIZE])
        status = mil_layout_size(job->ctx, given[MIL_OPTION_SIZE], &job->layout);
    if (status == MILORI_OK && given[MIL_OPTION_MARGIN])
        status = mil_layout_margin(job->ctx, given[MIL_OPTION_MARGIN], &job->layout);
    if (status == MILORI_OK && given[MIL_OPTION_PLACE])
        status = mil_layout_place(job->ctx, given[MIL_OPTION_PLACE], &job->layout);
    if (status == MILORI_OK)
        status = read_numbers(job);
    job->edge = given[MIL_OPTION_EDGE] != NULL;
    return status;
}

/* ---- the job ------------------------------------------------------------------- */

/* The output file, or the look, must not be what is read. */
static milori_status refuse_inputs(mil_print_job *job) {
    const char *const paths[2] = {job->options->output, job->options->given[MIL_OPTION_LOOK]};
    for (int i = 0; i < 2; i++)
        if (paths[i] && mil_batch_same_file(&job->batch, paths[i])) {
            char *shown = mil_printable(paths[i]);
            mil_fail(job->ctx, MILORI_ERR_EXISTS, "%s: is what is to be printed; name another file",
                     shown ? shown : "the print");
            free(shown);
            return MILORI_ERR_EXISTS;
        }
    return MILORI_OK;
}

static milori_status read_inputs(mil_print_job *job) {
    const mil_options *o = job->options;
    const char *printer = o->given[MIL_OPTION_PRINTER];
    milori_status status = mil_batch_list(job->ctx, o->names, o->count, NULL, &job->batch);
    if (status == MILORI_OK)
        status = refuse_inputs(job);
    if (status == MILORI_OK)
        status = mil_output_new_print(job->ctx, printer ? printer : "", o->choices.intent,
                                      o->choices.black_point, &job->output);
    return status;
}

milori_status mil_print_job_read(milori_context *ctx, const mil_options *options,
                                 mil_print_job *job) {
    *job = (mil_print_job){.ctx = ctx,
                           .options = options,
                           .choices = options->choices,
                           .own = options->own,
                           .file.format = MILORI_TIFF};
    /* Of an earlier positive's choices, those of its file say nothing about a print's. */
    job->choices.profile[0] = job->own.profile[0] = 0;
    job->choices.format = job->own.format = MILORI_TIFF;
    milori_set_memory_limit(ctx, options->memory);
    if (options->pixels)
        milori_set_pixel_limit(ctx, options->pixels);
    milori_set_cancel(ctx, mil_stop_asked, NULL);
    milori_status status = read_file(job);
    if (status == MILORI_OK)
        status = read_page(job);
    return status == MILORI_OK ? read_inputs(job) : status;
}

/* ---- the bar ------------------------------------------------------------------- */

static void tell(double done, void *data) {
    mil_print_job *job = data;
    mil_bar_tell(&job->bar, job->at, job->batch.entry[job->at].name, job->base + job->span * done);
}

void mil_print_job_stage(mil_print_job *job, size_t at, double base, double span) {
    if (!job->bar.done) {
        mil_bar_open(&job->bar, job->batch.count, !job->options->quiet);
        milori_set_progress(job->ctx, tell, job);
    }
    job->at = at;
    job->base = base;
    job->span = span;
}

void mil_print_job_free(mil_print_job *job) {
    milori_set_progress(job->ctx, NULL, NULL);
    mil_bar_close(&job->bar);
    mil_output_free(job->output);
    mil_batch_free(&job->batch);
}

/* ---- pictures ------------------------------------------------------------------ */

mil_picture_wish mil_print_job_wish(const mil_print_job *job, const milori_choices *choices) {
    return (mil_picture_wish){.choices = choices,
                              .palette_chosen =
                                  mil_choice_given(job->options, "palette") || job->options->like,
                              .positive = job->options->given[MIL_OPTION_FINISHED] != NULL,
                              .edge = job->edge};
}

milori_status mil_print_job_allow(const mil_print_job *job, const mil_entry *entry,
                                  const char *choice) {
    static const char *const of_all[] = {"palette",     "turn",  "intent",
                                         "black-point", "depth", "quality"};
    for (size_t k = 0; k < sizeof of_all / sizeof *of_all; k++)
        if (strcmp(choice, of_all[k]) == 0)
            return MILORI_OK;
    return mil_fail(job->ctx, MILORI_ERR_ARGUMENT,
                    "%s: is a finished positive, and %s is for scans: name its scan, or leave "
                    "that out",
                    entry->shown, choice);
}

void mil_print_job_notes(mil_print_job *job, const char *about, const milori_notes *notes) {
    mil_bar_hide(&job->bar);
    if (job->options->quiet)
        return;
    for (size_t i = 0; i < notes->count; i++)
        if (strcmp(notes->note[i].code, "pixels") != 0)
            fprintf(stderr, "%s: %s\n", about, notes->note[i].text);
}

milori_status mil_print_job_open(mil_print_job *job, const mil_entry *entry,
                                 mil_picture **picture) {
    char digest[33] = "";
    milori_status status = MILORI_OK;
    if (job->options->like)
        status = mil_file_digest(job->ctx, entry->path, digest);
    bool own = digest[0] && strcmp(digest, job->options->record.digest) == 0;
    mil_picture_wish wish = mil_print_job_wish(job, own ? &job->own : &job->choices);
    if (status == MILORI_OK)
        status = mil_picture_open(job->ctx, entry->path, &wish, picture);
    bool scan = status != MILORI_OK || mil_picture_is_scan(*picture);
    for (size_t i = 0; !scan && i < job->options->chosen && status == MILORI_OK; i += 2)
        status = mil_print_job_allow(job, entry, job->options->choice[i]);
    if (status == MILORI_OK)
        mil_print_job_notes(job, entry->shown, mil_picture_file_notes(*picture));
    return status;
}

void mil_print_job_made(mil_print_job *job, const char *path) {
    mil_bar_hide(&job->bar);
    char *shown = job->options->quiet ? NULL : mil_printable(path);
    if (shown)
        printf("made %s\n", shown);
    free(shown);
}

int mil_print_job_failed(mil_print_job *job) {
    mil_bar_hide(&job->bar);
    if (mil_stopped())
        return MIL_EXIT_STOPPED;
    mil_error_of(job->ctx);
    milori_status status = milori_failure(job->ctx);
    bool refused = status == MILORI_ERR_ARGUMENT || status == MILORI_ERR_EXISTS;
    return refused ? MIL_EXIT_REFUSED : MIL_EXIT_SOME_FAILED;
}
