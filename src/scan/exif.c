#include "scan/exif.h"

#include <string.h>

enum { SHORT = 3, LONG = 4, RATIONAL = 5, ASCII = 2 };

typedef struct block {
    const uint8_t *bytes;
    size_t size;
    bool big;
} block;

/* Callers have checked that at + n is inside. */
static uint32_t number(const block *b, size_t at, int n) {
    uint32_t v = 0;
    for (int i = 0; i < n; i++)
        v = v << 8 | b->bytes[at + (size_t)(b->big ? i : n - 1 - i)];
    return v;
}

static bool inside(const block *b, size_t at, size_t n) {
    return at <= b->size && n <= b->size - at;
}

/* Where tag's 12 byte entry is in the directory at "at"; 0 if there is none. */
static size_t entry(const block *b, size_t at, uint32_t tag) {
    if (at < 8 || !inside(b, at, 2))
        return 0;
    uint32_t count = number(b, at, 2);
    for (size_t e = at + 2; count-- > 0 && inside(b, e, 12); e += 12)
        if (number(b, e, 2) == tag)
            return e;
    return 0;
}

static uint32_t whole(const block *b, size_t directory, uint32_t tag) {
    size_t e = entry(b, directory, tag);
    if (!e || number(b, e + 4, 4) != 1)
        return 0;
    uint32_t type = number(b, e + 2, 2);
    return type == SHORT ? number(b, e + 8, 2) : type == LONG ? number(b, e + 8, 4) : 0;
}

static double rational(const block *b, size_t directory, uint32_t tag) {
    size_t e = entry(b, directory, tag);
    if (!e || number(b, e + 2, 2) != RATIONAL || number(b, e + 4, 4) != 1)
        return 0;
    size_t at = number(b, e + 8, 4);
    if (!inside(b, at, 8))
        return 0;
    uint32_t below = number(b, at + 4, 4);
    return below ? (double)number(b, at, 4) / below : 0;
}

static void text(const block *b, size_t directory, uint32_t tag, mil_exif *exif) {
    size_t e = entry(b, directory, tag);
    if (!e || number(b, e + 2, 2) != ASCII)
        return;
    size_t n = number(b, e + 4, 4);
    size_t at = n <= 4 ? e + 8 : number(b, e + 8, 4);
    if (!inside(b, at, n))
        return;
    exif->software = b->bytes + at;
    exif->software_size = strnlen((const char *)b->bytes + at, n);
}

void mil_exif_parse(const uint8_t *bytes, size_t size, mil_exif *exif) {
    *exif = (mil_exif){.orientation = 1};
    if (size < 8 || (memcmp(bytes, "II*\0", 4) != 0 && memcmp(bytes, "MM\0*", 4) != 0))
        return;
    block b = {bytes, size, bytes[0] == 'M'};
    size_t first = number(&b, 4, 4);
    uint32_t orientation = whole(&b, first, 0x0112);
    if (orientation >= 1 && orientation <= 8)
        exif->orientation = (int)orientation;
    uint32_t unit = whole(&b, first, 0x0128);
    double scale = unit == 3 ? 2.54 : 1;
    if (unit != 1) {
        exif->dpi[0] = scale * rational(&b, first, 0x011a);
        exif->dpi[1] = scale * rational(&b, first, 0x011b);
    }
    text(&b, first, 0x0131, exif);
    exif->srgb = whole(&b, whole(&b, first, 0x8769), 0xa001) == 1;
}
