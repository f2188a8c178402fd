/* milori print --contact-sheet, and --test-strip: pages to look at before a big print. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/messages.h"
#include "command/print_job.h"
#include "print/contact_sheet.h"
#include "print/test_strip.h"

/* Writes a page of the printer's codes and says so. */
static milori_status write_page(mil_print_job *job, mil_canvas *canvas) {
    mil_page_file file = job->file;
    file.dpi = job->layout.dpi;
    file.output = job->output;
    milori_status status =
        job->options->dry_run ? MILORI_OK : mil_page_write(job->ctx, canvas, NULL, &file);
    if (status == MILORI_OK && !job->options->dry_run)
        mil_print_job_made(job, file.path);
    return status;
}

/* ---- contact sheet ---------------------------------------------------------------- */

/* One sheet; its number stands in its name where there are more. */
static milori_status add_sheet(mil_print_job *job, mil_contact *contact, const mil_entry *entry,
                               mil_picture *picture, int sheet) {
    int of = mil_picture_sheets(picture);
    mil_picture_wish wish = mil_print_job_wish(job, mil_picture_choices(picture));
    milori_status status = sheet > 0 ? mil_picture_take(picture, sheet, &wish) : MILORI_OK;
    size_t size = strlen(entry->name) + 16;
    char *name = mil_alloc(job->ctx, size, 1);
    if (!name)
        return MILORI_ERR_MEMORY;
    if (of > 1)
        snprintf(name, size, "%s, %d", entry->name, sheet + 1);
    else
        snprintf(name, size, "%s", entry->name);
    if (status == MILORI_OK)
        status = mil_contact_add(contact, picture, name);
    free(name);
    return status;
}

/* One bad file never stops the rest. */
static milori_status add_entry(mil_print_job *job, mil_contact *contact, const mil_entry *entry,
                               int *failed) {
    mil_picture *picture = NULL;
    milori_status status = mil_print_job_open(job, entry, &picture);
    for (int i = 0; status == MILORI_OK && i < mil_picture_sheets(picture); i++)
        status = add_sheet(job, contact, entry, picture, i);
    mil_picture_close(picture);
    if (status == MILORI_OK || mil_stopped())
        return status;
    mil_bar_hide(&job->bar);
    mil_error_of(job->ctx);
    milori_clear(job->ctx);
    ++*failed;
    return MILORI_OK;
}

static milori_status all_entries(mil_print_job *job, mil_contact *contact, int *failed) {
    milori_status status = MILORI_OK;
    for (size_t i = 0; i < job->batch.count && status == MILORI_OK; i++) {
        mil_print_job_stage(job, i, 0, 1);
        status = add_entry(job, contact, &job->batch.entry[i], failed);
        mil_bar_ended(&job->bar, i);
    }
    return status;
}

int mil_print_contact(mil_print_job *job) {
    mil_contact *contact = NULL;
    mil_canvas *canvas = NULL;
    int bad = job->batch.failed;
    if (job->layout.no_paper || job->batch.count == 0) {
        mil_error(job->batch.count ? "a contact sheet needs paper; name one"
                                   : "no picture for a contact sheet; name some");
        return MIL_EXIT_REFUSED;
    }
    milori_status status =
        mil_contact_new(job->ctx, &job->layout, job->output, job->batch.count, &contact);
    if (status == MILORI_OK)
        status = all_entries(job, contact, &bad);
    size_t count = contact ? mil_contact_count(contact) : 0;
    if (status == MILORI_OK && count > 0)
        status = mil_contact_draw(contact, &canvas);
    if (status == MILORI_OK && count > 0)
        status = write_page(job, canvas);
    if (status == MILORI_OK && !job->options->quiet)
        printf("%zu picture%s on the page, %d failed\n", count, count == 1 ? "" : "s", bad);
    mil_canvas_free(canvas);
    mil_contact_free(contact);
    if (status != MILORI_OK)
        return mil_print_job_failed(job);
    return bad ? MIL_EXIT_SOME_FAILED : MIL_EXIT_WELL;
}

/* ---- test strip ------------------------------------------------------------------- */

/* What the strips' page says at its foot: the picture, the paper's profile, the size. */
static char *foot_of(const mil_print_job *job, const mil_picture *picture) {
    char profile[128];
    uint32_t width, height;
    double mm[2];
    mil_output_name(job->output, profile, sizeof profile);
    mil_picture_size(picture, &width, &height);
    mil_layout_picture(&job->layout, width, height, mm);
    const char *name = job->batch.entry[0].name;
    size_t size = strlen(name) + strlen(profile) + 96;
    char *foot = mil_alloc(job->ctx, size, 1);
    if (foot)
        snprintf(foot, size, "%s, from a print of %.0f x %.0f mm, %s", name, mm[0], mm[1], profile);
    return foot;
}

static milori_status read_strips(mil_print_job *job, const milori_choices *choices,
                                 mil_variation *vary) {
    const char *text = job->options->given[MIL_OPTION_TEST_STRIP];
    milori_status status = mil_variation_read(job->ctx, "test-strip", text, choices, vary);
    if (status != MILORI_OK || mil_variation_of_tones(vary))
        return status;
    return mil_fail_option(job->ctx, "test-strip", text,
                           "a choice of tones or colours: stops, grade, palette ...");
}

int mil_print_strip(mil_print_job *job, mil_picture *picture) {
    const mil_options *o = job->options;
    const char *printer = o->given[MIL_OPTION_PRINTER];
    const milori_choices *choices = mil_picture_choices(picture);
    mil_strip_wish wish = {
        .layout = job->layout, .sharpen_mm = job->sharpen_mm, .printer = printer ? printer : ""};
    mil_canvas *canvas = NULL;
    milori_choices *base = mil_alloc(job->ctx, 1, sizeof *base);
    char *foot = base ? foot_of(job, picture) : NULL;
    milori_status status = MILORI_ERR_MEMORY;
    if (foot) {
        *base = *choices;
        wish.foot = foot;
        status = read_strips(job, base, &wish.vary);
    }
    if (status == MILORI_OK && !mil_picture_is_scan(picture))
        status = mil_print_job_allow(job, &job->batch.entry[0], wish.vary.choice->name);
    if (status == MILORI_OK) {
        mil_picture_wish under = mil_print_job_wish(job, base);
        status = mil_strip_draw(job->ctx, picture, job->sheet > 0 ? job->sheet : 0, &under, &wish,
                                &canvas);
    }
    if (status == MILORI_OK)
        status = write_page(job, canvas);
    mil_canvas_free(canvas);
    mil_variation_free(&wish.vary);
    free(foot);
    free(base);
    return status == MILORI_OK ? MIL_EXIT_WELL : mil_print_job_failed(job);
}
