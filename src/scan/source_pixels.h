/* From samples as a file stores them to grey or red, green, blue of 0..65535. */
#ifndef MILORI_SOURCE_PIXELS_H
#define MILORI_SOURCE_PIXELS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* How a pixel's samples are to be taken. */
typedef struct mil_layout {
    int bits;          /* of a sample: 1, 2, 4, 8, or 16 in the machine's order */
    uint32_t samples;  /* in a pixel */
    uint32_t colours;  /* 1 or 3, the leading ones that are the picture; 1 with a palette */
    uint32_t alpha;    /* which sample is alpha, 0 none */
    bool associated;   /* colours are stored multiplied by alpha */
    bool inverted;     /* 0 is white */
    uint16_t *palette; /* 2^bits of red, then green, then blue, 0..65535; or NULL */
} mil_layout;

/* 1 or 3 */
uint32_t mil_layout_channels(const mil_layout *layout);
/* Bytes of n samples packed to whole bytes. */
size_t mil_packed_bytes(size_t n, int bits);
/* Whether a row of samples is the row delivered, so that it may be unpacked into
 * its place. */
bool mil_layout_plain(const mil_layout *layout);
/* n samples of a packed row to samples[0], samples[stride] ...: scaled to
 * 0..65535 exactly, or palette indices. raw of 16 bits need not be aligned. */
void mil_unpack(const mil_layout *layout, const uint8_t *raw, size_t n, size_t stride,
                uint16_t *samples);
/* width pixels of unpacked samples to width * channels of out. Alpha is laid on
 * white in the file's own codes. */
void mil_compose(const mil_layout *layout, size_t width, const uint16_t *samples, uint16_t *out);

#endif
