/* Just enough of ICC.1 read by hand, so that lcms2 does not judge itself. */
#ifndef ICC_BY_HAND_H
#define ICC_BY_HAND_H

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct hand_icc {
    uint8_t *bytes;
    size_t size;
} hand_icc;

static inline hand_icc hand_read(const char *path) {
    hand_icc icc = {NULL, 0};
    FILE *file = fopen(path, "rb");
    if (!file)
        return icc;
    icc.bytes = malloc(4 << 20);
    icc.size = icc.bytes ? fread(icc.bytes, 1, 4 << 20, file) : 0;
    fclose(file);
    return icc;
}

static inline uint32_t hand_u32(const uint8_t *p) {
    return (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3];
}

static inline void hand_put_u32(uint8_t *p, size_t value) {
    for (int i = 0; i < 4; i++)
        p[i] = (uint8_t)(value >> (24 - 8 * i));
}

/* s15Fixed16Number */
static inline double hand_fixed(const uint8_t *p) {
    return (int32_t)hand_u32(p) / 65536.;
}

/* The tag's data, or NULL (ICC.1, 7.3: table of 12 byte entries from byte 132). */
static inline const uint8_t *hand_tag(const hand_icc *icc, const char *name) {
    for (uint32_t i = 0; i < hand_u32(icc->bytes + 128); i++) {
        const uint8_t *entry = icc->bytes + 132 + 12 * i;
        if (memcmp(entry, name, 4) == 0)
            return icc->bytes + hand_u32(entry + 4);
    }
    return NULL;
}

/* curveType and parametricCurveType (ICC.1, 10.6 and 10.18) at x 0..1. */
static inline double hand_curve(const uint8_t *tag, double x) {
    if (memcmp(tag, "curv", 4) == 0) {
        uint32_t n = hand_u32(tag + 8);
        const uint8_t *e = tag + 12;
        if (n == 0)
            return x;
        if (n == 1)
            return pow(x, (e[0] << 8 | e[1]) / 256.);
        double place = x * (n - 1);
        uint32_t i = place >= n - 1 ? n - 2 : (uint32_t)place;
        double low = e[2 * i] << 8 | e[2 * i + 1], high = e[2 * i + 2] << 8 | e[2 * i + 3];
        return (low + (place - i) * (high - low)) / 65535;
    }
    int kind = tag[8] << 8 | tag[9];
    const double g = hand_fixed(tag + 12);
    if (kind == 0)
        return pow(x, g);
    const double a = hand_fixed(tag + 16), b = hand_fixed(tag + 20), c = hand_fixed(tag + 24);
    if (kind == 1)
        return x >= -b / a ? pow(a * x + b, g) : 0;
    if (kind == 2)
        return x >= -b / a ? pow(a * x + b, g) + c : c;
    const double d = hand_fixed(tag + 28);
    double e = kind == 4 ? hand_fixed(tag + 32) : 0, f = kind == 4 ? hand_fixed(tag + 36) : 0;
    return x >= d ? pow(a * x + b, g) + e : c * x + f;
}

#endif
