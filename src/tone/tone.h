/* From amount of dye to a place on the palette. */
#ifndef MILORI_TONE_H
#define MILORI_TONE_H

#include "sheet/separate.h"

/* Resolved tone: what the print does. Plain data. */
typedef struct mil_tone {
    double stops;     /* automatic part plus the user's */
    double grade;     /* used */
    double log_range; /* log10 exposure range of that grade (ISO 6846's LER) */
    double soften_shadows, soften_lights;
    double middle;   /* amount that comes out in the middle of the palette, before stops */
    double floor;    /* amount below which tones run out towards the darkest, from the noise */
    double veil;     /* amount taken off */
    double shoulder; /* of the sheet's response, undone; 0 none */
    size_t curve_points;
    double curve[MILORI_CURVE_MAX][2];
    double curve_slope[MILORI_CURVE_MAX];
} mil_tone;

/* LER of a grade (ANSI PH2.2-1966, from memory; continuous between and beyond
 * the grades' middles) and the grade of a LER. */
double mil_grade_range(double grade);
double mil_range_grade(double log_range);

/* Fits the print to the sheet: automatic stops and grade from its range and
 * noise, so that a faint sheet keeps its mood. Notes say what was automatic. */
void mil_tone_resolve(const mil_scale *scale, const milori_choices *choices, double veil_percent,
                      double shoulder, mil_tone *tone);
/* Amount to 0 (darkest) .. 1 (lightest), L* running evenly between. Rising. */
double mil_tone_of(const mil_tone *tone, double amount);

/* Monotone cubic interpolation through points with rising x (Fritsch & Butland
 * 1984, as PCHIP does it): slopes once, then values; outside the ends, the ends'
 * values. */
void mil_monotone_slopes(const double (*points)[2], size_t count, double *slopes);
double mil_monotone_at(const double (*points)[2], const double *slopes, size_t count, double x);

/* Reads a curve file: lines "in out" (0..1, or per cent with %), # comments. */
milori_status mil_curve_read(milori_context *ctx, const char *path, milori_choices *choices);

#endif
