/* Words in columns of a terminal. */
#ifndef MILORI_WRAP_H
#define MILORI_WRAP_H

#include <stdio.h>

#include "base/base.h"

/* text in lines of at most 80 columns, lead before the first, as many blanks before the others. */
void mil_wrap(FILE *out, const char *lead, const char *text);
/* Columns of UTF-8 text, one a character. */
size_t mil_columns(const char *text);
/* text and blanks up to width columns; what is longer keeps its end, after an ellipsis. */
void mil_pad(FILE *out, const char *text, size_t width);

#endif
