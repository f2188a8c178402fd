#include "base/frames.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

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

/* The name with its two sides changed about: "9x6" for "6x9"; "" if it has not two. */
static void other_way(const char *name, char *text, size_t size) {
    const char *cross = strchr(name, 'x');
    text[0] = 0;
    if (cross)
        snprintf(text, size, "%sx%.*s", cross + 1, (int)(cross - name), name);
}

const mil_frame_size *mil_frame_named(const char *name) {
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        char turned[24];
        other_way(sizes[i].name, turned, sizeof turned);
        if (strcasecmp(sizes[i].name, name) == 0 || (turned[0] && strcasecmp(turned, name) == 0))
            return &sizes[i];
    }
    return NULL;
}
