/* A series: its sheets and the notes of each. */
#include "view/series.h"

#include <stdlib.h>
#include <string.h>

static const char *own_name(const char *path) {
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* The path that a sheet of several would have as a file of its own: "beds-2.tif". */
static char *own_path(milori_context *ctx, const char *path, const milori_sheet *sheet) {
    const char *name = own_name(path), *dot = strrchr(name, '.');
    size_t stem = dot && dot != name ? (size_t)(dot - path) : strlen(path);
    size_t room = strlen(path) + 16;
    char *own = mil_alloc(ctx, room, 1);
    if (own && sheet->of > 1)
        snprintf(own, room, "%.*s-%d%s", (int)stem, path, sheet->number, path + stem);
    else if (own)
        memcpy(own, path, strlen(path));
    return own;
}

milori_status mil_series_add(milori_context *ctx, mil_series *series, const char *path,
                             const milori_sheet *sheet) {
    /* Powers of two: grown when one is full. */
    if ((series->count & (series->count - 1)) == 0) {
        size_t room = series->count ? 2 * series->count : 1;
        mil_series_sheet *grown = realloc(series->sheet, room * sizeof *grown);
        if (!grown)
            return mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: name fewer scans at once");
        series->sheet = grown;
    }
    mil_series_sheet *to = &series->sheet[series->count];
    *to = (mil_series_sheet){.path = mil_strdup(ctx, path),
                             .own = own_path(ctx, path, sheet),
                             .light = -1,
                             .sheet = *sheet};
    to->name = to->own ? mil_printable(own_name(to->own)) : NULL;
    series->count++;
    return to->path && to->own && to->name
               ? MILORI_OK
               : mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: name fewer scans at once");
}

/* Its own sheet before its scan. */
static int fits(const mil_noted *noted, const mil_series_sheet *sheet) {
    int own = sheet->sheet.of > 1 ? mil_noted_fits(noted->file, sheet->own) : 0;
    return own ? 3 + own : mil_noted_fits(noted->file, sheet->path);
}

/* best: of each note, over all sheets. A note that fits one sheet well is not of another that it
 * fits badly. */
static void match_sheet(const mil_series *series, const int *best, mil_series_sheet *sheet,
                        milori_notes *said) {
    const mil_noted *second = NULL;
    int most = 0;
    for (size_t i = 0; i < series->notes->count; i++) {
        const mil_noted *noted = &series->notes->row[i];
        int fit = fits(noted, sheet);
        if (fit == 0 || fit < best[i] || fit < most)
            continue;
        second = fit == most ? sheet->noted : NULL;
        sheet->noted = noted;
        most = fit;
    }
    if (second) {
        mil_note(said, "notes", "%s: lines %zu and %zu fit it alike; note it with its folder",
                 sheet->name, second->line, sheet->noted->line);
        sheet->noted = NULL;
    } else if (!sheet->noted) {
        mil_note(said, "notes", "%s: has no notes", sheet->name);
    }
}

milori_status mil_series_match(milori_context *ctx, mil_series *series, milori_notes *said) {
    int *best = mil_alloc(ctx, series->notes->count + 1, sizeof *best);
    if (!best)
        return MILORI_ERR_MEMORY;
    for (size_t i = 0; i < series->notes->count; i++) {
        const mil_noted *noted = &series->notes->row[i];
        for (size_t k = 0; k < series->count; k++) {
            int fit = fits(noted, &series->sheet[k]);
            best[i] = fit > best[i] ? fit : best[i];
        }
        if (best[i] == 0) {
            char *shown = mil_printable(noted->file);
            mil_note(said, "notes", "line %zu: no scan called %s is here", noted->line,
                     shown ? shown : "this");
            free(shown);
        }
    }
    for (size_t k = 0; k < series->count; k++)
        match_sheet(series, best, &series->sheet[k], said);
    free(best);
    return MILORI_OK;
}

void mil_series_free(mil_series *series) {
    for (size_t i = 0; i < series->count; i++) {
        free(series->sheet[i].path);
        free(series->sheet[i].own);
        free(series->sheet[i].name);
    }
    free(series->sheet);
    free(series->light);
    *series = (mil_series){0};
}
