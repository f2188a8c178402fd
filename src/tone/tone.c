#include "tone/tone.h"

#include <math.h>
#include <string.h>

/* Tones that count as the ends of a grade's range. Palettes are even in L*: on one from L* 5 to 100
 * ISO 6846's points S and T (90 % of the most density, 0.04 above the least) lie at 3.6 and 96.3 %,
 * on one from L* 12 at 4.9 and 96.0 %. */
static const double range_ends = 0.04;
/* How the middle of the sheet's tones is met: half way, and no further than leaves its lightest
 * and darkest tones within 8 % of the palette's ends where its range allows. */
static const double middle_place = 0.46, middle_weight = 0.5, ends_kept = 0.08;
/* Most grain in the middle of an automatic print: standard deviations of a cell of the sheet, L*.
 * Twice that is less than a step of Munsell value (10), which grain must not cover. */
static const double most_grain = 4, palette_span = 95;
/* Automatic grades. Softer than the first no print looks right, harder than the last a sheet's own
 * haze is lost. */
static const double softest = -1.5, hardest = 4;
/* A sheet without noise is still not known to better than this part of its light tones. */
static const double least_noise = 1e-3;
/* Up to this part of saturation it is undone in full, beyond it the tangent goes on: a sun's
 * amount may well be past saturation. */
static const double saturation_known = 0.9;

static double logit(double t) {
    return log(t / (1 - t));
}

static double clamp(double x, double low, double high) {
    return fmin(fmax(x, low), high);
}

/* x, held to where sums of it stay finite; other for what is no number. */
static double finite_or(double x, double other) {
    return isfinite(x) ? clamp(x, -1e9, 1e9) : other;
}

/* First-order use of the sensitiser: amount = S (1 - exp(-light/S)). */
static double unsaturate(double shoulder, double amount) {
    if (!(shoulder > 0))
        return amount;
    double u = amount / shoulder, known = saturation_known;
    if (u > known)
        return shoulder * ((u - known) / (1 - known) - log1p(-known));
    return -shoulder * log1p(-u);
}

/* log2 of floor ln(1 + exp(light / floor)): light itself well above the floor, and a straight line
 * below zero, so that the grain of the darkest tones is never cut flat. */
static double soft_log(double floor_, double light) {
    double u = light / floor_;
    if (u < -36)
        return log2(floor_) + u / log(2);
    double soft = u > 0 ? light + floor_ * log1p(exp(-u)) : floor_ * log1p(exp(u));
    return log2(soft);
}

/* log10 of light, before the middle is known. */
static double log_light(const mil_tone *tone, double amount) {
    double light = unsaturate(tone->shoulder, amount) - tone->veil;
    return soft_log(tone->floor, light) * log10(2);
}

double mil_tone_light(const mil_tone *tone, double amount) {
    if (isnan(amount))
        return -INFINITY;
    double light = unsaturate(tone->shoulder, amount) - tone->veil;
    return soft_log(tone->floor, light) - log2(tone->middle);
}

/* Leaves the middle, the other end and the slope in the middle as they are; the end's tones keep
 * apart where the logistic would crowd them. softness 0..1. */
static double soften(double z, double softness) {
    return softness > 0 ? asinh(softness * z) / softness : z;
}

double mil_tone_place(const mil_tone *tone, double stops) {
    if (isnan(stops))
        return 0;
    double steep = 2 * logit(1 - range_ends) / tone->log_range;
    double z = steep * log10(2) * (stops + tone->stops);
    z = soften(z, z < 0 ? tone->soften_shadows : tone->soften_lights);
    double t = 1 / (1 + exp(-z));
    if (tone->curve_points)
        t = mil_monotone_at(tone->curve, tone->curve_slope, tone->curve_points, t);
    return clamp(t, 0, 1);
}

double mil_tone_of(const mil_tone *tone, double amount) {
    return mil_tone_place(tone, mil_tone_light(tone, amount));
}

static void take_choices(const milori_choices *choices, mil_tone *tone) {
    tone->stops = finite_or(choices->stops, 0);
    tone->soften_shadows = clamp(choices->soften_shadows, 0, 1);
    tone->soften_lights = clamp(choices->soften_lights, 0, 1);
    if (!mil_curve_valid(choices->curve, choices->curve_points))
        return;
    tone->curve_points = choices->curve_points;
    memcpy(tone->curve, choices->curve, sizeof tone->curve);
    mil_monotone_slopes(tone->curve, tone->curve_points, tone->curve_slope);
}

