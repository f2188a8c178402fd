/* milori proof: one sheet under several choices on one labelled page. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/command.h"
#include "command/messages.h"
#include "print/page_write.h"
#include "print/paper.h"
#include "tone/variation.h"
#include "view/proof.h"

typedef struct job {
    milori_context *ctx;
    const mil_options *options;
    mil_variation vary, by; /* by: the second of two */
    mil_proof proof;
    mil_proof_tile tile[MIL_PROOF_MOST];
    char *words[MIL_PROOF_MOST];
    int sheet; /* from 0 */
    mil_page_file file;
} job;

/* ---- options ---------------------------------------------------------------------- */

static milori_status read_format(job *j) {
    const char *path = j->options->output;
    milori_format format;
    if (!path)
        return mil_fail(j->ctx, MILORI_ERR_ARGUMENT, "no file for the proof; give -o FILE");
    if (mil_format_of_name(path, &format)) {
        j->file = (mil_page_file){.path = path,
                                  .format = format,
                                  .bits = 8,
                                  .quality = 92,
                                  .replace = j->options->replace};
        return MILORI_OK;
    }
    char *shown = mil_printable(path);
    milori_status status =
        mil_fail(j->ctx, MILORI_ERR_ARGUMENT,
                 "%s: end its name in .png, .tif, .jpg or .pdf, that says what is written",
                 shown ? shown : "the proof");
    free(shown);
    return status;
}

static milori_status read_page(job *j) {
    const char *const *given = j->options->given;
    const char *paper = given[MIL_OPTION_PAPER] ? given[MIL_OPTION_PAPER] : "a4-across";
    double mm[2], dpi = 200, sheet = 1;
    if (given[MIL_OPTION_PRINT_DPI] &&
        (!mil_parse_number(given[MIL_OPTION_PRINT_DPI], &dpi) || dpi < 72 || dpi > 600))
        return mil_fail(j->ctx, MILORI_ERR_ARGUMENT, "--print-dpi takes a number from 72 to 600");
    if (given[MIL_OPTION_SHEET] && (!mil_parse_number(given[MIL_OPTION_SHEET], &sheet) ||
                                    sheet < 1 || sheet > 9999 || sheet != (int)sheet))
        return mil_fail(j->ctx, MILORI_ERR_ARGUMENT, "--sheet takes a whole number from 1");
    j->sheet = (int)sheet - 1;
    milori_status status = mil_paper_size(j->ctx, paper, mm);
    if (status != MILORI_OK)
        return status;
    j->proof.page[0] = mil_px_of_mm(mm[0], dpi);
    j->proof.page[1] = mil_px_of_mm(mm[1], dpi);
    j->proof.dpi = j->file.dpi = dpi;
    return MILORI_OK;
}

static milori_status read_variations(job *j) {
    const char *const *given = j->options->given;
    const char *strip = given[MIL_OPTION_TEST_STRIP], *vary = given[MIL_OPTION_VARY];
    const char *by = given[MIL_OPTION_BY];
    if (strip && (vary || by))
        return mil_fail(j->ctx, MILORI_ERR_ARGUMENT,
                        "--test-strip varies one choice alone; leave --vary and --by out");
    if (by && !vary)
        return mil_fail(j->ctx, MILORI_ERR_ARGUMENT, "--by is the second of two; give --vary too");
    milori_status status = MILORI_OK;
    j->proof.strips = strip != NULL;
    if (strip)
        status = mil_variation_read(j->ctx, "test-strip", strip, &j->options->own, &j->vary);
    else if (vary)
        status = mil_variation_read(j->ctx, "vary", vary, &j->options->own, &j->vary);
    if (status == MILORI_OK && strip && !mil_variation_of_tones(&j->vary))
        return mil_fail_option(j->ctx, "test-strip", strip,
                               "a choice of tones or colours: stops, grade, palette ...");
    if (status == MILORI_OK && by)
        status = mil_variation_read(j->ctx, "by", by, &j->options->own, &j->by);
    if (status == MILORI_OK && by && j->by.choice == j->vary.choice)
        return mil_fail(j->ctx, MILORI_ERR_ARGUMENT, "--vary and --by are of two choices, not one");
    return status;
}

/* ---- tiles ------------------------------------------------------------------------- */

static milori_status add_tile(job *j, const milori_choices *choices, const char *words) {
    if (j->proof.count == MIL_PROOF_MOST)
        return mil_fail(j->ctx, MILORI_ERR_ARGUMENT, "%d pictures at most on a proof",
                        MIL_PROOF_MOST);
    char *copy = mil_strdup(j->ctx, words);
    if (!copy)
        return MILORI_ERR_MEMORY;
    j->words[j->proof.count] = copy;
    j->tile[j->proof.count++] = (mil_proof_tile){copy, *choices};
    return MILORI_OK;
}

