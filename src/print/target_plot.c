#include "print/target_plot.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "draw/plot.h"

static const char LIGHTNESS[] = "lightness of the print, L*", INK[] = "ink, share of the most";

/* The patches that served, in columns: ink and L. */
typedef struct columns {
    double *x, *y;
    size_t count;
} columns;

static milori_status take(milori_context *ctx, const mil_patches *patches, int group, columns *c) {
    c->x = mil_alloc(ctx, patches->count, sizeof *c->x);
    c->y = mil_alloc(ctx, patches->count, sizeof *c->y);
    c->count = 0;
    if (!c->x || !c->y)
        return MILORI_ERR_MEMORY;
    for (size_t i = 0; i < patches->count; i++)
        if (patches->patch[i].used && (group < 0 || patches->patch[i].group == group)) {
            c->x[c->count] = patches->patch[i].ink;
            c->y[c->count++] = patches->patch[i].L;
        }
    return MILORI_OK;
}

static void drop(columns *c) {
    free(c->x);
    free(c->y);
}

static milori_status plot_tones(milori_context *ctx, const char *title, const mil_patches *patches,
                                const mil_process *p, char **svg, size_t *size) {
    double low[MIL_PROCESS_MOST], high[MIL_PROCESS_MOST];
    columns c;
    milori_status status = take(ctx, patches, -1, &c);
    for (size_t i = 0; i < p->count; i++) {
        low[i] = p->L[i] - 2 * p->sigma[i];
        high[i] = p->L[i] + 2 * p->sigma[i];
    }
    const mil_plot_series series[] = {
        {.kind = MIL_PLOT_BAND,
         .name = "twice its uncertainty",
         .count = p->count,
         .x = p->ink,
         .y = p->L,
         .low = low,
         .high = high},
        {.kind = MIL_PLOT_POINTS, .name = "patches", .count = c.count, .x = c.x, .y = c.y},
        {.kind = MIL_PLOT_LINE,
         .name = "process curve",
         .count = p->count,
         .x = p->ink,
         .y = p->L}};
    const mil_plot plot = {.title = title,
                           .x = {.name = INK, .least = 0, .most = 1},
                           .y = {.name = LIGHTNESS, .least = NAN, .most = NAN},
                           .series = series,
                           .count = 3};
    if (status == MILORI_OK)
        status = mil_plot_svg(ctx, &plot, svg, size);
    drop(&c);
    return status;
}

static milori_status plot_ramps(milori_context *ctx, const char *title, const mil_patches *patches,
                                char **svg, size_t *size) {
    columns c[MIL_TARGET_GROUPS];
    char name[MIL_TARGET_GROUPS][8];
    mil_plot_series series[MIL_TARGET_GROUPS];
    milori_status status = MILORI_OK;
    memset(c, 0, sizeof c);
    for (int g = 0; g < patches->groups && status == MILORI_OK; g++) {
        const double *rgb = patches->group_rgb[g];
        status = take(ctx, patches, g, &c[g]);
        snprintf(name[g], sizeof name[g], "#%x%x%x", (int)(15 * rgb[0] + 0.5) & 15,
                 (int)(15 * rgb[1] + 0.5) & 15, (int)(15 * rgb[2] + 0.5) & 15);
        series[g] = (mil_plot_series){
            .kind = MIL_PLOT_LINE, .name = name[g], .count = c[g].count, .x = c[g].x, .y = c[g].y};
    }
    const mil_plot plot = {.title = title,
                           .x = {.name = INK, .least = 0, .most = 1},
                           .y = {.name = LIGHTNESS, .least = NAN, .most = NAN},
                           .series = series,
                           .count = (size_t)patches->groups};
    if (status == MILORI_OK)
        status = mil_plot_svg(ctx, &plot, svg, size);
    for (int g = 0; g < patches->groups; g++)
        drop(&c[g]);
    return status;
}

static milori_status plot_times(milori_context *ctx, const char *title, const mil_patches *patches,
                                const mil_time_answer *a, char **svg, size_t *size) {
    double time[MIL_TARGET_GROUPS], low[MIL_TARGET_GROUPS], high[MIL_TARGET_GROUPS];
    for (int i = 0; i < a->strips; i++) {
        time[i] = pow(2, patches->stops * i);
        low[i] = a->L[i] - 2 * a->sigma[i];
        high[i] = a->L[i] + 2 * a->sigma[i];
    }
    static const char *const words[] = {"expose for this"};
    const mil_plot_series series[] = {{.kind = MIL_PLOT_POINTS,
                                       .name = "under clear film",
                                       .count = (size_t)a->strips,
                                       .x = time,
                                       .y = a->L,
                                       .low = low,
                                       .high = high},
                                      {.kind = MIL_PLOT_POINTS,
                                       .name = "expose for this",
                                       .count = 1,
                                       .x = &time[a->strip],
                                       .y = &a->L[a->strip],
                                       .words = words},
                                      {.kind = MIL_PLOT_POINTS,
                                       .name = "without film",
                                       .count = (size_t)a->strips,
                                       .x = time,
                                       .y = a->bare_L}};
    const mil_plot plot = {.title = title,
                           .x = {.name = "time, that of the shortest strip 1",
                                 .logarithmic = true,
                                 .least = NAN,
                                 .most = NAN},
                           .y = {.name = LIGHTNESS, .least = NAN, .most = NAN},
                           .series = series,
                           .count = a->bare_strip >= 0 ? 3 : 2};
    return mil_plot_svg(ctx, &plot, svg, size);
}

milori_status mil_target_plot(milori_context *ctx, const char *title, const mil_patches *patches,
                              const mil_process *process, const mil_time_answer *answer, char **svg,
                              size_t *size) {
    if (patches->kind == MIL_TARGET_TONE)
        return plot_tones(ctx, title, patches, process, svg, size);
    if (patches->kind == MIL_TARGET_INK)
        return plot_ramps(ctx, title, patches, svg, size);
    return plot_times(ctx, title, patches, answer, svg, size);
}
