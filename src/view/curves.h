/* How tones go from the scene by way of the sheet into the print: the four curves of
 * a tone reproduction diagram (L. A. Jones, 1920). */
#ifndef MILORI_CURVES_H
#define MILORI_CURVES_H

#include "render/render.h"

enum { MIL_CURVE_SAMPLES = 97 };

/* One row of samples along the scene's light. */
typedef struct mil_curves {
    double light[MIL_CURVE_SAMPLES];     /* stops about the print's middle, evenly spaced, rising */
    double density[MIL_CURVE_SAMPLES];   /* on the sheet, in the dye's own band, base not in it */
    double amount[MIL_CURVE_SAMPLES];    /* stops about the middle, as the separation finds it:
                                            shoulder undone, veil off; -inf none */
    double place[MIL_CURVE_SAMPLES];     /* on the palette, 0 darkest .. 1 lightest */
    double lightness[MIL_CURVE_SAMPLES]; /* L* of the print, 0..100 */
    /* Marks, in stops about the middle as amount is. */
    double dark, light_tones; /* between which all but the darkest 4 % and lightest 2 % lie */
    double grain;             /* amount that the grain covers */
    double fog_density;       /* of the sheet's margin above a clear coat, density */
} mil_curves;

/* Without the user's dodge. palette: L* is looked up on choices' own. */
milori_status mil_curves_make(milori_context *ctx, const mil_tone *tone,
                              const mil_separation *separation, const milori_choices *choices,
                              mil_curves *curves);

#endif
