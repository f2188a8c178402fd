/* What JPEG files keep in APP1 and APP2 segments: Exif, XMP, ICC profiles. */
#ifndef MILORI_APP_SEGMENTS_H
#define MILORI_APP_SEGMENTS_H

#include "base/base.h"

typedef struct mil_segment {
    int marker; /* 0xe1 APP1, 0xe2 APP2 */
    const uint8_t *bytes;
    size_t size;
} mil_segment;

/* What follows head (head_size bytes, a NUL among them) in the first APP1
 * segment that starts with it; NULL if there is none. */
const uint8_t *mil_segment_after(const mil_segment *segments, size_t count, const char *head,
                                 size_t head_size, size_t *size);
/* The ICC profile (ICC.1, annex B.4), joined in its numbers' order, to free();
 * NULL and MILORI_OK if there is none. MILORI_ERR_PROFILE if a part is missing,
 * doubled or disagrees about how many there are. */
milori_status mil_segments_icc(milori_context *ctx, const char *name, const mil_segment *segments,
                               size_t count, uint8_t **icc, size_t *size);

#endif
