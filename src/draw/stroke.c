#include "draw/stroke.h"

#include <math.h>

typedef struct pen {
    mil_mask *mask;
    double radius;
} pen;

static uint32_t held(double x, uint32_t most) {
    return x <= 0 ? 0 : x >= most ? most : (uint32_t)x;
}

/* Distance from (x, y) to the straight piece from a to b. */
static double distance(const double a[2], const double b[2], double x, double y) {
    double dx = b[0] - a[0], dy = b[1] - a[1], length = dx * dx + dy * dy;
    double t = length > 0 ? ((x - a[0]) * dx + (y - a[1]) * dy) / length : 0;
    t = fmin(fmax(t, 0), 1);
    return hypot(x - a[0] - t * dx, y - a[1] - t * dy);
}

static void piece(const pen *p, const double a[2], const double b[2]) {
    mil_mask *m = p->mask;
    double reach = p->radius + 1;
    uint32_t left = held(floor(fmin(a[0], b[0]) - reach), m->width);
    uint32_t right = held(ceil(fmax(a[0], b[0]) + reach), m->width);
    uint32_t top = held(floor(fmin(a[1], b[1]) - reach), m->height);
    uint32_t bottom = held(ceil(fmax(a[1], b[1]) + reach), m->height);
    for (uint32_t y = top; y < bottom; y++)
        for (uint32_t x = left; x < right; x++) {
            double cover = p->radius + 0.5 - distance(a, b, x + 0.5, y + 0.5);
            uint8_t *at = &m->cover[(size_t)y * m->width + x];
            uint8_t value = (uint8_t)(255 * fmin(fmax(cover, 0), 1) + 0.5);
            *at = value > *at ? value : *at;
        }
}

/* From a to b, broken into dashes; *along is how far the line has come. */
static void dashed(const pen *p, const double a[2], const double b[2], double dash, double *along) {
    double length = hypot(b[0] - a[0], b[1] - a[1]), done = 0;
    while (done < length) {
        double in = fmod(*along, 2 * dash), step = (in < dash ? dash : 2 * dash) - in;
        step = fmin(fmax(step, 1e-3), length - done);
        double s = done / length, t = (done + step) / length;
        const double from[2] = {a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1])};
        const double to[2] = {a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])};
        if (in < dash)
            piece(p, from, to);
        done += step;
        *along += step;
    }
}

void mil_stroke(mil_mask *mask, const double (*points)[2], size_t count, double width,
                double dash) {
    const pen p = {mask, width / 2};
    double along = 0;
    for (size_t i = 0; i + 1 < count; i++) {
        const double *a = points[i], *b = points[i + 1];
        if (!isfinite(a[0] + a[1] + b[0] + b[1]))
            continue;
        if (dash > 0)
            dashed(&p, a, b, dash, &along);
        else
            piece(&p, a, b);
    }
}
