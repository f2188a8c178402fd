#include "base/frames.h"

#include <string.h>

/* 120 film: REFERENCES (seen). 35mm: 24 x 36 (REFERENCES). 4x5: image area of a holder (from
 * memory). 5x7 and 8x10: common practice, no source: the sheet in inches less the holder's rails.
 */
static const mil_frame_size sizes[] = {
    {"6x4.5", 56, 41.5}, {"6x6", 56, 56},  {"6x7", 56, 70},   {"6x9", 56, 84},
    {"35mm", 36, 24},    {"4x5", 95, 120}, {"5x7", 120, 171}, {"8x10", 196, 247},
};

const mil_frame_size *mil_frame_sizes(size_t *count) {
    *count = sizeof sizes / sizeof *sizes;
    return sizes;
}

const mil_frame_size *mil_frame_named(const char *name) {
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++)
        if (strcmp(sizes[i].name, name) == 0)
            return &sizes[i];
    return NULL;
}
