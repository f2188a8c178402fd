/* milori target read */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/messages.h"
#include "command/target_parts.h"
#include "print/target_plot.h"
#include "scan/sink.h"

static void say_time(const mil_patches *patches, const mil_time_answer *a) {
    printf("strip   time     L*      +-\n");
    for (int i = 0; i < a->strips; i++)
        printf("%5d %6.2f %6.1f %7.2f%s\n", a->turned ? a->strips - i : i + 1,
               pow(2, patches->stops * i), a->L[i], a->sigma[i],
               i == a->strip ? "   <- expose for this" : "");
    printf(
        "From strip %d on no later one is darker by %.1f L* or more: its time is the shortest\n"
        "that gives the deepest blue through clear film, %.2f times that of the shortest strip.\n",
        a->turned ? a->strips - a->strip : a->strip + 1, a->just,
        pow(2, patches->stops * a->strip));
    if (a->strip == 0)
        puts("Even the shortest did: print the sheet once more with shorter times.");
    if (a->turned)
        puts("Strip 1 had most time here: the strips were taken in the other order.");
    if (a->bare_strip >= 0)
        printf("Without film strip %d does it: the film itself costs about %.1f stops.\n",
               a->turned ? a->strips - a->bare_strip : a->bare_strip + 1,
               patches->stops * (a->strip - a->bare_strip));
}

static void say_inks(const mil_ink_answer *a) {
    printf("ink     L* from     to   whitest from\n");
    for (int i = 0; i < a->ramps; i++) {
        const mil_ramp *r = &a->ramp[i];
        char needed[32] = "not reached";
        if (r->covers)
            snprintf(needed, sizeof needed, "%.0f %% ink", 100 * r->needed);
        printf("#%x%x%x %10.1f %6.1f   %s%s\n", (int)(15 * r->rgb[0] + 0.5),
               (int)(15 * r->rgb[1] + 0.5), (int)(15 * r->rgb[2] + 0.5), r->dark_L, r->light_L,
               needed, i == a->best ? "   <- take this" : "");
    }
    const mil_ramp *best = &a->ramp[a->best];
    if (best->covers)
        printf("Its range just covers the process's scale; an ink that is whitest from less ink on "
               "wastes\nthe rest of its tones. Make the tone target with --ink '#%x%x%x'.\n",
               (int)(15 * best->rgb[0] + 0.5), (int)(15 * best->rgb[1] + 0.5),
               (int)(15 * best->rgb[2] + 0.5));
}

static void say_fit(const mil_patches *patches, const mil_fit *fit, const mil_process *process) {
    printf("%zu of %zu patches, %zu tones; like ones differ by %.2f L*; %.1f L* of uneven coat or "
           "light taken off\n",
           fit->used, patches->count, fit->levels, fit->repeat_sigma, patches->uneven);
    printf(
        "round %d: L* %.1f to %.1f; tones lie %.1f L* off even ones in the mean, %.1f at worst\n",
        process->round, process->blue_lab[0], process->paper_lab[0], fit->missed_mean,
        fit->missed_worst);
    printf("another round on a like coat would still change them by %.1f L* in the mean, %.1f at "
           "worst\n",
           fit->next_mean, fit->next_worst);
}

/* Everything that one reading holds. */
typedef struct reading {
    mil_target target;
    mil_patches patches;
    milori_notes notes;
    mil_time_answer time;
    mil_ink_answer ink;
    mil_fit fit;
    mil_process printed, process;
} reading;

static milori_status answer(milori_context *ctx, const mil_options *options, const char *shown,
                            reading *r) {
    const char *name = options->given[MIL_OPTION_NAME];
    if (r->target.kind != MIL_TARGET_TONE && options->output)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "%s: this is %s %s target, which gives no curve; leave -o out", shown,
                        r->target.kind == MIL_TARGET_INK ? "an" : "a",
                        mil_target_kind_name(r->target.kind));
    if (r->target.kind == MIL_TARGET_TIME)
        return mil_time_answer_of(ctx, shown, &r->patches, &r->time);
    if (r->target.kind == MIL_TARGET_INK)
        return mil_ink_answer_of(ctx, shown, &r->patches, &r->ink);
    milori_status status =
        mil_fit_process(ctx, shown, &r->patches, r->target.curved ? &r->printed : NULL, &r->process,
                        &r->fit, &r->notes);
    if (status == MILORI_OK && name)
        snprintf(r->process.name, sizeof r->process.name, "%s", name);
    if (status == MILORI_OK && options->output)
        status = mil_process_write(ctx, &r->process, options->output, options->replace);
    return status;
}

static milori_status plot(milori_context *ctx, const mil_options *options, const char *shown,
                          const reading *r) {
    char *svg = NULL;
    size_t size;
    if (!options->given[MIL_OPTION_PLOT])
        return MILORI_OK;
    milori_status status =
        mil_target_plot(ctx, shown, &r->patches, &r->process, &r->time, &svg, &size);
    if (status == MILORI_OK)
        status = mil_write_file(ctx, options->given[MIL_OPTION_PLOT], svg, size, options->replace);
    free(svg);
    return status;
}

static milori_status say_json(milori_context *ctx, const reading *r) {
    mil_target_told told = {.target = &r->target, .patches = &r->patches, .notes = &r->notes};
    told.time = r->target.kind == MIL_TARGET_TIME ? &r->time : NULL;
    told.ink = r->target.kind == MIL_TARGET_INK ? &r->ink : NULL;
    told.fit = r->target.kind == MIL_TARGET_TONE ? &r->fit : NULL;
    return mil_target_print_json(ctx, &told);
}

static void say_all(const mil_options *options, const char *shown, const reading *r) {
    if (options->quiet)
        return;
    for (size_t i = 0; i < r->notes.count; i++)
        fprintf(stderr, "%s: %s\n", shown, r->notes.note[i].text);
    if (r->target.kind == MIL_TARGET_TIME)
        say_time(&r->patches, &r->time);
    else if (r->target.kind == MIL_TARGET_INK)
        say_inks(&r->ink);
    else
        say_fit(&r->patches, &r->fit, &r->process);
}

milori_status mil_target_read_print(milori_context *ctx, const mil_options *options) {
    const char *scan = options->names[1], *curve = options->given[MIL_OPTION_PROCESS];
    reading *r = mil_alloc(ctx, 1, sizeof *r);
    char *shown = mil_printable(scan);
    milori_status status = r && shown ? MILORI_OK : MILORI_ERR_MEMORY;
    if (status == MILORI_OK && curve)
        status = mil_process_read(ctx, curve, &r->printed);
    if (status == MILORI_OK)
        status = mil_target_read(ctx, scan, options->choices.dpi, curve ? &r->printed : NULL,
                                 &r->notes, &r->target, &r->patches);
    if (status == MILORI_OK)
        status = answer(ctx, options, shown, r);
    if (status == MILORI_OK)
        status = plot(ctx, options, shown, r);
    if (status == MILORI_OK && options->json)
        status = say_json(ctx, r);
    else if (status == MILORI_OK)
        say_all(options, shown, r);
    if (r) {
        mil_patches_free(&r->patches);
        mil_notes_free(&r->notes);
    }
    free(r);
    free(shown);
    return status;
}
