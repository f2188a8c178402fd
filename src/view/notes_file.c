#include "view/notes_file.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "view/csv.h"

enum { MOST_BYTES = 4 << 20, MOST_ROWS = 10000, NAME_COLUMNS = 4, SHOWN = 40 };

static const char *const known[NAME_COLUMNS] = {"file", "minutes", "light", "hours"};

/* Which field is which. */
typedef struct header {
    size_t count;
    int key[MIL_CSV_COLUMNS]; /* of known; -1 a further column, -2 one without a name */
} header;

/* A field for messages: a NUL-ended copy, cut, controls escaped. */
static void quote(const char *text, char out[4 * SHOWN + 8]) {
    char cut[SHOWN + 1];
    snprintf(cut, sizeof cut, "%s", text);
    char *shown = mil_printable(cut);
    snprintf(out, 4 * SHOWN + 8, "%s%s", shown ? shown : "?", strlen(text) > SHOWN ? "..." : "");
    free(shown);
}

static milori_status read_name(mil_notes_file *notes, const mil_csv *csv, size_t i, header *head) {
    char shown[4 * SHOWN + 8];
    head->key[i] = csv->field[i][0] ? -1 : -2;
    for (int k = 0; k < NAME_COLUMNS; k++)
        if (strcasecmp(csv->field[i], known[k]) == 0)
            head->key[i] = k;
    for (size_t j = 0; j < i; j++)
        if (csv->field[i][0] && strcasecmp(csv->field[i], csv->field[j]) == 0) {
            quote(csv->field[i], shown);
            return mil_csv_fail(csv, csv->line, "two columns are called %s; rename one", shown);
        }
    if (head->key[i] != -1)
        return MILORI_OK;
    notes->column[notes->columns] = mil_strdup(csv->ctx, csv->field[i]);
    return notes->column[notes->columns++] ? MILORI_OK : MILORI_ERR_MEMORY;
}

static milori_status read_header(mil_notes_file *notes, mil_csv *csv, header *head) {
    bool more = false, file = false;
    milori_status status = mil_csv_next(csv, &more);
    if (status == MILORI_OK && !more)
        return mil_fail(csv->ctx, MILORI_ERR_FORMAT,
                        "%s: is empty; a first line must name the columns: file, minutes, light, "
                        "hours",
                        csv->name);
    notes->column = mil_alloc(csv->ctx, MIL_CSV_COLUMNS, sizeof *notes->column);
    if (status == MILORI_OK && !notes->column)
        status = MILORI_ERR_MEMORY;
    head->count = csv->count;
    for (size_t i = 0; i < csv->count && status == MILORI_OK; i++) {
        status = read_name(notes, csv, i, head);
        file = file || head->key[i] == 0;
    }
    if (status == MILORI_OK && !file)
        return mil_csv_fail(csv, csv->line,
                            "no column is called file; the first line must name the columns: file, "
                            "minutes, light, hours");
    return status;
}

/* A number, empty or from least to most. Where commas separate no fields, one may stand for the
 * decimal point. */
static milori_status number(const mil_csv *csv, const char *name, char *text, double least,
                            double most, double *value) {
    char shown[4 * SHOWN + 8];
    *value = NAN;
    if (!text[0])
        return MILORI_OK;
    quote(text, shown);
    char *comma = csv->separator == ',' ? NULL : strchr(text, ',');
    if (comma && !strchr(text, '.'))
        *comma = '.';
    /* strtod() would read hexadecimal numbers too. */
    bool plain = strspn(text, "0123456789.+-eE") == strlen(text);
    if (plain && mil_parse_number(text, value) && *value >= least && *value <= most)
        return MILORI_OK;
    *value = NAN;
    return mil_csv_fail(
        csv, csv->line,
        "%s is \"%s\"; write a number from %g to %g, such as 7.5, or leave it empty", name, shown,
        least, most);
}

static milori_status read_field(const mil_csv *csv, int key, char *text, size_t *further,
                                mil_noted *row) {
    static const double LEAST_MINUTES = 0.01, MOST_MINUTES = 100000, MOST_HOURS = 1000000;
    char **to = key == 0 ? &row->file : key == 2 ? &row->light : NULL;
    if (key == 1)
        return number(csv, known[1], text, LEAST_MINUTES, MOST_MINUTES, &row->minutes);
    if (key == 3)
        return number(csv, known[3], text, 0, MOST_HOURS, &row->hours);
    if (key == -2)
        return !text[0] ? MILORI_OK
                        : mil_csv_fail(csv, csv->line,
                                       "a field stands under no name; name its column in the first "
                                       "line");
    if (key == -1)
        to = &row->more[(*further)++];
    free(*to);
    *to = mil_strdup(csv->ctx, text);
    return *to ? MILORI_OK : MILORI_ERR_MEMORY;
}

