#include "print/process.h"

#include <math.h>

/* The last place k below count - 1 with at[k] <= value, values rising. */
static size_t place_of(const double *at, size_t count, double value) {
    size_t low = 0, high = count - 1;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        if (at[middle] <= value)
            low = middle;
        else
            high = middle;
    }
    return low;
}

/* Linear between points; from's values never fall. */
static double follow(const double *from, const double *to, size_t count, double value) {
    if (!(value > from[0]))
        return to[0];
    if (value >= from[count - 1])
        return to[count - 1];
    size_t k = place_of(from, count, value);
    return to[k] + (to[k + 1] - to[k]) * (value - from[k]) / (from[k + 1] - from[k]);
}

static double within(double tone) {
    return tone > 0 ? fmin(tone, 1) : 0;
}

double mil_process_lightness(const mil_process *process, double ink) {
    return follow(process->ink, process->L, process->count, ink);
}

double mil_process_ink(const mil_process *process, double tone) {
    if (!process)
        return within(tone);
    double dark = process->L[0], light = process->L[process->count - 1];
    return follow(process->L, process->ink, process->count, dark + within(tone) * (light - dark));
}

double mil_process_tone(const mil_process *process, double ink) {
    if (!process)
        return within(ink);
    double dark = process->L[0], light = process->L[process->count - 1];
    return (mil_process_lightness(process, ink) - dark) / (light - dark);
}

static bool lab_fits(const double lab[3]) {
    return lab[0] >= 0 && lab[0] <= 110 && fabs(lab[1]) <= 200 && fabs(lab[2]) <= 200;
}

static const char *curve_fault(const mil_process *p) {
    for (size_t i = 0; i < p->count; i++) {
        /* Written so that NaN fails. */
        if (!(p->ink[i] >= 0 && p->ink[i] <= 1) || !(i == 0 || p->ink[i] > p->ink[i - 1]))
            return "ink is to rise from 0 to 1";
        if (!(p->L[i] >= 0 && p->L[i] <= 110) || !(i == 0 || p->L[i] >= p->L[i - 1]))
            return "L is to be 0 to 110 and not to fall as ink rises";
        if (!(p->sigma[i] >= 0 && p->sigma[i] <= 100))
            return "an uncertainty is to be 0 to 100";
    }
    if (p->ink[0] != 0 || p->ink[p->count - 1] != 1)
        return "ink is to rise from 0 to 1";
    if (!(p->L[p->count - 1] - p->L[0] >= 5))
        return "its tones lie within 5 L*, which is no print";
    return NULL;
}

const char *mil_process_fault(const mil_process *p) {
    if (p->count < 2 || p->count > MIL_PROCESS_MOST)
        return "a curve has 2 to 256 points";
    if (!lab_fits(p->blue_lab) || !lab_fits(p->paper_lab))
        return "the blue or the paper is no colour";
    for (int c = 0; c < 3; c++)
        if (!(p->ink_rgb[c] >= 0 && p->ink_rgb[c] <= 1))
            return "the ink's red, green and blue are to be 0 to 1";
    if (!(p->repeat_sigma >= 0 && p->repeat_sigma <= 100) || p->coat_sigma < 0 ||
        p->coat_sigma > 100)
        return "a spread is to be 0 to 100";
    if (p->round < 1 || p->round > MIL_PROCESS_ROUNDS)
        return "the round is to be 1 to 1000";
    return curve_fault(p);
}
