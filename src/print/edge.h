/* Where a sheet is coated, so that the brush's own edge shows and bare paper stays paper. */
#ifndef MILORI_EDGE_H
#define MILORI_EDGE_H

#include "render/render.h"

typedef struct mil_edge mil_edge;

/* Of a sheet: the frame, and what is coated round it, as the cells of the first
 * pass (0.34 mm) show it by yellow or blue beside bare paper; nothing beyond the
 * paper's outline or on a dark bed. Its edge is as soft as the brush's, and at
 * least the width of a cell. */
milori_status mil_edge_new(milori_context *ctx, const mil_measured *measured, int index,
                           mil_edge **edge);
/* Lays paper (65535) over count words of light of row y (px of the whole positive),
 * from column x on, where the sheet is not coated. */
void mil_edge_row(const mil_edge *edge, const mil_plan *plan, uint32_t x, uint32_t y,
                  uint32_t count, uint16_t *words);
void mil_edge_free(mil_edge *edge);

#endif
