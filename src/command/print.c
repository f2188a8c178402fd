/* milori print: a file that a printer or a lab can print as it is. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "command/command.h"
#include "command/messages.h"
#include "command/print_job.h"
#include "print/ink_print.h"

/* Common practice, no source: a print looks sharp in the hand from about 180 of the picture's own
 * px to the inch. */
static const double ENOUGH = 180;

/* ---- what is said before writing ------------------------------------------------- */

static void say_size(mil_print_job *job, const mil_entry *entry, const mil_picture *picture,
                     const mil_layout *l) {
    uint32_t width, height;
    mil_picture_size(picture, &width, &height);
    double given = width / (l->picture_mm[0] / 25.4), wide = fmax(width, height);
    mil_bar_hide(&job->bar);
    if (job->options->quiet)
        return;
    printf("%s: %.1f x %.1f mm, %u x %u px at %g dpi", entry->shown, l->picture_mm[0],
           l->picture_mm[1], l->picture[0], l->picture[1], l->dpi);
    if (!job->layout.no_paper)
        printf(", on paper of %.0f x %.0f mm", l->paper_mm[0], l->paper_mm[1]);
    printf("; the picture has %.0f px an inch there\n", given);
    if (given < ENOUGH)
        fprintf(stderr,
                "%s: too few pixels for this size, fine detail will look soft: for %.0f px an inch "
                "print it %.0f mm long, or scan it at %.0f times the resolution\n",
                entry->shown, ENOUGH, wide / ENOUGH * 25.4, ceil(ENOUGH / given));
}

static milori_status say_gamut(mil_print_job *job, const mil_ink_print *print) {
    char words[1000];
    mil_gamut gamut;
    milori_status status = mil_ink_print_gamut(print, &gamut);
    mil_bar_hide(&job->bar);
    if (status != MILORI_OK || job->options->quiet)
        return status;
    if (!job->file.printer && gamut.outside == 0) {
        puts("in sRGB, for a lab; --printer FILE.icc fits it to your own printer and paper");
    } else {
        mil_gamut_words(&gamut, words, sizeof words);
        fputs(words, stdout);
    }
    return status;
}

/* ---- one picture ----------------------------------------------------------------- */

static milori_status finish(mil_print_job *job, const mil_ink_print *print) {
    const char *look = job->options->given[MIL_OPTION_LOOK];
    milori_status status = say_gamut(job, print);
    fflush(stdout);
    if (status == MILORI_OK && look)
        status = mil_ink_print_look(print, look, job->options->replace);
    if (status == MILORI_OK && look)
        mil_print_job_made(job, look);
    if (status != MILORI_OK || job->options->dry_run)
        return status;
    mil_print_job_stage(job, 0, 0.6, 0.4);
    status = mil_ink_print_write(print, &job->file);
    if (status == MILORI_OK)
        mil_print_job_made(job, job->file.path);
    return status;
}

/* The sheet asked for, or the only one. */
static milori_status take_sheet(mil_print_job *job, const mil_entry *entry, mil_picture *picture) {
    int sheets = mil_picture_sheets(picture);
    mil_picture_wish wish = mil_print_job_wish(job, mil_picture_choices(picture));
    if (job->sheet < 0 && sheets > 1)
        return mil_fail(job->ctx, MILORI_ERR_ARGUMENT,
                        "%s: holds %d sheets; say which with --sheet 1 to %d", entry->shown, sheets,
                        sheets);
    milori_status status =
        job->sheet > 0 ? mil_picture_take(picture, job->sheet, &wish) : MILORI_OK;
    if (status == MILORI_OK)
        mil_print_job_notes(job, entry->shown, mil_picture_notes(picture));
    return status;
}

static int print_one(mil_print_job *job, const mil_entry *entry, mil_picture *picture) {
    uint32_t width, height;
    mil_layout layout;
    mil_ink_print *print = NULL;
    mil_picture_size(picture, &width, &height);
    milori_status status = mil_layout_make(job->ctx, &job->layout, width, height, &layout);
    if (status == MILORI_OK) {
        say_size(job, entry, picture, &layout);
        status =
            mil_ink_print_new(job->ctx, picture, &layout, job->sharpen_mm, job->output, &print);
    }
    if (status == MILORI_OK)
        status = finish(job, print);
    mil_ink_print_free(print);
    return status == MILORI_OK ? MIL_EXIT_WELL : mil_print_job_failed(job);
}

static int print_single(mil_print_job *job) {
    const mil_entry *entry = job->batch.entry;
    mil_picture *picture = NULL;
    if (job->batch.count != 1) {
        if (job->batch.failed == 0)
            mil_error("%zu pictures named: a print is of one; give --contact-sheet to see all",
                      job->batch.count);
        return MIL_EXIT_REFUSED;
    }
    mil_print_job_stage(job, 0, 0, 0.6);
    milori_status status = mil_print_job_open(job, entry, &picture);
    if (status == MILORI_OK)
        status = take_sheet(job, entry, picture);
    int exit_status = status != MILORI_OK                          ? mil_print_job_failed(job)
                      : job->options->given[MIL_OPTION_TEST_STRIP] ? mil_print_strip(job, picture)
                                                                   : print_one(job, entry, picture);
    mil_picture_close(picture);
    return exit_status;
}

int mil_command_print(milori_context *ctx, const mil_options *options) {
    mil_print_job job;
    milori_status status = mil_print_job_read(ctx, options, &job);
    int exit_status = MIL_EXIT_REFUSED;
    if (status != MILORI_OK)
        mil_error_of(ctx);
    else
        exit_status =
            options->given[MIL_OPTION_CONTACT_SHEET] ? mil_print_contact(&job) : print_single(&job);
    mil_print_job_free(&job);
    return exit_status;
}
