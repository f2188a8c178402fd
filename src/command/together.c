#include "command/together.h"

#include <stdio.h>
#include <stdlib.h>

#include "command/folder.h"
#include "view/series.h"

typedef struct kept {
    int count;
    milori_sheet *sheet;
} kept;

struct mil_together {
    char *name; /* of the notes' file, for messages */
    mil_notes_file notes;
    size_t scans;
    kept *kept;
};

static milori_status ready_folder(milori_context *ctx, const char *folder, bool replace) {
    bool made;
    if (!folder[0])
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "--plots needs a folder; see milori measure --help");
    milori_status status = mil_folder_ready(ctx, folder, false, &made);
    if (status == MILORI_OK && !replace)
        status = mil_series_plots_vacant(ctx, folder);
    return status;
}

milori_status mil_together_start(milori_context *ctx, const mil_options *options, size_t scans,
                                 mil_together **out) {
    const char *path = options->given[MIL_OPTION_NOTES], *plots = options->given[MIL_OPTION_PLOTS];
    *out = NULL;
    if (plots && !path)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "--plots needs notes on the sheets: add --notes FILE.csv");
    if (options->replace && !plots)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "--replace is for plots: add --plots FOLDER, or leave it out");
    if (!path)
        return MILORI_OK;
    mil_together *together = mil_alloc(ctx, 1, sizeof *together);
    if (!together)
        return MILORI_ERR_MEMORY;
    together->scans = scans;
    together->name = mil_printable(path);
    together->kept = mil_alloc(ctx, scans + 1, sizeof *together->kept);
    milori_status status = together->name && together->kept
                               ? mil_notes_file_read(ctx, path, &together->notes)
                               : MILORI_ERR_MEMORY;
    if (status == MILORI_OK && plots)
        status = ready_folder(ctx, plots, options->replace);
    if (status == MILORI_OK)
        *out = together;
    else
        mil_together_free(together);
    return status;
}

milori_status mil_together_keep(milori_context *ctx, mil_together *together, size_t index,
                                const milori_scan *scan) {
    if (!together)
        return MILORI_OK;
    kept *to = &together->kept[index];
    to->count = milori_scan_facts_of(scan)->sheets;
    free(to->sheet);
    to->sheet = mil_alloc(ctx, (size_t)to->count, sizeof *to->sheet);
    for (int i = 0; to->sheet && i < to->count; i++)
        to->sheet[i] = *milori_scan_sheet(scan, i);
    return to->sheet ? MILORI_OK : MILORI_ERR_MEMORY;
}

static milori_status make_series(milori_context *ctx, const mil_together *together,
                                 const mil_batch *batch, mil_series *series, milori_notes *said) {
    milori_status status = MILORI_OK;
    for (size_t i = 0; i < together->scans && status == MILORI_OK; i++)
        for (int k = 0; k < together->kept[i].count && status == MILORI_OK; k++)
            status = mil_series_add(ctx, series, batch->entry[i].path, &together->kept[i].sheet[k]);
    if (status == MILORI_OK)
        status = mil_series_match(ctx, series, said);
    if (status == MILORI_OK)
        status = mil_series_relate(ctx, series);
    return status;
}

milori_status mil_together_say(milori_context *ctx, mil_together *together, const mil_batch *batch,
                               const mil_options *options, char **json) {
    milori_notes said = {0};
    *json = NULL;
    if (!together)
        return MILORI_OK;
    mil_series series = {.notes = &together->notes};
    milori_status status = make_series(ctx, together, batch, &series, &said);
    if (status == MILORI_OK && options->json) {
        status = mil_series_json(ctx, &series, json);
    } else if (status == MILORI_OK && series.count) {
        putchar('\n');
        mil_series_table(stdout, &series);
    }
    const char *plots = options->given[MIL_OPTION_PLOTS];
    if (status == MILORI_OK && plots)
        status = mil_series_plots(ctx, &series, plots, options->replace, &said);
    fflush(stdout);
    for (size_t i = 0; i < said.count && !options->quiet; i++)
        fprintf(stderr, "%s: %s\n", together->name, said.note[i].text);
    mil_notes_free(&said);
    mil_series_free(&series);
    return status;
}

void mil_together_free(mil_together *together) {
    if (!together)
        return;
    for (size_t i = 0; together->kept && i < together->scans; i++)
        free(together->kept[i].sheet);
    free(together->kept);
    free(together->name);
    mil_notes_file_free(&together->notes);
    free(together);
}
