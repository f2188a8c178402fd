/* Records of comma separated values, one at a time. */
#ifndef MILORI_CSV_H
#define MILORI_CSV_H

#include "base/base.h"

enum { MIL_CSV_COLUMNS = 64, MIL_CSV_FIELD = 4096 };

typedef struct mil_csv {
    milori_context *ctx;
    const char *name; /* of the file, for messages */
    char *at, *end;   /* the text; fields are unquoted in place. *end is writable */
    char separator;
    size_t line;                  /* of the last record's first line, from 1 */
    size_t next;                  /* of the next one's */
    size_t count;                 /* fields of the last record */
    char *field[MIL_CSV_COLUMNS]; /* each ends in a NUL; blanks round them are gone */
} mil_csv;

/* Over size bytes of text that end in a NUL beyond them, which are written to. Finds the separator.
 * Fails on what is no text. */
milori_status mil_csv_start(milori_context *ctx, const char *name, char *text, size_t size,
                            mil_csv *csv);
/* The next record that has anything in it; *more false: there is none. */
milori_status mil_csv_next(mil_csv *csv, bool *more);
/* Fails with the file, the line and those words. */
milori_status mil_csv_fail(const mil_csv *csv, size_t line, const char *format, ...)
    MIL_PRINTF(3, 4);

#endif
