/* milori target make */
#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/target_parts.h"
#include "print/paper.h"

static const char *given(const mil_options *options, mil_option_key key, const char *otherwise) {
    return options->given[key] ? options->given[key] : otherwise;
}

static milori_status number(milori_context *ctx, const mil_options *options, mil_option_key key,
                            const char *name, double otherwise, double least, double most,
                            double *value) {
    const char *text = options->given[key];
    *value = otherwise;
    if (!text || (mil_parse_number(text, value) && *value >= least && *value <= most))
        return MILORI_OK;
    return mil_fail(ctx, MILORI_ERR_ARGUMENT, "--%s takes a number from %g to %g", name, least,
                    most);
}

static milori_status read_ink(milori_context *ctx, const char *text, int ink[3]) {
    const char *digit = text[0] == '#' ? text + 1 : text;
    bool right = strlen(digit) == 3;
    for (int i = 0; i < 3 && right; i++) {
        right = isxdigit((unsigned char)digit[i]) != 0;
        char one[2] = {digit[i], 0};
        ink[i] = (int)strtol(one, NULL, 16);
    }
    if (!right)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "--ink takes three digits 0 to f for red, green and blue: \"#000\" is "
                        "black, \"#0f0\" green");
    if (ink[0] + ink[1] + ink[2] == 45)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT, "--ink: \"#fff\" is no ink; give a darker one");
    return MILORI_OK;
}

/* By the file's name, whose letters' case does not matter. */
static milori_status format_of(milori_context *ctx, const char *path, milori_format *format) {
    if (mil_format_of_name(path, format) && *format != MILORI_JPEG)
        return MILORI_OK;
    char *shown = mil_printable(path);
    milori_status status = mil_fail(ctx, MILORI_ERR_ARGUMENT,
                                    "%s: what kind of film file? end its name in .tif, .png or "
                                    ".pdf",
                                    shown ? shown : "the output");
    free(shown);
    return status;
}

static milori_status read_wish(milori_context *ctx, const mil_options *options,
                               mil_target_wish *wish, mil_target_film *film) {
    double shuffle, strips;
    film->film_name = given(options, MIL_OPTION_PAPER, "a5");
    film->replace = options->replace;
    if (!mil_target_kind_of(given(options, MIL_OPTION_KIND, "tone"), &wish->kind))
        return mil_fail(ctx, MILORI_ERR_ARGUMENT, "--kind takes time, ink or tone");
    milori_status status = format_of(ctx, options->output, &film->format);
    if (status == MILORI_OK)
        status = mil_paper_size(ctx, film->film_name, wish->film_mm);
    if (status == MILORI_OK)
        status =
            number(ctx, options, MIL_OPTION_PRINT_DPI, "print-dpi", 360, 100, 2880, &film->dpi);
    if (status == MILORI_OK)
        status = number(ctx, options, MIL_OPTION_NOISE, "noise", 1, 0.1, 20, &wish->noise);
    if (status == MILORI_OK)
        status = number(ctx, options, MIL_OPTION_SHUFFLE, "shuffle", 0, 0, MIL_TARGET_SHUFFLES - 1,
                        &shuffle);
    if (status == MILORI_OK)
        status = number(ctx, options, MIL_OPTION_STRIP_STOPS, "strip-stops", 0.5, 0.5, 1, &strips);
    if (status != MILORI_OK)
        return status;
    wish->seed = (unsigned)shuffle;
    wish->half_stops = strips < 0.75 ? 1 : 2;
    memcpy(film->film_mm, wish->film_mm, sizeof film->film_mm);
    return read_ink(ctx, given(options, MIL_OPTION_INK, "#000"), wish->ink);
}

static void say(const mil_options *options, const mil_target *t, const mil_target_film *film) {
    static const char *const next[] = {
        "expose strip by strip as the film says, wash, dry, let it darken for a day, scan",
        "expose for the time that the time sheet gave, wash, dry, let it darken for a day, scan",
        "expose for the time that the time sheet gave, wash, dry, let it darken for a day, scan"};
    if (options->quiet)
        return;
    char *shown = mil_printable(options->output);
    printf("%s: %s target, %d x %d cells, %.4g x %.4g mm at %.4g dpi\n", shown ? shown : "film",
           mil_target_kind_name(t->kind), t->columns, t->rows, film->film_mm[0], film->film_mm[1],
           film->dpi);
    free(shown);
    puts("  Print it on clear film at 100 %, colour management off. It is mirrored already: a\n"
         "  driver that mirrors for film must not do so once more. Lay the ink against the\n"
         "  coating; the words then read right. Coat wider than the film.");
    printf("  Then: %s.\n", next[t->kind]);
}

milori_status mil_target_make(milori_context *ctx, const mil_options *options) {
    mil_target_wish wish = {0};
    mil_target_film film = {0};
    mil_target target;
    static mil_process process;
    milori_status status = read_wish(ctx, options, &wish, &film);
    const char *curve = options->given[MIL_OPTION_PROCESS];
    if (status == MILORI_OK && curve) {
        status = mil_process_read(ctx, curve, &process);
        wish.curved = true;
        film.process = &process;
    }
    if (status == MILORI_OK && curve && wish.kind != MIL_TARGET_TONE)
        status = mil_fail(ctx, MILORI_ERR_ARGUMENT, "--process is for tone targets alone");
    if (status == MILORI_OK)
        status = mil_target_plan(ctx, &wish, &target);
    if (status == MILORI_OK)
        status = mil_target_write(ctx, &target, &film, options->output);
    if (status == MILORI_OK)
        say(options, &target, &film);
    return status;
}
