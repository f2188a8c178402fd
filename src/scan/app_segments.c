#include "scan/app_segments.h"

#include <string.h>

static const char icc_head[12] = "ICC_PROFILE";
enum { ICC_HEAD = 14 }; /* with number and count */

const uint8_t *mil_segment_after(const mil_segment *segments, size_t count, const char *head,
                                 size_t head_size, size_t *size) {
    for (size_t i = 0; i < count; i++) {
        const mil_segment *s = &segments[i];
        if (s->marker == 0xe1 && s->size > head_size && memcmp(s->bytes, head, head_size) == 0) {
            *size = s->size - head_size;
            return s->bytes + head_size;
        }
    }
    return NULL;
}

static bool is_icc(const mil_segment *s) {
    return s->marker == 0xe2 && s->size >= sizeof icc_head &&
           memcmp(s->bytes, icc_head, sizeof icc_head) == 0;
}

/* Parts by number; *parts is how many there should be. Says what is wrong, or
 * NULL. */
static const char *sort_parts(const mil_segment *segments, size_t count,
                              const mil_segment *part[256], size_t *parts) {
    for (size_t i = 0; i < count; i++) {
        const mil_segment *s = &segments[i];
        if (!is_icc(s))
            continue;
        if (s->size < ICC_HEAD || s->bytes[12] == 0 || s->bytes[12] > s->bytes[13])
            return "a part of it has no valid number";
        if (*parts && *parts != s->bytes[13])
            return "its parts disagree about how many they are";
        if (part[s->bytes[12]])
            return "a part of it is there twice";
        *parts = s->bytes[13];
        part[s->bytes[12]] = s;
    }
    for (size_t n = 1; n <= *parts; n++)
        if (!part[n])
            return "a part of it is missing";
    return NULL;
}

milori_status mil_segments_icc(milori_context *ctx, const char *name, const mil_segment *segments,
                               size_t count, uint8_t **icc, size_t *size) {
    const mil_segment *part[256] = {NULL};
    size_t parts = 0;
    *icc = NULL;
    *size = 0;
    const char *wrong = sort_parts(segments, count, part, &parts);
    if (wrong)
        return mil_fail(ctx, MILORI_ERR_PROFILE,
                        "%s: its ICC profile is broken (%s); assign the profile again", name,
                        wrong);
    for (size_t n = 1; n <= parts; n++)
        *size += part[n]->size - ICC_HEAD;
    if (*size == 0)
        return MILORI_OK;
    uint8_t *to = *icc = mil_alloc(ctx, *size, 1);
    if (!to)
        return MILORI_ERR_MEMORY;
    for (size_t n = 1; n <= parts; n++) {
        memcpy(to, part[n]->bytes + ICC_HEAD, part[n]->size - ICC_HEAD);
        to += part[n]->size - ICC_HEAD;
    }
    return MILORI_OK;
}
