/* A photographic step tablet, printed in contact: the process's own scale. */
#ifndef MILORI_TABLET_H
#define MILORI_TABLET_H

#include "base/base.h"

enum { MIL_TABLET_LEAST = 5, MIL_TABLET_MOST = 64 };

/* The densities of a tablet's steps, rising: its least dense step exposes most. */
typedef struct mil_tablet {
    size_t count; /* MIL_TABLET_LEAST .. MIL_TABLET_MOST */
    double density[MIL_TABLET_MOST];
} mil_tablet;

/* "21x0.15": so many steps that far apart, from 0.05 (clear film, from memory); or the
 * densities themselves, with commas or blanks between, or lines of them in a file of
 * that name (# comments). Numbers that fall all along are turned about.
 * MILORI_ERR_ARGUMENT names what is wrong. */
milori_status mil_tablet_parse(milori_context *ctx, const char *text, mil_tablet *tablet);

/* A characteristic curve: density of the print over log10 exposure, which is here
 * minus the tablet's density. ISO 6846:1992: T lies 0.04 above the cleared paper, S
 * at 90 % of the greatest density, and the exposure scale is H_S - H_T. Whether the
 * 90 % count from nothing or from the paper is not settled by what could be read of
 * the standard: both are here, and "net" is the latter. */
typedef struct mil_scale_curve {
    size_t count;
    double point[MIL_TABLET_MOST][2]; /* log exposure rising, density never falling */
    double slope[MIL_TABLET_MOST];    /* of mil_monotone_at() */
    double least, most;               /* density of the cleared paper and of the deepest blue */
    double T[2], S[2], S_net[2];      /* log exposure, density */
    double scale, scale_net;          /* H_S - H_T */
    double sigma;                     /* standard uncertainty of scale */
} mil_scale_curve;

/* Fits a curve that never falls through densities of the print, given in the order
 * of tablet with their standard uncertainties, and finds the points on it. false if
 * it has no range (T or S are not reached). */
bool mil_scale_fit(const mil_tablet *tablet, const double *density, const double *sigma,
                   mil_scale_curve *curve);
double mil_scale_at(const mil_scale_curve *curve, double log_exposure);
/* ISO range R = 100 LER, in tens. */
int mil_scale_iso_range(double scale);

/* One step of the print. */
typedef struct mil_tablet_step {
    double x_px, y_px; /* its middle, upright scan */
    double light[3];   /* linear light in the scan's channels, middle of its cells */
    double L;          /* CIE L*, D50 */
    double density;    /* visual: -log10 Y, as the scan's profile has it */
    double red;        /* -log10 of the red channel's light; grey scans: as density */
    double sigma;      /* standard uncertainty of density */
} mil_tablet_step;

typedef struct mil_tablet_print {
    mil_tablet tablet;
    mil_tablet_step step[MIL_TABLET_MOST];
    bool colour;                 /* false: grey scan, red means nothing */
    mil_scale_curve visual, red; /* of either density */
    double spare_stops;          /* by which less light would still give S under the first step */
} mil_tablet_print;

/* Reads the scan of the print. ends: middles of the first step (the clearest of the
 * tablet, so the deepest blue) and of the last, in px of the upright scan, or NULL:
 * the row of steps is looked for, at any tilt. MILORI_ERR_SHEET with the reason: none
 * found, its ends not seen, exposed too short for the deepest blue, not monotone.
 * Notes: "paper" (the lightest step is no cleared paper yet), "exposure". */
milori_status mil_tablet_read(milori_context *ctx, const char *path, const mil_tablet *tablet,
                              const double ends[2][2], mil_tablet_print *print,
                              milori_notes *notes);

#endif
