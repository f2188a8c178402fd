/* For the tests in Python: fits patches and asks curves, without a picture.
 *
 *   process_tool fit CURVE [PRINTED] < patches   writes CURVE, prints how it went
 *   process_tool ink CURVE COUNT                 ink of COUNT even tones
 *   process_tool lightness CURVE COUNT           L of COUNT even inks
 *
 * Patches are lines "ink L a b sigma x_mm y_mm". */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "print/fit.h"

enum { PATCHES_MOST = 4096 };

static int said(milori_context *ctx) {
    fprintf(stderr, "%s\n", milori_message(ctx));
    return 1;
}

static void read_patches(mil_patches *patches) {
    mil_patch p = {.used = true};
    while (patches->count < PATCHES_MOST && scanf("%lf %lf %lf %lf %lf %lf %lf", &p.ink, &p.L, &p.a,
                                                  &p.b, &p.sigma, &p.x_mm, &p.y_mm) == 7)
        patches->patch[patches->count++] = p;
}

static void print_fit(const mil_fit *f, const mil_process *p, const milori_notes *notes) {
    printf("{\"used\":%zu,\"spoiled\":%zu,\"levels\":%zu,\"repeat\":%.9g,\"missed_mean\":%.9g,"
           "\"missed_worst\":%.9g,\"next_mean\":%.9g,\"next_worst\":%.9g,\"dark_slope\":%.9g,"
           "\"light_slope\":%.9g,\"ink_needed\":%.9g,\"round\":%d,\"coat\":%.9g,\"notes\":[",
           f->used, f->spoiled, f->levels, f->repeat_sigma, f->missed_mean, f->missed_worst,
           f->next_mean, f->next_worst, f->dark_slope, f->light_slope, f->ink_needed, p->round,
           p->round > 1 ? p->coat_sigma : 0);
    for (size_t i = 0; i < notes->count; i++)
        printf("%s\"%s\"", i ? "," : "", notes->note[i].code);
    puts("]}");
}

static int fit(milori_context *ctx, const char *curve, const char *printed_path) {
    static mil_patch patch[PATCHES_MOST];
    mil_patches patches = {.patch = patch, .kind = MIL_TARGET_TONE};
    mil_process process, printed;
    mil_fit how;
    milori_notes notes = {0};
    read_patches(&patches);
    if (printed_path && mil_process_read(ctx, printed_path, &printed) != MILORI_OK)
        return said(ctx);
    milori_status status = mil_fit_process(ctx, "patches", &patches, printed_path ? &printed : NULL,
                                           &process, &how, &notes);
    if (status == MILORI_OK)
        status = mil_process_write(ctx, &process, curve, true);
    if (status == MILORI_OK)
        print_fit(&how, &process, &notes);
    mil_notes_free(&notes);
    return status == MILORI_OK ? 0 : said(ctx);
}

static int ask(milori_context *ctx, const char *what, const char *curve, int count) {
    mil_process p;
    if (count < 2 || mil_process_read(ctx, curve, &p) != MILORI_OK)
        return said(ctx);
    for (int i = 0; i < count; i++) {
        double at = i / (count - 1.0);
        printf("%.17g\n",
               strcmp(what, "ink") == 0 ? mil_process_ink(&p, at) : mil_process_lightness(&p, at));
    }
    return 0;
}

int main(int argc, char **argv) {
    milori_context *ctx = milori_context_new();
    int status = 2;
    if (ctx && argc >= 3 && strcmp(argv[1], "fit") == 0)
        status = fit(ctx, argv[2], argc > 3 ? argv[3] : NULL);
    else if (ctx && argc == 4)
        status = ask(ctx, argv[1], argv[2], atoi(argv[3]));
    milori_context_free(ctx);
    return status;
}
