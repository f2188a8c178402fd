/* Smooth surfaces evaluated a row of pixels at a time. */
#ifndef MILORI_SURFACE_H
#define MILORI_SURFACE_H

#include "sheet/separate.h"

/* The surface at the centres of px first .. first + count - 1 of a row, from that row's line
 * (mil_surface_row); beyond the knots the ends' values go on. What a pixel gets does not depend
 * on where the span starts. */
void mil_surface_span(const mil_surface *surface, const float *line, int64_t first, uint32_t count,
                      float *out);

#endif
