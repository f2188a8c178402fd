/* Which beads have a hole: the light at the middle against that of the ring. */
#include <math.h>

#include "print/target_parts.h"

static double look_at(const mil_look *look, double x, double y) {
    double u = fmin(fmax(x - 0.5, 0), look->nx - 1), v = fmin(fmax(y - 0.5, 0), look->ny - 1);
    int i = (int)u, j = (int)v;
    int i1 = i + 1 < look->nx ? i + 1 : i, j1 = j + 1 < look->ny ? j + 1 : j;
    const float *top = look->value + (size_t)j * (size_t)look->nx;
    const float *foot = look->value + (size_t)j1 * (size_t)look->nx;
    u -= i;
    v -= j;
    return (top[i] * (1 - u) + top[i1] * u) * (1 - v) + (foot[i] * (1 - u) + foot[i1] * u) * v;
}

/* Mean on a circle round a bead, radius in cells. */
static double circle(const mil_look *look, const mil_bead *b, double radius) {
    double sum = 0;
    for (int k = 0; k < 16; k++) {
        double a = k * (3.14159265358979323846 / 8);
        sum += look_at(look, b->x + radius * cos(a), b->y + radius * sin(a));
    }
    return sum / 16;
}

/* Two means of values that fall into two heaps, as far apart as they go. */
static void two_heaps(const mil_bead *bead, size_t count, double *low, double *high) {
    *low = 1e300;
    *high = -1e300;
    for (size_t i = 0; i < count; i++) {
        *low = fmin(*low, bead[i].pierced);
        *high = fmax(*high, bead[i].pierced);
    }
    for (int round = 0; round < 20; round++) {
        double middle = (*low + *high) / 2, sum[2] = {0}, n[2] = {0};
        for (size_t i = 0; i < count; i++) {
            int which = bead[i].pierced > middle;
            sum[which] += bead[i].pierced;
            n[which]++;
        }
        *low = n[0] > 0 ? sum[0] / n[0] : *low;
        *high = n[1] > 0 ? sum[1] / n[1] : *high;
    }
}

void mil_target_look_in(const mil_look *look, double pitch, mil_bead *bead, size_t count) {
    const double mm = pitch / MIL_TARGET_PITCH;
    for (size_t i = 0; i < count; i++) {
        mil_bead *b = &bead[i];
        double ring = circle(look, b, 1.12 * mm), ground = circle(look, b, 2.2 * mm);
        double hole = 0.4 * look_at(look, b->x, b->y) + 0.6 * circle(look, b, 0.3 * mm);
        b->pierced = (ring - hole) / fmax(ring - ground, 1);
    }
    double low, high;
    two_heaps(bead, count, &low, &high);
    for (size_t i = 0; i < count; i++) {
        double about = (bead[i].pierced - (low + high) / 2) / fmax((high - low) / 2, 1e-6);
        bead[i].pierced = fmin(fmax(about, -1), 1);
    }
}
