#include "scan/source_pixels.h"

#include <string.h>

enum { WHITE = 65535 };

uint32_t mil_layout_channels(const mil_layout *l) {
    return l->palette ? 3 : l->colours;
}

size_t mil_packed_bytes(size_t n, int bits) {
    return bits == 16 ? 2 * n : bits == 8 ? n : n / (8 / bits) + (n % (8 / bits) != 0);
}

bool mil_layout_plain(const mil_layout *l) {
    return l->samples == l->colours && !l->inverted && !l->palette;
}

static void unpack_small(int bits, unsigned scale, const uint8_t *raw, size_t n, size_t stride,
                         uint16_t *samples) {
    unsigned mask = (1u << bits) - 1, each = 8u / (unsigned)bits;
    for (size_t i = 0; i < n; i++) {
        unsigned shift = 8u - (unsigned)bits * ((unsigned)(i % each) + 1);
        samples[i * stride] = (uint16_t)((raw[i / each] >> shift & mask) * scale);
    }
}

void mil_unpack(const mil_layout *l, const uint8_t *raw, size_t n, size_t stride,
                uint16_t *samples) {
    unsigned scale = l->palette ? 1 : (unsigned)(WHITE / ((1 << l->bits) - 1));
    if (l->bits == 16 && stride == 1) {
        memcpy(samples, raw, 2 * n);
    } else if (l->bits == 16) {
        for (size_t i = 0; i < n; i++)
            memcpy(&samples[i * stride], raw + 2 * i, 2);
    } else if (l->bits == 8) {
        for (size_t i = 0; i < n; i++)
            samples[i * stride] = (uint16_t)(raw[i] * scale);
    } else {
        unpack_small(l->bits, scale, raw, n, stride, samples);
    }
}

/* A palette index is below 2^bits, so inside the palette. */
static void compose_palette(const mil_layout *l, size_t width, const uint16_t *samples,
                            uint16_t *out) {
    size_t entries = (size_t)1 << l->bits;
    for (size_t x = 0; x < width; x++, samples += l->samples, out += 3)
        for (size_t c = 0; c < 3; c++)
            out[c] = l->palette[c * entries + samples[0]];
}

static uint16_t on_white(const mil_layout *l, uint32_t value, uint32_t alpha) {
    if (!l->associated) {
        if (l->inverted)
            value = WHITE - value;
        return (uint16_t)((value * alpha + (uint32_t)WHITE * (WHITE - alpha) + WHITE / 2) / WHITE);
    }
    /* value = colour * alpha, so that dividing and laying on white again cancel;
     * of an inverted one it is (1 - colour) * alpha. */
    if (value > alpha)
        value = alpha;
    return (uint16_t)(l->inverted ? WHITE - value : value + WHITE - alpha);
}

void mil_compose(const mil_layout *l, size_t width, const uint16_t *samples, uint16_t *out) {
    if (l->palette) {
        compose_palette(l, width, samples, out);
        return;
    }
    uint16_t flip = l->inverted ? WHITE : 0;
    for (size_t x = 0; x < width; x++, samples += l->samples, out += l->colours)
        for (uint32_t c = 0; c < l->colours; c++)
            out[c] = l->alpha ? on_white(l, samples[c], samples[l->alpha])
                              : (uint16_t)(samples[c] ^ flip);
}
