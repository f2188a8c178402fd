/* One scan measured: source, profile, grid, sheets, separations. */
#ifndef MILORI_MEASURE_H
#define MILORI_MEASURE_H

#include "sheet/separate.h"

typedef struct mil_measured {
    mil_source *source;
    mil_decode *decode;
    mil_absorb absorb;
    mil_grid grid;
    int count;
    mil_found *found;
    mil_separation *separation; /* count */
    milori_sheet *sheet;        /* count, public face */
    milori_notes notes;         /* of the scan as a whole */
    size_t file_notes;          /* the first so many are of its file; the others were measured */
} mil_measured;

/* Opens and reads the header and profile; grid and sheets stay empty. */
milori_status mil_measured_open(milori_context *ctx, const char *path, mil_measured *measured);
/* First pass and analysis; again after other choices of the sheet. */
milori_status mil_measured_analyse(milori_context *ctx, mil_measured *measured,
                                   const milori_choices *choices);
void mil_measured_close(mil_measured *measured);

#endif