/* Amounts that a tone can be fitted to, whatever was measured. */
typedef struct sane {
    double dark, light, middle, noise;
} sane;

static sane take_scale(const mil_scale *scale, double veil_percent, mil_tone *tone) {
    sane s = {.light = finite_or(scale->light, 1)};
    double noise = fmax(finite_or(scale->noise, 0), 0), grain = fmax(finite_or(scale->grain, 0), 0);
    s.light = fmax(s.light, least_noise);
    s.dark = clamp(finite_or(scale->dark, 0), 0, s.light);
    s.middle = clamp(finite_or(scale->middle, (s.dark + s.light) / 2), s.dark, s.light);
    s.noise = fmax(noise, least_noise * s.light);
    /* Within its own grain a pixel says nothing of the scene's light: tones run out there. */
    tone->floor = hypot(s.noise, grain);
    double range = unsaturate(tone->shoulder, s.light) - unsaturate(tone->shoulder, s.dark);
    tone->veil = clamp(finite_or(veil_percent, 0), 0, 95) / 100 * range;
    return s;
}

/* Log range that a print of light from 10^dark to 10^light needs so that noise makes no more than
 * most_grain in its middle. */
static double range_for_noise(const mil_tone *tone, double dark, double light, double noise) {
    double middle = pow(10, (dark + light) / 2);
    double kept = -expm1(-middle / tone->floor); /* slope of the soft floor */
    double sd = noise * kept / middle / log(10);
    return sd * palette_span * logit(1 - range_ends) / 2 / most_grain;
}

/* log10 of the dark tones' light. The veil is an estimate, and near it the log runs away: it widens
 * the sheet's range by no more than a stop. */
static double log_dark(const mil_tone *tone, double amount) {
    double light = unsaturate(tone->shoulder, amount);
    return soft_log(tone->floor, fmax(light - tone->veil, light / 2)) * log10(2);
}

/* A short exposure's pale blue prints softer, so that the sheet keeps its mood: half of what its
 * light tones are short of full_strength widens the range. Ours. */
static double mood(double strength) {
    static const double full_strength = 0.5;
    if (!(strength > 0) || strength >= full_strength)
        return 0;
    return fmin(0.5 * log10(full_strength / strength), 0.5);
}

void mil_tone_resolve(const mil_scale *scale, const milori_choices *choices, double veil_percent,
                      double shoulder, mil_tone *tone) {
    memset(tone, 0, sizeof *tone);
    tone->shoulder = isfinite(shoulder) && shoulder > 0 ? clamp(shoulder, 1e-6, 1e9) : 0;
    take_choices(choices, tone);
    sane s = take_scale(scale, veil_percent, tone);

    double widest = mil_grade_range(softest), narrowest = mil_grade_range(hardest);
    double light = log_light(tone, s.light);
    /* Of a range no grade holds the lights are kept: the darkest tones are nearest to the noise. */
    double dark = fmax(log_dark(tone, s.dark), light - widest);
    double own = fmax(light - dark, narrowest);
    own = fmin(own + mood(scale->strength), fmax(own, widest));
    double quiet = fmin(range_for_noise(tone, dark, light, s.noise), widest);
    double range = fmax(own, quiet);
    tone->noise_limited = quiet > own;

    double steep = 2 * logit(1 - range_ends) / range, centre = (dark + light) / 2;
    double meets = log_light(tone, s.middle) - logit(middle_place) / steep;
    double room = fmax((light - dark) / 2 - logit(1 - ends_kept) / steep, 0);
    double middle = centre + clamp(middle_weight * (meets - centre), -room, room);
    tone->middle = pow(10, middle);
    tone->automatic_stops = (light - range / 2 - middle) / log10(2);

    /* A grade of the user's own turns about the same middle. */
    bool chosen = isfinite(choices->grade);
    tone->grade = chosen ? clamp(choices->grade, -2, 8) : mil_range_grade(range);
    tone->log_range = chosen ? mil_grade_range(tone->grade) : range;
    tone->noise_limited = tone->noise_limited && !chosen;
}
