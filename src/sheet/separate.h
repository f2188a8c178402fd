/* The picture's dye apart from base, fog and stain. */
#ifndef MILORI_SEPARATE_H
#define MILORI_SEPARATE_H

#include "sheet/find.h"

/* A smooth surface over the scan: cubic B-spline whose knots are the centres of
 * the grid's cells (x0, y0) .. (x0 + nx - 1, y0 + ny - 1). */
typedef struct mil_surface {
    int x0, y0, nx, ny;
    uint32_t cell; /* px a side */
    float *knot;   /* nx * ny */
} mil_surface;

/* The four knots' rows gathered for a row at y px: line has nx values. */
void mil_surface_row(const mil_surface *surface, double y, float *line);
/* The surface at x px from that line. */
float mil_surface_at(const mil_surface *surface, const float *line, double x);
void mil_surface_free(mil_surface *surface);

/* What amounts the frame holds, for the tone. Amounts are in units of the
 * sheet's own light tones (light = about 1). */
typedef struct mil_scale {
    double strength; /* K/S of amount 1 in the dye's band: how deep the blue is; 0 unknown */
    double dark;     /* amount of the darkest tones that are picture: 4 % of the frame are darker */
    double light;    /* amount of the lightest tones: 2 % are lighter; the sun left out */
    double middle;
    double noise;           /* standard deviation of the amount in unexposed paper, per cell */
    double grain;           /* the same per pixel */
    double percentile[101]; /* of the cells' amounts in the frame, sun left out */
} mil_scale;

/* What the sheet tells its maker (tell.h); as milori_sheet has it. */
typedef struct mil_told {
    milori_value strength, most, tones, uneven, next;
    milori_exposure exposure;
} mil_told;

/* How a scan's absorptions become amounts:
 *
 *   z(x, y)      = sum over c of mix[c] * absorption[c] + inner(x, y)
 *   amount(x, y) = unit * (ks(base + z) - ks(base)) - fog(x, y)
 *
 * z is a density in the dye's own band, from which paper texture, which darkens
 * all channels alike, and most of the coat's unevenness have dropped out; ks(D)
 * is Kubelka and Munk's K/S of the reflectance 10^-D, so that the amount grows
 * in proportion to the dye (mil_density_ks()). */
typedef struct mil_separation {
    int channels;
    double mix[3];     /* of what is finer than the grid's cells */
    double base;       /* density of unexposed coat in the dye's band */
    double unit;       /* so that the light tones' amount is 1 */
    mil_surface inner; /* base, what broad tones' own mix adds, the coat's unevenness left */
    mil_surface fog;   /* amount of dye that is no picture */
    double shoulder;   /* amount at which the dye saturates, S: amount = S (1 - exp(-light / S)); 0
                          none */
    mil_scale scale;
    milori_value base_density[3], fog_density, stain, range, noise;
    double sun_fraction;
    double veil;     /* per cent of the range, taken off */
    mil_surface sun; /* 1 in the reversed core of a sun's track, 0 outside; knot NULL: none */
    mil_told told;
    milori_notes notes;
} mil_separation;

/* Kubelka and Munk's K/S = (1 - R)^2 / 2R of R = 10^-density; R is kept within
 * 0.003 .. 1, which is what a flatbed can tell apart. */
double mil_density_ks(double density);
/* The density of a K/S, which is kept from 0.0001 up. */
double mil_ks_density(double ks);

milori_status mil_separate(milori_context *ctx, const mil_grid *grid, const mil_found *found,
                           const milori_choices *choices, mil_separation *separation);
void mil_separation_free(mil_separation *separation);

#endif
