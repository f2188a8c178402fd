/* What is wrong with a scan while the sheet can still be scanned again. */
#ifndef MILORI_JUDGE_H
#define MILORI_JUDGE_H

#include "sheet/find.h"

/* Whether the scanner's automatic levels stretched the codes. */
bool mil_stretched(const mil_grid *grid);
/* Notes on the scan as a whole: bits, levels, dpi, loss. */
void mil_judge_scan(const mil_source_info *info, const mil_grid *grid, milori_notes *notes);
/* Notes on one sheet: clipped channels, too few pixels. */
void mil_judge_sheet(const mil_grid *grid, const mil_found *found, milori_notes *notes);

#endif
