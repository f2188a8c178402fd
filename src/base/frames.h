/* The frame sizes that cameras commonly have. */
#ifndef MILORI_FRAMES_H
#define MILORI_FRAMES_H

#include <stddef.h>

/* Nominal; makers vary by some 3 mm, and a frame may lie either way round. */
typedef struct mil_frame_size {
    const char *name; /* at most 23 bytes */
    double width_mm, height_mm;
} mil_frame_size;

const mil_frame_size *mil_frame_sizes(size_t *count);
/* The size of that name, in small or capital letters, either way round ("9x6"); or NULL. */
const mil_frame_size *mil_frame_named(const char *name);

#endif