/* "--stops -0.5 --grade 2" */
static milori_status add_varied(job *j, size_t i, size_t k) {
    char words[256];
    milori_choices choices = j->options->own;
    milori_status status = mil_variation_set(j->ctx, &j->vary, i, &choices);
    int used = snprintf(words, sizeof words, "--%s %s", j->vary.choice->name, j->vary.text[i]);
    if (status == MILORI_OK && j->by.choice) {
        status = mil_variation_set(j->ctx, &j->by, k, &choices);
        snprintf(words + used, sizeof words - (size_t)used, " --%s %s", j->by.choice->name,
                 j->by.text[k]);
    }
    return status == MILORI_OK ? add_tile(j, &choices, words) : status;
}

static milori_status vary_all(job *j) {
    milori_status status = MILORI_OK;
    size_t rows = j->by.choice ? j->by.count : 1;
    for (size_t k = 0; k < rows && status == MILORI_OK; k++)
        for (size_t i = 0; i < j->vary.count && status == MILORI_OK; i++)
            status = add_varied(j, i, k);
    if (j->by.choice)
        j->proof.columns = j->vary.count;
    return status;
}

/* The names after the scan are choices files, or positives that hold theirs. */
static milori_status add_files(job *j) {
    const mil_options *o = j->options;
    milori_status status = MILORI_OK;
    for (size_t i = 1; i < o->count && status == MILORI_OK; i++) {
        mil_record record = {.choices = o->choices};
        status = mil_like_read(j->ctx, o->names[i], &record);
        if (status != MILORI_OK)
            break;
        mil_choices_forget_sheet(&record.choices);
        char *shown = mil_printable(o->names[i]), words[512];
        snprintf(words, sizeof words, "--like %s", shown ? shown : "this");
        status = add_tile(j, &record.choices, words);
        free(shown);
    }
    return status;
}

static milori_status gather(job *j) {
    milori_status status = MILORI_OK;
    if (j->vary.choice)
        status = vary_all(j);
    if (status == MILORI_OK)
        status = add_files(j);
    if (status != MILORI_OK || j->proof.count)
        return status;
    /* Nothing asked for: all palettes. */
    status = mil_variation_read(j->ctx, "vary", "palette", &j->options->own, &j->vary);
    return status == MILORI_OK ? vary_all(j) : status;
}

/* ---- the page ------------------------------------------------------------------------ */

static milori_status write_page(job *j, mil_canvas *canvas) {
    mil_output *output = NULL;
    milori_status status = mil_output_new(j->ctx, "", MILORI_RELATIVE, true, &output);
    j->file.output = output;
    if (status == MILORI_OK)
        status = mil_page_write(j->ctx, canvas, NULL, &j->file);
    mil_output_free(output);
    if (status == MILORI_OK && !j->options->quiet) {
        char *shown = mil_printable(j->file.path);
        printf("made %s\n", shown ? shown : "the proof");
        free(shown);
    }
    return status;
}

static milori_status make(job *j) {
    char title[600];
    mil_session *session = NULL;
    mil_canvas *canvas = NULL;
    char *shown = mil_printable(j->options->names[0]);
    const mil_session_scan scan = {j->options->names[0], shown ? shown : "the scan", ""};
    if (j->sheet)
        snprintf(title, sizeof title, "%s, sheet %d", scan.shown, j->sheet + 1);
    else
        snprintf(title, sizeof title, "%s", scan.shown);
    j->proof.title = title;
    j->proof.tile = j->tile;
    milori_status status = mil_session_new(j->ctx, &scan, 1, "", &j->tile[0].choices, &session);
    if (status == MILORI_OK)
        status = mil_proof_draw(j->ctx, session, 0, j->sheet, &j->proof, &canvas);
    mil_session_free(session);
    if (status == MILORI_OK)
        status = write_page(j, canvas);
    mil_canvas_free(canvas);
    free(shown);
    return status;
}

int mil_command_proof(milori_context *ctx, const mil_options *options) {
    job *j = mil_alloc(ctx, 1, sizeof *j);
    milori_status status = j ? MILORI_OK : MILORI_ERR_MEMORY;
    milori_set_memory_limit(ctx, options->memory);
    if (options->pixels)
        milori_set_pixel_limit(ctx, options->pixels);
    milori_set_cancel(ctx, mil_stop_asked, NULL);
    if (j) {
        j->ctx = ctx;
        j->options = options;
        status = read_format(j);
    }
    if (status == MILORI_OK)
        status = read_page(j);
    if (status == MILORI_OK)
        status = read_variations(j);
    if (status == MILORI_OK)
        status = gather(j);
    if (status == MILORI_OK)
        status = make(j);
    if (status != MILORI_OK)
        mil_error_of(ctx);
    for (int i = 0; j && i < MIL_PROOF_MOST; i++)
        free(j->words[i]);
    if (j) {
        mil_variation_free(&j->vary);
        mil_variation_free(&j->by);
    }
    free(j);
    return status == MILORI_OK             ? MIL_EXIT_WELL
           : mil_stopped()                 ? MIL_EXIT_STOPPED
           : status == MILORI_ERR_ARGUMENT ? MIL_EXIT_REFUSED
                                           : MIL_EXIT_SOME_FAILED;
}
