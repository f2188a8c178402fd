#include "print/tablet.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tone/tone.h"

enum { FILE_MOST = 64 << 10 };
static const double CLEAR_FILM = 0.05;

/* ---- the tablet --------------------------------------------------------- */

static bool separates(char c) {
    return c == ',' || c == ';' || c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

/* "21x0.15" */
static bool parse_even(const char *text, mil_tablet *tablet) {
    const char *by = strchr(text, 'x');
    char number[32];
    double count, apart;
    if (!by || by == text || (size_t)(by - text) >= sizeof number)
        return false;
    memcpy(number, text, (size_t)(by - text));
    number[by - text] = 0;
    if (!mil_parse_number(number, &count) || !mil_parse_number(by + 1, &apart) || !(apart > 0) ||
        !(count >= MIL_TABLET_LEAST && count <= MIL_TABLET_MOST) || count != floor(count))
        return false;
    tablet->count = (size_t)count;
    for (size_t i = 0; i < tablet->count; i++)
        tablet->density[i] = CLEAR_FILM + apart * (double)i;
    return true;
}

/* Numbers with separators and # comments between; NULL, or what is wrong. */
static const char *parse_list(const char *text, mil_tablet *tablet) {
    tablet->count = 0;
    for (const char *p = text; *p;) {
        if (*p == '#')
            p += strcspn(p, "\n");
        if (!*p || separates(*p)) {
            p += *p != 0;
            continue;
        }
        size_t length = 0;
        char number[40];
        while (p[length] && !separates(p[length]) && p[length] != '#')
            length++;
        if (length >= sizeof number)
            return "a density is a number such as 0.15";
        memcpy(number, p, length);
        number[length] = 0;
        p += length;
        if (tablet->count == MIL_TABLET_MOST)
            return "64 densities are the most";
        if (!mil_parse_number(number, &tablet->density[tablet->count++]))
            return "a density is a number such as 0.15";
    }
    return NULL;
}

static const char *tablet_fault(mil_tablet *tablet) {
    double *d = tablet->density;
    size_t n = tablet->count;
    if (n < MIL_TABLET_LEAST)
        return "5 densities are the least";
    bool falls = d[0] > d[n - 1];
    for (size_t i = 0; falls && i < n / 2; i++) {
        double swap = d[i];
        d[i] = d[n - 1 - i];
        d[n - 1 - i] = swap;
    }
    for (size_t i = 0; i < n; i++) {
        if (!(d[i] >= 0 && d[i] <= 10))
            return "a density is 0 to 10";
        if (i > 0 && !(d[i] >= d[i - 1] + 0.005))
            return "the densities are to rise from step to step";
    }
    return NULL;
}

milori_status mil_tablet_parse(milori_context *ctx, const char *text, mil_tablet *tablet) {
    *tablet = (mil_tablet){0};
    if (parse_even(text, tablet))
        return MILORI_OK;
    const char *fault = parse_list(text, tablet);
    uint8_t *file = NULL;
    size_t size;
    if (fault) { /* no list: a file */
        milori_status status = mil_read_file(ctx, text, FILE_MOST, &file, &size);
        if (status != MILORI_OK)
            return status;
        fault =
            strlen((char *)file) == size ? parse_list((char *)file, tablet) : "the file is no text";
        free(file);
    }
    if (!fault)
        fault = tablet_fault(tablet);
    if (!fault)
        return MILORI_OK;
    char *shown = mil_printable(text);
    milori_status status =
        mil_fail(ctx, MILORI_ERR_ARGUMENT,
                 "%s: %s; give the tablet as 21x0.15, as numbers with commas, or as a file of them",
                 shown ? shown : "densities", fault);
    free(shown);
    return status;
}

/* ---- the curve ---------------------------------------------------------- */

/* Weighted means of what falls (pool adjacent violators, Ayer and others 1955). */
static void never_falling(double (*point)[2], const double *weight, size_t count) {
    double sum[MIL_TABLET_MOST], by[MIL_TABLET_MOST];
    size_t size[MIL_TABLET_MOST], blocks = 0;
    for (size_t i = 0; i < count; i++) {
        sum[blocks] = weight[i] * point[i][1];
        by[blocks] = weight[i];
        size[blocks++] = 1;
        while (blocks > 1 && sum[blocks - 2] * by[blocks - 1] >= sum[blocks - 1] * by[blocks - 2]) {
            sum[blocks - 2] += sum[blocks - 1];
            by[blocks - 2] += by[blocks - 1];
            size[blocks - 2] += size[blocks - 1];
            blocks--;
        }
    }
    for (size_t b = 0, i = 0; b < blocks; b++)
        for (size_t k = 0; k < size[b]; k++)
            point[i++][1] = sum[b] / by[b];
}

double mil_scale_at(const mil_scale_curve *curve, double log_exposure) {
    return mil_monotone_at(curve->point, curve->slope, curve->count, log_exposure);
}

/* Log exposure where the curve first reaches a density; and its slope there. */
static double reach(const mil_scale_curve *curve, double density, double *slope) {
    double low = curve->point[0][0], high = curve->point[curve->count - 1][0];
    double step = (high - low) * 1e-4;
    for (int turn = 0; turn < 60; turn++) {
        double middle = (low + high) / 2;
        if (mil_scale_at(curve, middle) < density)
            low = middle;
        else
            high = middle;
    }
    *slope = (mil_scale_at(curve, high + step) - mil_scale_at(curve, low - step)) / (2 * step);
    return high;
}

static void place(const mil_scale_curve *curve, double density, double point[2], double *slope) {
    point[0] = reach(curve, density, slope);
    point[1] = density;
}

bool mil_scale_fit(const mil_tablet *tablet, const double *density, const double *sigma,
                   mil_scale_curve *curve) {
    double weight[MIL_TABLET_MOST], error = 0;
    size_t n = tablet->count;
    curve->count = n;
    for (size_t i = 0; i < n; i++) {
        size_t from = n - 1 - i;
        curve->point[i][0] = -tablet->density[from];
        curve->point[i][1] = density[from];
        weight[i] = 1 / (sigma[from] * sigma[from] + 1e-6);
        error += sigma[from] / (double)n;
    }
    never_falling(curve->point, weight, n);
    mil_monotone_slopes(curve->point, n, curve->slope);
    curve->least = curve->point[0][1];
    curve->most = curve->point[n - 1][1];
    double range = curve->most - curve->least, at_T, at_S, at_net;
    place(curve, curve->least + 0.04, curve->T, &at_T);
    place(curve, 0.9 * curve->most, curve->S, &at_S);
    place(curve, curve->least + 0.9 * range, curve->S_net, &at_net);
    curve->scale = curve->S[0] - curve->T[0];
    curve->scale_net = curve->S_net[0] - curve->T[0];
    /* T hangs on the paper's density and its own, S on its own and on nine tenths of
     * the blue's. */
    curve->sigma = hypot(error * sqrt(2) / at_T, error * sqrt(1.81) / at_S);
    return curve->T[1] < curve->S[1] && curve->S[1] > curve->least && range > 0.1;
}

int mil_scale_iso_range(double scale) {
    return 10 * (int)lround(10 * scale);
}