static milori_status read_row(mil_notes_file *notes, const mil_csv *csv, const header *head,
                              mil_noted *row) {
    size_t further = 0;
    if (csv->count != head->count)
        return mil_csv_fail(csv, csv->line,
                            "%zu fields, but the first line names %zu; put a field that holds the "
                            "separator in quotes, and leave none out",
                            csv->count, head->count);
    *row = (mil_noted){.line = csv->line,
                       .minutes = NAN,
                       .hours = NAN,
                       .light = mil_strdup(csv->ctx, ""),
                       .more = mil_alloc(csv->ctx, notes->columns + 1, sizeof *row->more)};
    milori_status status = row->light && row->more ? MILORI_OK : MILORI_ERR_MEMORY;
    for (size_t i = 0; i < csv->count && status == MILORI_OK; i++)
        status = read_field(csv, head->key[i], csv->field[i], &further, row);
    if (status == MILORI_OK && !row->file[0])
        status = mil_csv_fail(csv, csv->line, "names no file; say which scan it is of");
    return status;
}

static milori_status read_rows(mil_notes_file *notes, mil_csv *csv, const header *head) {
    bool more = true;
    for (size_t room = 0;;) {
        milori_status status = mil_csv_next(csv, &more);
        if (status != MILORI_OK || !more)
            return status;
        if (notes->count == MOST_ROWS)
            return mil_csv_fail(csv, csv->line, "more than %d notes; split the file", MOST_ROWS);
        if (notes->count == room) {
            room = 2 * room + 64;
            mil_noted *grown = realloc(notes->row, room * sizeof *grown);
            if (!grown)
                return mil_fail(csv->ctx, MILORI_ERR_MEMORY, "out of memory: split %s", csv->name);
            notes->row = grown;
        }
        notes->row[notes->count++] = (mil_noted){0};
        status = read_row(notes, csv, head, &notes->row[notes->count - 1]);
        if (status != MILORI_OK)
            return status;
    }
}

static int by_file(const void *a, const void *b) {
    const mil_noted *const *x = a, *const *y = b;
    int order = strcmp((*x)->file, (*y)->file);
    return order ? order : ((*x)->line > (*y)->line) - ((*x)->line < (*y)->line);
}

static milori_status refuse_doubles(const mil_notes_file *notes, const mil_csv *csv) {
    char shown[4 * SHOWN + 8];
    const mil_noted **sorted = mil_alloc(csv->ctx, notes->count, sizeof *sorted);
    milori_status status = sorted || !notes->count ? MILORI_OK : MILORI_ERR_MEMORY;
    for (size_t i = 0; sorted && i < notes->count; i++)
        sorted[i] = &notes->row[i];
    if (sorted && notes->count)
        qsort(sorted, notes->count, sizeof *sorted, by_file);
    for (size_t i = 1; sorted && i < notes->count && status == MILORI_OK; i++)
        if (strcmp(sorted[i - 1]->file, sorted[i]->file) == 0) {
            quote(sorted[i]->file, shown);
            status = mil_csv_fail(csv, sorted[i]->line,
                                  "%s has notes in line %zu already; keep one of them", shown,
                                  sorted[i - 1]->line);
        }
    free(sorted);
    return status;
}

milori_status mil_notes_file_read(milori_context *ctx, const char *path, mil_notes_file *notes) {
    uint8_t *bytes = NULL;
    size_t size = 0;
    mil_csv csv;
    header head = {0};
    *notes = (mil_notes_file){0};
    char *name = mil_printable(path);
    milori_status status = name ? mil_read_file(ctx, path, MOST_BYTES, &bytes, &size)
                                : mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory");
    if (status == MILORI_OK)
        status = mil_csv_start(ctx, name, (char *)bytes, size, &csv);
    if (status == MILORI_OK)
        status = read_header(notes, &csv, &head);
    if (status == MILORI_OK)
        status = read_rows(notes, &csv, &head);
    if (status == MILORI_OK)
        status = refuse_doubles(notes, &csv);
    if (status != MILORI_OK)
        mil_notes_file_free(notes);
    free(bytes);
    free(name);
    return status;
}

void mil_notes_file_free(mil_notes_file *notes) {
    for (size_t i = 0; i < notes->count; i++) {
        mil_noted *row = &notes->row[i];
        for (size_t k = 0; row->more && k < notes->columns; k++)
            free(row->more[k]);
        free(row->more);
        free(row->file);
        free(row->light);
    }
    for (size_t i = 0; i < notes->columns; i++)
        free(notes->column[i]);
    free(notes->row);
    free(notes->column);
    *notes = (mil_notes_file){0};
}

static const char *own_name(const char *path, bool backslash) {
    const char *name = path;
    for (const char *s = path; *s; s++)
        if (*s == '/' || (backslash && *s == '\\'))
            name = s + 1;
    return name;
}

/* Whether noted, folder and all, is the end of path, folders ending in either slash. */
static bool tail_fits(const char *noted, const char *path) {
    size_t n = strlen(noted), m = strlen(path);
    if (n > m || (n < m && path[m - n - 1] != '/'))
        return false;
    for (size_t i = 0; i < n; i++)
        if (noted[i] != path[m - n + i] && !(noted[i] == '\\' && path[m - n + i] == '/'))
            return false;
    return true;
}

int mil_noted_fits(const char *noted, const char *path) {
    const char *name = own_name(path, false), *plain = own_name(noted, true);
    if (strcmp(noted, name) == 0 || strcmp(plain, name) == 0)
        return plain != noted && tail_fits(noted, path) ? 3 : 2;
    const char *dot = strrchr(name, '.');
    size_t stem = dot && dot != name ? (size_t)(dot - name) : strlen(name);
    return strlen(plain) == stem && memcmp(plain, name, stem) == 0 ? 1 : 0;
}
