#include "tone/palette_parts.h"

enum {
    SMOOTH = 12,        /* knots to either side that smoothing reaches */
    REACH = SMOOTH + 2, /* and the spline between knots */
    LAST = MIL_PALETTE_KNOTS - 1
};
static const double unknown = -1;

static int inside(int knot) {
    return knot < 0 ? 0 : knot > LAST ? LAST : knot;
}

static bool holds_at(const double lab[3], double factor,
                     bool (*holds)(const void *, const double[3]), const void *data) {
    const double lowered[3] = {lab[0], factor * lab[1], factor * lab[2]};
    return holds(data, lowered);
}

/* The largest part of a colour's chroma that can be shown, by halving. */
static double largest(const double lab[3], bool (*holds)(const void *, const double[3]),
                      const void *data) {
    if (holds_at(lab, 1, holds, data))
        return 1;
    if (!holds_at(lab, 0, holds, data))
        return unknown;
    double low = 0, high = 1;
    for (int i = 0; i < 12; i++) {
        double middle = (low + high) / 2;
        if (holds_at(lab, middle, holds, data))
            low = middle;
        else
            high = middle;
    }
    return low;
}

/* Gives places without a factor that of the nearest lighter place, else darker. */
static void fill_unknown(double *factor) {
    for (int i = LAST - 1; i >= 0; i--)
        if (factor[i] < 0)
            factor[i] = factor[i + 1];
    for (int i = 1; i <= LAST; i++)
        if (factor[i] < 0)
            factor[i] = factor[i - 1];
}

/* The smallest factor within reach of each knot, then a mean weighted over less
 * than that reach: smooth, and nowhere above what can be shown. */
static void smooth(double *factor) {
    double least[MIL_PALETTE_KNOTS];
    for (int i = 0; i <= LAST; i++) {
        least[i] = 1;
        for (int d = -REACH; d <= REACH; d++)
            if (factor[inside(i + d)] < least[i])
                least[i] = factor[inside(i + d)];
    }
    for (int i = 0; i <= LAST; i++) {
        double sum = 0, weights = 0;
        for (int d = -SMOOTH; d <= SMOOTH; d++) {
            double u = (double)d / (SMOOTH + 1), weight = (1 - u * u) * (1 - u * u);
            sum += weight * least[inside(i + d)];
            weights += weight;
        }
        factor[i] = sum / weights;
    }
}

void mil_palette_limit_new(const mil_palette_path *path,
                           bool (*holds)(const void *, const double[3]), const void *data,
                           mil_palette_limit *limit) {
    limit->needed = false;
    if (!holds)
        return;
    bool any = false;
    for (int i = 0; i <= LAST; i++) {
        double lab[3];
        mil_palette_path_at(path, (double)i / LAST, lab);
        limit->factor[i] = largest(lab, holds, data);
        limit->needed = limit->needed || (limit->factor[i] >= 0 && limit->factor[i] < 1);
        any = any || limit->factor[i] >= 0;
    }
    limit->needed = limit->needed && any;
    if (!limit->needed)
        return;
    fill_unknown(limit->factor);
    smooth(limit->factor);
}

/* A uniform cubic B-spline over the knots: its second derivative is continuous
 * and it never passes what it joins. */
double mil_palette_limit_at(const mil_palette_limit *limit, double at) {
    if (!limit->needed)
        return 1;
    double place = at * LAST;
    int i = inside((int)place);
    double u = place - i, v = 1 - u;
    const double *f = limit->factor;
    return (v * v * v * f[inside(i - 1)] + (3 * u * u * u - 6 * u * u + 4) * f[i] +
            (3 * v * v * v - 6 * v * v + 4) * f[inside(i + 1)] + u * u * u * f[inside(i + 2)]) /
           6;
}
