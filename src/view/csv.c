#include "view/csv.h"

#include <stdio.h>
#include <string.h>

milori_status mil_csv_fail(const mil_csv *csv, size_t line, const char *format, ...) {
    char words[512];
    va_list args;
    va_start(args, format);
    vsnprintf(words, sizeof words, format, args);
    va_end(args);
    return mil_fail(csv->ctx, MILORI_ERR_FORMAT, "%s: line %zu: %s", csv->name, line, words);
}

/* What the first line holds most of, outside quotes. */
static char find_separator(const char *at) {
    static const char candidates[] = ",;\t";
    size_t seen[3] = {0};
    bool quoted = false;
    for (; *at && (quoted || (*at != '\n' && *at != '\r')); at++) {
        const char *which = strchr(candidates, *at);
        quoted ^= *at == '"';
        if (which && !quoted)
            seen[which - candidates]++;
    }
    size_t best = 0;
    for (size_t i = 1; i < 3; i++)
        if (seen[i] > seen[best])
            best = i;
    return candidates[best];
}

milori_status mil_csv_start(milori_context *ctx, const char *name, char *text, size_t size,
                            mil_csv *csv) {
    *csv = (mil_csv){.ctx = ctx, .name = name, .at = text, .end = text + size, .next = 1};
    const unsigned char *mark = (const unsigned char *)text;
    if (size >= 2 && ((mark[0] == 0xff && mark[1] == 0xfe) || (mark[0] == 0xfe && mark[1] == 0xff)))
        return mil_fail(ctx, MILORI_ERR_FORMAT, "%s: is UTF-16; save it as CSV in UTF-8", name);
    if (memchr(text, 0, size))
        return mil_fail(ctx, MILORI_ERR_FORMAT,
                        "%s: is no text; export the table as CSV and name that file", name);
    if (size >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0)
        csv->at += 3;
    if (strncmp(csv->at, "sep=", 4) == 0 && csv->at[4] && strchr(",;\t", csv->at[4])) {
        csv->separator = csv->at[4];
        csv->at += 5;
        csv->at += strspn(csv->at, "\r");
        csv->at += *csv->at == '\n';
        csv->next = 2;
        return MILORI_OK;
    }
    csv->separator = find_separator(csv->at);
    return MILORI_OK;
}

/* A field in quotes, which come off in place; at stands on the first. */
static milori_status quoted(mil_csv *csv, char **end) {
    size_t first = csv->next;
    char *to = ++csv->at;
    csv->field[csv->count] = to;
    for (; *csv->at != '"' || csv->at[1] == '"'; *to++ = *csv->at++) {
        if (csv->at == csv->end)
            return mil_csv_fail(csv, first, "a quote is not closed; close it, or take it out");
        if (*csv->at == '"')
            csv->at++;
        else if (*csv->at == '\n' || (*csv->at == '\r' && csv->at[1] != '\n'))
            csv->next++;
    }
    *end = to;
    csv->at++;
    csv->at += strspn(csv->at, " ");
    if (*csv->at && *csv->at != csv->separator && *csv->at != '\r' && *csv->at != '\n')
        return mil_csv_fail(csv, csv->next,
                            "something follows a closing quote; double the quotes inside a field");
    return MILORI_OK;
}

static milori_status plain(mil_csv *csv, char **end) {
    csv->field[csv->count] = csv->at;
    for (; *csv->at && *csv->at != csv->separator && *csv->at != '\r' && *csv->at != '\n';
         csv->at++)
        if (*csv->at == '"')
            return mil_csv_fail(csv, csv->next,
                                "a quote stands inside a field; put the whole field in quotes and "
                                "double those in it");
    *end = csv->at;
    while (*end > csv->field[csv->count] && ((*end)[-1] == ' ' || (*end)[-1] == '\t'))
        (*end)--;
    return MILORI_OK;
}

/* A field and what ends it; *last: that was the record's end. */
static milori_status take_field(mil_csv *csv, bool *last) {
    char *end = NULL;
    if (csv->count == MIL_CSV_COLUMNS)
        return mil_csv_fail(csv, csv->next, "more than %d fields; leave some out", MIL_CSV_COLUMNS);
    csv->at += strspn(csv->at, " ");
    milori_status status = *csv->at == '"' ? quoted(csv, &end) : plain(csv, &end);
    if (status != MILORI_OK)
        return status;
    if (end - csv->field[csv->count] > MIL_CSV_FIELD)
        return mil_csv_fail(csv, csv->next, "a field has more than %d bytes; shorten it",
                            MIL_CSV_FIELD);
    *last = *csv->at != csv->separator || csv->at == csv->end;
    if (csv->at < csv->end) {
        csv->next += *last;
        csv->at += *csv->at == '\r' && csv->at[1] == '\n' ? 2 : 1;
    }
    *end = 0; /* what stood there has been looked at */
    csv->count++;
    return MILORI_OK;
}

static bool anything(const mil_csv *csv) {
    for (size_t i = 0; i < csv->count; i++)
        if (csv->field[i][0])
            return true;
    return false;
}

milori_status mil_csv_next(mil_csv *csv, bool *more) {
    *more = false;
    while (csv->at < csv->end && !*more) {
        bool last = false;
        csv->count = 0;
        csv->line = csv->next;
        while (!last) {
            milori_status status = take_field(csv, &last);
            if (status != MILORI_OK)
                return status;
        }
        *more = anything(csv);
    }
    return MILORI_OK;
}
