#include "print/process_plot.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "draw/plot.h"

/* Patches, ink in per cent: those used and, after them, those left out. */
typedef struct dots {
    double *ink, *L;
    const char **why;
    size_t used, spoiled;
} dots;

static milori_status take_dots(milori_context *ctx, const mil_patches *patches, dots *d) {
    size_t n = patches ? patches->count : 0;
    *d = (dots){0};
    d->ink = mil_alloc(ctx, n + 1, 2 * sizeof *d->ink);
    d->why = mil_alloc(ctx, n + 1, sizeof *d->why);
    if (!d->ink || !d->why)
        return MILORI_ERR_MEMORY;
    d->L = d->ink + n;
    for (int spoiled = 0; spoiled < 2; spoiled++)
        for (size_t i = 0; i < n; i++) {
            const mil_patch *p = &patches->patch[i];
            if (p->used == (spoiled == 1) || !isfinite(p->L))
                continue;
            size_t at = d->used + d->spoiled;
            d->ink[at] = 100 * p->ink;
            d->L[at] = p->L;
            d->why[at] = p->why ? p->why : "";
            d->used += !spoiled;
            d->spoiled += spoiled == 1;
        }
    return MILORI_OK;
}

milori_status mil_process_plot(milori_context *ctx, const mil_process *process,
                               const mil_patches *patches, char **svg, size_t *size) {
    double ink[MIL_PROCESS_MOST], low[MIL_PROCESS_MOST], high[MIL_PROCESS_MOST];
    for (size_t i = 0; i < process->count; i++) {
        ink[i] = 100 * process->ink[i];
        low[i] = process->L[i] - 2 * process->sigma[i];
        high[i] = process->L[i] + 2 * process->sigma[i];
    }
    dots d;
    milori_status status = take_dots(ctx, patches, &d);
    const mil_plot_series series[] = {
        {.kind = MIL_PLOT_BAND,
         .name = "twice its uncertainty",
         .count = process->count,
         .x = ink,
         .y = process->L,
         .low = low,
         .high = high},
        {.kind = MIL_PLOT_LINE,
         .name = "curve",
         .count = process->count,
         .x = ink,
         .y = process->L},
        {.kind = MIL_PLOT_POINTS, .name = "patches", .count = d.used, .x = d.ink, .y = d.L},
        {.kind = MIL_PLOT_POINTS,
         .name = "left out",
         .count = d.spoiled,
         .x = d.ink ? d.ink + d.used : NULL,
         .y = d.ink ? d.L + d.used : NULL,
         .words = d.why ? d.why + d.used : NULL}};
    char title[200];
    snprintf(title, sizeof title, "%s%sround %d", process->name, process->name[0] ? ", " : "",
             process->round);
    const mil_plot plot = {.title = title,
                           .x = {.name = "ink, per cent", .least = -2, .most = 102},
                           .y = {.name = "L* of the print", .least = NAN, .most = NAN},
                           .series = series,
                           .count = d.spoiled ? 4
                                    : d.used  ? 3
                                              : 2};
    if (status == MILORI_OK)
        status = mil_plot_svg(ctx, &plot, svg, size);
    free(d.ink);
    free(d.why);
    return status;
}
