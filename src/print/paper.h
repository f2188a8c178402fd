/* Lengths, sheets of paper and places on them. */
#ifndef MILORI_PAPER_H
#define MILORI_PAPER_H

#include "base/base.h"

/* "180mm", "18cm", "7in" or "180" (mm) to mm; false if it is none. */
bool mil_length_mm(const char *text, double *mm);
/* "a4", "a3+", "letter", "4x5in", "8x10in", "210x297mm", upright; a trailing
 * " across" or "-across" lays it down. MILORI_ERR_ARGUMENT lists what is known. */
milori_status mil_paper_size(milori_context *ctx, const char *text, double mm[2]);
/* Whether text says how the paper lies: across, or upright. */
bool mil_paper_lies(const char *text);
/* The smallest sheet of series A that holds mm either way round, else of any name;
 * NULL if none does. */
const char *mil_paper_for(const double mm[2]);
/* Px of a length at dpi, to the nearest. */
uint32_t mil_px_of_mm(double mm, double dpi);

#endif
