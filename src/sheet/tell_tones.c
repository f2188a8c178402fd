/* How many tones stand apart from the grain. */
#include "sheet/tell.h"

#include <math.h>

#include "sheet/find_private.h"

/* What an eye takes together at reading distance: a minute of arc from 340 mm. A convention. */
static const double SPOT_MM = 0.1;
/* Two spots of like tone differ by more one time in twenty: 1.96 times the root of two. */
static const double APART = 2.77;
/* What is more than so many times the margin's grain is the picture's own texture. Ours. */
static const double MOST_GRAIN = 3;
/* What rounding to 8 bits adds to density: a code in 200 of a gamma of 2.2, evenly spread. */
static const double EIGHT_BITS = 2.2 / 200 / 2.302585 / 3.4641;
enum { BINS = 8 };

/* dKS / dD */
static double slope(double density) {
    return (mil_density_ks(density + 0.01) - mil_density_ks(density - 0.01)) / 0.02;
}

/* Variance of z within each cell, into cells->exposed. */
static void variances(mil_cells *cells, const mil_separation *s) {
    static const int PLACE[3][3] = {{0, 1, 2}, {1, 3, 4}, {2, 4, 5}};
    const mil_grid *grid = cells->grid;
    for (int j = 0; j < cells->ny; j++)
        for (int i = 0; i < cells->nx; i++) {
            size_t at = (size_t)(j + cells->y0) * (size_t)grid->nx + (size_t)(i + cells->x0);
            double sum = 0;
            for (int a = 0; a < s->channels; a++)
                for (int b = 0; b < s->channels; b++)
                    sum += s->mix[a] * s->mix[b] * grid->cov[PLACE[a][b]][at];
            cells->exposed[(size_t)j * (size_t)cells->nx + (size_t)i] = (float)fmax(sum, 0);
        }
}

/* The quiet fifth of a part's variances where the amount is from low to high: there the picture
 * has little detail of its own. */
static double quiet(mil_cells *cells, mil_part part, double low, double high) {
    size_t n = 0, all = mil_cells_count(cells);
    for (size_t i = 0; i < all; i++)
        if (cells->part[i] == part && cells->amount[i] >= low && cells->amount[i] <= high)
            cells->work[n++] = cells->exposed[i];
    return n < 20 ? NAN : mil_quantile(cells->work, n, 0.2);
}

/* Deviation of the margin's z over a spot. White grain and none but broad mottle are the extremes;
 * between the pixel's and the cell's deviation a power law is taken. *unsure: of its logarithm. */
static double spot_grain(const mil_cells *cells, const mil_separation *s, double *unsure) {
    double to_density = s->scale.strength / slope(s->base);
    double broad = fmax(s->scale.noise * to_density, 1e-6);
    double fine = hypot(s->scale.grain * to_density, broad);
    double px = cells->grid->mm_px, spot = fmax(SPOT_MM, px);
    double part = log(spot / px) / fmax(log(cells->mm / px), 0.1);
    part = fmin(fmax(part, 0), 1);
    *unsure = fmax(0.1, part * (1 - part) * log(fine / broad));
    return hypot(fine * pow(broad / fine, part), cells->grid->bits == 8 ? EIGHT_BITS : 0);
}

milori_value mil_tell_tones(mil_cells *cells, const mil_separation *s, double *step) {
    const mil_scale *scale = &s->scale;
    double unsure, grain = spot_grain(cells, s, &unsure), count = 1;
    double base = mil_density_ks(s->base);
    variances(cells, s);
    double rest = quiet(cells, MIL_MARGIN, -INFINITY, INFINITY), ratio = 1;
    *step = APART * grain * slope(s->base);
    for (int b = 0; b < BINS; b++) {
        double low = scale->dark + (scale->light - scale->dark) * b / BINS;
        double high = scale->dark + (scale->light - scale->dark) * (b + 1) / BINS;
        double here = quiet(cells, MIL_FRAME, low, high);
        /* Where a tone is rare, its neighbour's grain stands for its own. */
        if (here > 0 && rest > 0)
            ratio = fmin(fmax(sqrt(here / rest), 0.7), MOST_GRAIN);
        count += (mil_ks_density(base + high * scale->strength) -
                  mil_ks_density(base + low * scale->strength)) /
                 (APART * grain * ratio);
    }
    return (milori_value){count, count * unsure, MILORI_FOUND};
}
