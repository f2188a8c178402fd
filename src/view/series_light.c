/* What the sheets of a series in one light say together. */
#include <math.h>
#include <stdlib.h>
#include <strings.h>

#include "sheet/tell.h"
#include "view/series.h"

/* Before a series is looked at: how far one sheet strays, stops, and what that is worth in sheets;
 * how far the dye's most is from what the sheets say singly, of its logarithm. Ours. */
static const double STRAY = 0.25, STRAY_SHEETS = 2, MOST_SPREAD = 0.25;
static const double LEAST_STRAY = 0.1;
/* Of the exposure called right, stops: the dye's most and what pictures hold (tell.c). */
static const double RIGHT_SIGMA = 0.5;
enum { MOST_TRIED = 61 };

double mil_series_strength(const mil_series_light *light, double minutes) {
    return light->most * -expm1(-light->rate * minutes / light->most);
}

static bool usable(const mil_series_sheet *s) {
    return s->noted && s->noted->light[0] && s->noted->minutes > 0 &&
           isfinite(s->sheet.strength.value) && s->sheet.strength.value > 0;
}

static milori_status find_lights(milori_context *ctx, mil_series *series) {
    series->light = mil_alloc(ctx, series->count + 1, sizeof *series->light);
    if (!series->light)
        return MILORI_ERR_MEMORY;
    for (size_t i = 0; i < series->count; i++) {
        mil_series_sheet *s = &series->sheet[i];
        size_t k = 0;
        if (!usable(s))
            continue;
        while (k < series->lights && strcasecmp(series->light[k].name, s->noted->light) != 0)
            k++;
        mil_series_light *light = &series->light[k];
        if (k == series->lights)
            *light = (mil_series_light){
                .name = s->noted->light, .shortest = INFINITY, .right = {NAN, NAN, MILORI_ASSUMED}};
        series->lights += k == series->lights;
        s->light = (int)k;
        light->count++;
        light->shortest = fmin(light->shortest, s->noted->minutes);
        light->longest = fmax(light->longest, s->noted->minutes);
    }
    return MILORI_OK;
}

/* How much a change of the light still shows in the strength: 1 while it is small. */
static double answer(double strength, double most) {
    double part = fmin(fmax(strength / most, 1e-6), 0.98);
    return (1 - part) * -log1p(-part) / part;
}

/* Rate for a given most, by weighted means of logarithms; the weighted squares left, stops. */
static double fit_rate(const mil_series *series, int which, double most, double *rate,
                       double *weights) {
    double sum = 0, mean = 0, left = 0;
    for (int pass = 0; pass < 2; pass++) {
        for (size_t i = 0; i < series->count; i++) {
            const mil_series_sheet *s = &series->sheet[i];
            if (s->light != which)
                continue;
            double strength = s->sheet.strength.value, w = pow(answer(strength, most), 2);
            double stops = log2(mil_tell_light(strength, most) / s->noted->minutes);
            sum += pass ? 0 : w;
            mean += pass ? 0 : w * stops;
            left += pass ? w * (stops - mean) * (stops - mean) : 0;
        }
        mean /= pass ? 1 : sum;
    }
    *rate = exp2(mean);
    *weights = sum;
    return left;
}

/* What the light's sheets say singly of the dye's most, and the least that one of them shows. */
static double usual_most(const mil_series *series, int which, double *least) {
    double sum = 0, count = 0;
    *least = 0;
    for (size_t i = 0; i < series->count; i++) {
        const mil_series_sheet *s = &series->sheet[i];
        if (s->light != which)
            continue;
        *least = fmax(*least, 1.02 * s->sheet.strength.value);
        if (s->sheet.most.value > 0) {
            sum += log(s->sheet.most.value);
            count++;
        }
    }
    return count > 0 ? exp(sum / count) : NAN;
}

/* The most probable one: sheets stray by STRAY, coats differ by MOST_SPREAD. */
static void fit_light(const mil_series *series, int which, mil_series_light *light) {
    double least, best = INFINITY, kept = 0, rate, weights;
    double usual = usual_most(series, which, &least), start = isnan(usual) ? 50 * least : usual;
    for (int i = 0; i < MOST_TRIED; i++) {
        double apart = 3 * MOST_SPREAD * (2.0 * i / (MOST_TRIED - 1) - 1);
        double most = fmax(start * exp(apart), least);
        double left = fit_rate(series, which, most, &rate, &weights);
        double cost = left / (STRAY * STRAY) + pow(log(most / start) / MOST_SPREAD, 2);
        if (cost < best) {
            best = cost;
            kept = left;
            light->most = most;
            light->rate = rate;
        }
    }
    double free_sheets = (double)light->count - 1 + STRAY_SHEETS;
    light->scatter = fmax(sqrt((kept + STRAY_SHEETS * STRAY * STRAY) / free_sheets), LEAST_STRAY);
    if (!isnan(usual))
        light->right = (milori_value){
            mil_tell_light(light->most * MIL_TELL_AIM, light->most) / light->rate,
            hypot(RIGHT_SIGMA, light->scatter / sqrt((double)light->count)), MILORI_FOUND};
}

static void tell_sheet(const mil_series *series, mil_series_sheet *s) {
    const mil_series_light *light = &series->light[s->light];
    const mil_series_sheet *first = NULL;
    for (size_t i = 0; i < series->count && !first; i++)
        if (series->sheet[i].light == s->light &&
            series->sheet[i].noted->minutes == light->shortest)
            first = &series->sheet[i];
    double own = s->sheet.strength.value, of_first = first->sheet.strength.value;
    s->apart = (milori_value){
        log2(mil_tell_light(own, light->most) / mil_tell_light(of_first, light->most)),
        s == first ? 0
                   : light->scatter *
                         hypot(1 / answer(own, light->most), 1 / answer(of_first, light->most)),
        MILORI_FOUND};
    if (light->right.value > 0)
        s->next = (milori_value){log2(light->right.value / s->noted->minutes), light->right.sigma,
                                 MILORI_FOUND};
}

milori_status mil_series_relate(milori_context *ctx, mil_series *series) {
    milori_status status = find_lights(ctx, series);
    if (status != MILORI_OK)
        return status;
    for (size_t k = 0; k < series->lights; k++)
        if (series->light[k].count > 1)
            fit_light(series, (int)k, &series->light[k]);
    for (size_t i = 0; i < series->count; i++) {
        mil_series_sheet *s = &series->sheet[i];
        s->next = s->sheet.next_stops;
        s->apart = (milori_value){NAN, NAN, MILORI_ASSUMED};
        if (s->light >= 0 && series->light[s->light].count > 1)
            tell_sheet(series, s);
    }
    return MILORI_OK;
}
