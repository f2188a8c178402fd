/* From amount of dye to a place on the palette. */
#ifndef MILORI_TONE_H
#define MILORI_TONE_H

#include "sheet/separate.h"

/* Resolved tone: what the print does. Plain data, read by any thread.
 *
 * Light is the scene's light, in the sheet's own units: the amount with the
 * dye's saturation undone and the veil taken off. A print is a curve of light
 * in stops about its middle. */
typedef struct mil_tone {
    double shoulder; /* amount at which the dye saturates; 0 never: light = amount */
    double veil;     /* light taken off */
    double floor;    /* light within which the darkest tones run out, from the noise; > 0 */
    double middle;   /* light that comes out in the middle of the palette, at stops 0 */

    double stops;           /* the user's; + lighter */
    double automatic_stops; /* by which middle makes the print lighter than one whose lightest
                               tones just reach the palette's light end */
    double grade;           /* used */
    double log_range;       /* its log exposure range: 4 to 96 % of the palette */
    bool noise_limited;     /* automatic grade is softer than the sheet's range, for its noise */
    double soften_shadows, soften_lights;

    size_t curve_points;
    double curve[MILORI_CURVE_MAX][2];
    double curve_slope[MILORI_CURVE_MAX];
} mil_tone;

/* Log exposure range of a grade (ANSI PH2.2-1966, from memory: the middle of
 * its limits), log-linear between and beyond the grades; and back. Falling. */
double mil_grade_range(double grade);
double mil_range_grade(double log_range);

/* Fits the print to the sheet: automatic stops and grade from its range and
 * noise, so that a faint sheet keeps its mood. veil_percent is of the sheet's
 * range of light. Whatever scale holds, the tone is finite; small changes of
 * scale make small changes of the tone. */
void mil_tone_resolve(const mil_scale *scale, const milori_choices *choices, double veil_percent,
                      double shoulder, mil_tone *tone);
/* Light of an amount, in stops above the print's middle, the user's stops not
 * in it. Rising; -inf for an amount that is no number. */
double mil_tone_light(const mil_tone *tone, double amount);
/* Place on the palette, 0 (darkest) .. 1 (lightest), of light in stops above the
 * middle, to which dodging has been added. Rising, if the user's curve is. */
double mil_tone_place(const mil_tone *tone, double stops);
/* mil_tone_place(mil_tone_light()) */
double mil_tone_of(const mil_tone *tone, double amount);

/* Monotone cubic interpolation through points with rising x (Fritsch & Butland
 * 1984, as PCHIP does it): slopes once, then values; outside the ends, the ends'
 * values. */
void mil_monotone_slopes(const double (*points)[2], size_t count, double *slopes);
double mil_monotone_at(const double (*points)[2], const double *slopes, size_t count, double x);

/* Reads a curve file into choices: lines "in out" (0..1, or per cent with %),
 * in rising, at least two; # comments. */
milori_status mil_curve_read(milori_context *ctx, const char *path, milori_choices *choices);
/* Whether points make a curve: finite, 0..1, in rising, two or more. */
bool mil_curve_valid(const double (*points)[2], size_t count);

#endif
