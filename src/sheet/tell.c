#include "sheet/tell.h"

#include <math.h>

#include "sheet/find_private.h"

/* Unwashed print-out dye's most, K/S above the coat. Nothing is published; ours, in the middle of
 * what simulated coats can give. */
static const double USUAL_MOST = 2.8;
/* What a sheet itself tells of it is three times as unsure as coats differ, so it moves the usual
 * one by a third of the way. Measured on drawn sheets; ours. */
static const double TRUST = 1.0 / 3;
static const double MOST_SIGMA = 0.25; /* of its logarithm, after that */
/* Parts of the most: the limits of what is called right. */
static const double LEAST = 0.15, LARGEST = 0.4;
static const double OVER_FOG = 4; /* times the fog that light tones should reach */
static const double STEPS = 64;   /* six stops above the first step that stands apart */
/* How differently pictures fill a frame: of the log of the light tones. Ours, measured on drawn
 * sheets. */
static const double PICTURE_SIGMA = 0.27;
/* Red density that is fog beyond its own uncertainty: from here slight, from there clear. Ours. */
static const double SLIGHT = 0.06, CLEAR = 0.10;

double mil_tell_light(double strength, double most) {
    double part = fmin(fmax(strength / most, 1e-6), 0.98);
    return -most * log(1 - part);
}

double mil_tell_next(double strength, double most) {
    return log2(mil_tell_light(MIL_TELL_AIM * most, most) / mil_tell_light(strength, most));
}

void mil_tell_right(double most, double fog, double step, double limits[2]) {
    limits[0] = fmax(LEAST * most, fmax(OVER_FOG * fog, STEPS * step));
    limits[0] = fmin(limits[0], 0.8 * MIL_TELL_AIM * most);
    limits[1] = LARGEST * most;
}

milori_exposure mil_tell_exposure(double strength, const double limits[2]) {
    if (!(strength > 0))
        return MILORI_EXPOSURE_UNKNOWN;
    return strength < limits[0]   ? MILORI_EXPOSURE_SHORT
           : strength > limits[1] ? MILORI_EXPOSURE_LONG
                                  : MILORI_EXPOSURE_RIGHT;
}

milori_tarnish mil_tell_tarnish(const milori_value *fog) {
    double sure = fog->value - fog->sigma;
    if (isnan(sure))
        return MILORI_TARNISH_UNKNOWN;
    return sure < SLIGHT  ? MILORI_FRESH
           : sure < CLEAR ? MILORI_SLIGHTLY_FOGGED
                          : MILORI_CLEARLY_FOGGED;
}

static milori_value find_most(const mil_separation *s) {
    double own = s->shoulder * s->scale.strength;
    bool seen = own > USUAL_MOST / 5 && own < USUAL_MOST * 5;
    double most = USUAL_MOST * pow(seen ? own / USUAL_MOST : 1, TRUST);
    /* A coat gives at least what it has given. */
    most = fmax(most, 1.1 * s->scale.strength);
    return (milori_value){most, (seen ? 1 : 1.2) * MOST_SIGMA * most,
                          seen ? MILORI_FOUND : MILORI_ASSUMED};
}

static milori_value find_next(const mil_told *told) {
    double strength = told->strength.value, most = told->most.value;
    double own = hypot(PICTURE_SIGMA, told->strength.sigma / strength);
    double next = mil_tell_next(strength, most);
    double by_most = mil_tell_next(strength, most + told->most.sigma) - next;
    double by_picture = mil_tell_next(strength * exp(-own), most) - next;
    return (milori_value){next, hypot(by_most, by_picture), told->most.origin};
}

/* The estimate of the coat leans towards an even one, and knows a little of the picture: on drawn
 * sheets it shows this much less than was put in. */
static milori_value find_uneven(mil_cells *cells) {
    static const double LEANS = 1.15, UNSURE = 0.15;
    size_t n = 0, all = mil_cells_count(cells);
    for (size_t i = 0; i < all; i++)
        if (cells->part[i] == MIL_MARGIN || cells->part[i] == MIL_FRAME)
            cells->exposed[n++] = cells->coat[i];
    /* Between quartiles: what brush and cut left ragged shall not count. */
    double low = mil_quantile(cells->exposed, n, 0.25),
           high = mil_quantile(cells->exposed, n, 0.75);
    double value = 100 * LEANS * (high - low) / 1.349;
    return (milori_value){value, fmax(UNSURE * value, 1), MILORI_FOUND};
}

static const milori_value UNKNOWN = {NAN, NAN, MILORI_ASSUMED};

void mil_tell(mil_cells *cells, double fog_sigma, mil_separation *s) {
    mil_told *told = &s->told;
    double step = 0, limits[2];
    double strength = s->scale.strength, clear = s->base_density[0].value - s->fog_density.value;
    double fog = mil_density_ks(s->base_density[0].value) - mil_density_ks(clear);
    *told = (mil_told){.strength = UNKNOWN, .most = UNKNOWN, .tones = UNKNOWN, .next = UNKNOWN};
    told->uneven = s->channels == 3 ? find_uneven(cells) : UNKNOWN;
    if (!(strength > 1e-3) || cells->margin == 0)
        return;
    told->strength = (milori_value){
        strength, hypot(0.03 * strength, isnan(fog_sigma) ? 0 : fog_sigma), MILORI_FOUND};
    told->tones = mil_tell_tones(cells, s, &step);
    if (s->channels != 3)
        return; /* grey is not the dye's band */
    told->most = find_most(s);
    mil_tell_right(told->most.value, fog, step, limits);
    told->exposure = mil_tell_exposure(strength, limits);
    told->next = find_next(told);
}
