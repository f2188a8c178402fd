/* The scan itself as a small picture: what was put on the glass, before milori. */
#ifndef MILORI_SCAN_VIEW_H
#define MILORI_SCAN_VIEW_H

#include "render/render.h"

typedef struct mil_scan_sight {
    uint32_t width, height;
    uint8_t *rgb; /* sRGB, 3 bytes a px, upright */
} mil_scan_sight;

/* The part (px of the upright scan; NULL all of it) reduced by a whole number, in
 * linear light, until no side is over most px. Reads measured's source from its
 * first row to the part's last, and needs it to itself. */
milori_status mil_scan_view(milori_context *ctx, const mil_measured *measured,
                            const mil_part_rect *part, uint32_t most, mil_scan_sight *view);
void mil_scan_sight_free(mil_scan_sight *view);

#endif
