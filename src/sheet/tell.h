/* What a sheet tells its maker: tones, tarnish, the brush's work, and the light it had. */
#ifndef MILORI_TELL_H
#define MILORI_TELL_H

#include "sheet/cells.h"

/* Fills s->told from the cells as the separation leaves them, and s. fog_sigma: of the fog inside
 * the frame, K/S, or NaN. Overwrites cells->exposed. */
void mil_tell(mil_cells *cells, double fog_sigma, mil_separation *s);
/* How many tones stand apart from the grain, and its uncertainty (tell_tones.c). *step: the least
 * K/S above the unexposed coat that stands apart from it. */
milori_value mil_tell_tones(mil_cells *cells, const mil_separation *s, double *step);

/* Part of what a coat can give at which light tones are aimed: on drawn sheets about a third of the
 * dye, which surface glare and the scanner's flare let look paler. */
#define MIL_TELL_AIM 0.25
/* Light as the dye would show it if it never ran out, K/S: most * -ln(1 - strength / most). */
double mil_tell_light(double strength, double most);
/* Stops from the light that gave strength to the one called right on a coat that can give most
 * (milori-measure(1) argues which that is). */
double mil_tell_next(double strength, double most);
/* Least and largest K/S of light tones called right on such a coat, whose fog and least step are
 * given in K/S. */
void mil_tell_right(double most, double fog, double step, double limits[2]);
/* The verdict on light tones between, below or above these. */
milori_exposure mil_tell_exposure(double strength, const double limits[2]);
/* The word for a sheet's fog. */
milori_tarnish mil_tell_tarnish(const milori_value *fog);

#endif
