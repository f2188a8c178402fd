/* The table of `milori measure`: a head, a line a sheet, its notes below. */
#ifndef MILORI_SHEET_TABLE_H
#define MILORI_SHEET_TABLE_H

#include <stdio.h>

#include "base/base.h"

void mil_table_head(FILE *out);
/* A scan's name with what its file is. */
void mil_table_scan(FILE *out, const char *name, const milori_scan_facts *facts);
void mil_table_sheet(FILE *out, const milori_sheet *sheet);
/* What it tells its maker, in words. */
void mil_table_told(FILE *out, const milori_sheet *sheet);
void mil_table_notes(FILE *out, const milori_notes *notes);

#endif
