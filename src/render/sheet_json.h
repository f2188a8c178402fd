/* A sheet as found, in JSON; milori-measure(1) defines every key. */
#ifndef MILORI_SHEET_JSON_H
#define MILORI_SHEET_JSON_H

#include "base/base.h"

/* file: the scan's name as it is to stand there. Numbers that are not known are null. A string to
 * free(). */
milori_status mil_sheet_json(milori_context *ctx, const char *file, const milori_scan_facts *facts,
                             const milori_sheet *sheet, const milori_notes *of_scan,
                             const milori_notes *of_sheet, char **json);

#endif
