#include "view/curves.h"

#include <math.h>
#include <stdlib.h>

#include "tone/palette.h"

/* Stops below and above the middle that a diagram shows at most. */
static const double below = 9, above = 6, past_the_ends = 1.5;
enum { LINE = 257 };

/* The sheet's amount under a light, both in its own units: the dye's saturation, as tone.h has it.
 */
static double saturated(double shoulder, double light) {
    return shoulder > 0 ? -shoulder * expm1(-light / shoulder) : light;
}

static double density_above_base(const mil_separation *s, double amount) {
    double ks = mil_density_ks(s->base) + (s->unit > 0 ? amount / s->unit : 0);
    return mil_ks_density(ks) - s->base;
}

static double lightness_at(const double (*line)[3], double place) {
    double at = place * (LINE - 1);
    int k = at < LINE - 2 ? (int)at : LINE - 2;
    return line[k][0] + (at - k) * (line[k + 1][0] - line[k][0]);
}

static double held(double x, double low, double high) {
    return isnan(x) ? low : fmin(fmax(x, low), high);
}

milori_status mil_curves_make(milori_context *ctx, const mil_tone *tone, const mil_separation *s,
                              const milori_choices *choices, mil_curves *curves) {
    double(*line)[3] = mil_alloc(ctx, LINE, sizeof *line);
    if (!line)
        return MILORI_ERR_MEMORY;
    mil_palette_line(choices, NULL, NULL, LINE, line);
    curves->dark = mil_tone_light(tone, s->scale.dark);
    curves->light_tones = mil_tone_light(tone, s->scale.light);
    curves->grain = mil_tone_light(tone, s->scale.grain);
    curves->fog_density = s->fog_density.value;
    double first = held(curves->dark - past_the_ends, -below, -1);
    double last = held(curves->light_tones + past_the_ends, 1, above);
    for (int i = 0; i < MIL_CURVE_SAMPLES; i++) {
        double stops = first + (last - first) * i / (MIL_CURVE_SAMPLES - 1);
        double amount = saturated(tone->shoulder, tone->middle * exp2(stops) + tone->veil);
        double found = mil_tone_light(tone, amount);
        curves->light[i] = stops;
        curves->density[i] = density_above_base(s, amount);
        curves->amount[i] = found;
        curves->place[i] = mil_tone_place(tone, found);
        curves->lightness[i] = lightness_at((const double(*)[3])line, curves->place[i]);
    }
    free(line);
    return MILORI_OK;
}
