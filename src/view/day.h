/* The report of a day: one HTML page that needs nothing beside it. */
#ifndef MILORI_DAY_H
#define MILORI_DAY_H

#include "base/base.h"

/* A string and its length; free() the text. */
typedef struct mil_day_part {
    char *text;
    size_t size;
} mil_day_part;

/* One sheet of a scan that has been measured: the scan before, the positive that
 * choices make after, its numbers, its curve, its notes. name: of the scan, for
 * people. About 0.2 MB. */
milori_status mil_day_sheet(milori_context *ctx, milori_scan *scan, int index,
                            const milori_choices *choices, const char *name, mil_day_part *part);
/* A plot of the whole series, an SVG, as a part. */
milori_status mil_day_plot(milori_context *ctx, const char *svg, mil_day_part *part);
/* Writes the page, as one transaction: head (a line on the batch; words), then the
 * parts in order, empty ones left out. */
milori_status mil_day_write(milori_context *ctx, const char *path, bool replace, const char *head,
                            const mil_day_part *parts, size_t count);

#endif
