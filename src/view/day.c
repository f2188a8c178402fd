#include "view/day.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "scan/transaction.h"
#include "view/html.h"

/* Its own look: paper and ink, on screen and on paper alike; no colour beside the pictures'. */
static const char page_head[] =
    "<!DOCTYPE html>\n<html lang=\"en\">\n<meta charset=\"utf-8\">\n"
    "<meta name=\"viewport\" content=\"width=device-width\">\n"
    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; "
    "style-src 'unsafe-inline'\">\n"
    "<title>Sheets</title>\n<style>\n"
    ":root{color-scheme:light}\n"
    "body{margin:2rem auto;max-width:72rem;padding:0 1.5rem;background:#e9e9e9;color:#1c1c1c;"
    "font:1rem/1.45 system-ui,sans-serif}\n"
    "h1{font-weight:500;font-size:1.6rem}h2{font-weight:500;font-size:1.15rem;margin:0 0 .6rem}\n"
    "section{margin:2rem 0;padding-top:1rem;border-top:1px solid #8a8a8a}\n"
    ".pair{display:grid;grid-template-columns:1fr 1fr;gap:1.5rem;align-items:start}\n"
    "figure{margin:0}figure img{max-width:100%;height:auto;display:block}\n"
    "figcaption{font-size:.85rem;color:#444}\n"
    ".facts{display:grid;grid-template-columns:auto minmax(0,34rem);gap:2rem;align-items:start;"
    "margin-top:1rem}\n"
    "table{border-collapse:collapse;font-variant-numeric:tabular-nums}\n"
    "th{font-weight:400;text-align:left;color:#444;padding:.12rem 1.2rem .12rem 0;"
    "vertical-align:top}td{padding:.12rem 0}\n"
    "svg{width:100%;height:auto}ul{margin:.8rem 0 0;padding-left:1.2rem}\n"
    "@media(max-width:44rem){.pair,.facts{grid-template-columns:1fr}}\n"
    "@media print{body{background:#fff;margin:0;max-width:none;padding:0}"
    "section{break-inside:avoid;margin:0 0 1rem}.pair{grid-template-columns:1fr 1fr}"
    ".pair img{max-height:95mm;width:auto}.facts{grid-template-columns:auto 90mm}}\n"
    "</style>\n<h1>Sheets</h1>\n<p>";

milori_status mil_day_plot(milori_context *ctx, const char *svg, mil_day_part *part) {
    /* Inside HTML an SVG has no XML declaration. */
    const char *from = strstr(svg, "<svg");
    part->text = mil_strdup(ctx, from ? from : svg);
    part->size = part->text ? strlen(part->text) : 0;
    return part->text ? MILORI_OK : MILORI_ERR_MEMORY;
}

static milori_status say_head(milori_context *ctx, const char *head, mil_day_part *part) {
    time_t now = time(NULL);
    struct tm local;
    char date[32] = "";
    if (localtime_r(&now, &local))
        strftime(date, sizeof date, "%Y-%m-%d %H:%M", &local);
    FILE *out = open_memstream(&part->text, &part->size);
    if (!out)
        return mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: close other programs");
    fputs(page_head, out);
    mil_html_words(out, head);
    fprintf(out, " <time>%s</time>, milori %s.\n", date, MILORI_VERSION);
    if (fclose(out) == 0)
        return MILORI_OK;
    return mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: close other programs");
}

milori_status mil_day_write(milori_context *ctx, const char *path, bool replace, const char *head,
                            const mil_day_part *parts, size_t count) {
    mil_day_part top = {0};
    mil_transaction *file = NULL;
    milori_status status = say_head(ctx, head, &top);
    if (status == MILORI_OK)
        status = mil_transaction_open(ctx, path, replace, &file);
    if (status != MILORI_OK) {
        free(top.text);
        return status;
    }
    bool well = mil_transaction_write(file, top.text, top.size);
    free(top.text);
    for (size_t i = 0; i < count && well; i++)
        if (parts[i].text)
            well = mil_transaction_write(file, parts[i].text, parts[i].size);
    if (well)
        return mil_transaction_commit(file);
    status = mil_transaction_fail(file, "");
    mil_transaction_abort(file);
    return status;
}
