/* The photographer's notes on a series: a CSV file (RFC 4180, and what spreadsheets make of it). */
#ifndef MILORI_NOTES_FILE_H
#define MILORI_NOTES_FILE_H

#include "base/base.h"

/* One line of it. */
typedef struct mil_noted {
    char *file;            /* as it stands there */
    size_t line;           /* in the file, from 1 */
    double minutes, hours; /* of exposure; from coating to exposure; NaN where none stands */
    char *light;           /* "" where none stands */
    char **more;           /* of each further column */
} mil_noted;

typedef struct mil_notes_file {
    size_t count;
    mil_noted *row;
    size_t columns; /* further ones, in the file's order */
    char **column;  /* their names */
} mil_notes_file;

/* Reads all of it or fails with one line: file, line, what to do. A header line names the columns,
 * in any case and order: file, minutes, light, hours, and any others. Fields may stand in quotes;
 * lines end in LF, CR LF or CR; a byte order mark of UTF-8 is skipped. The fields are separated by
 * what the header line holds most of: commas, semicolons or tabs (or as a first line "sep=;" says).
 * Where that is no comma, numbers may have a decimal one. At most 4 MiB, 10000 lines of notes, 64
 * columns, 4096 bytes a field. */
milori_status mil_notes_file_read(milori_context *ctx, const char *path, mil_notes_file *notes);
void mil_notes_file_free(mil_notes_file *notes);

/* How well a file's name as noted, with or without folder and extension, fits a scan's path: 0 not,
 * 1 without its extension, 2 by its name, 3 with its folder. Folders end in / or \. */
int mil_noted_fits(const char *noted, const char *path);

#endif
