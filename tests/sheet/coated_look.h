/* A coated sheet separated, and what came back laid beside what was put in. */
#ifndef MILORI_COATED_LOOK_H
#define MILORI_COATED_LOOK_H

#include "sheet/coated_sheet.h"

typedef struct coated_look {
    milori_context *ctx;
    coated_scan scan;
    milori_choices choices;
    mil_separation s;
    milori_status status;
    size_t cells;
    uint8_t *part;
    float *z, *amount, *fog; /* by separate.h's formula at the cells' middles; amount less fog */
} coated_look;

static inline float *coated_plane(const coated_look *k) {
    return calloc(k->cells, sizeof(float));
}

/* A surface at the middle of every cell. */
static inline void coated_surface(const coated_look *k, const mil_surface *surface, float *out) {
    const mil_grid *g = &k->scan.grid;
    float *line = calloc((size_t)surface->nx, sizeof *line);
    for (int j = 0; j < g->ny; j++) {
        mil_surface_row(surface, (j + 0.5) * g->cell, line);
        for (int i = 0; i < g->nx; i++)
            out[(size_t)j * (size_t)g->nx + (size_t)i] =
                mil_surface_at(surface, line, (i + 0.5) * g->cell);
    }
    free(line);
}

static inline void coated_evaluate(coated_look *k) {
    const mil_separation *s = &k->s;
    double zero = mil_density_ks(s->base);
    coated_surface(k, &s->inner, k->z);
    coated_surface(k, &s->fog, k->fog);
    for (size_t i = 0; i < k->cells; i++) {
        double z = k->z[i];
        for (int c = 0; c < s->channels; c++)
            z += s->mix[c] * k->scan.grid.absorb[c][i];
        k->z[i] = (float)z;
        k->amount[i] = (float)(s->unit * (mil_density_ks(s->base + z) - zero) - k->fog[i]);
    }
}

static inline milori_choices coated_choices(void) {
    return (milori_choices){.veil = NAN, .frame_mm = {NAN, NAN}, .dpi = NAN};
}

/* Separates what is in k->scan with k->choices. */
static inline void coated_separate(coated_look *k) {
    k->ctx = milori_context_new();
    k->cells = (size_t)k->scan.grid.nx * (size_t)k->scan.grid.ny;
    k->part = calloc(k->cells, 1);
    k->z = coated_plane(k);
    k->amount = coated_plane(k);
    k->fog = coated_plane(k);
    k->status = mil_separate(k->ctx, &k->scan.grid, &k->scan.found, &k->choices, &k->s);
    if (k->status != MILORI_OK)
        return;
    k->status = mil_parts(k->ctx, &k->scan.grid, &k->scan.found, k->part);
    coated_evaluate(k);
}

static inline coated_look coated_open(const coated_sheet *sheet) {
    coated_look k = {.choices = coated_choices()};
    coated_make(sheet, &k.scan);
    coated_separate(&k);
    return k;
}

static inline void coated_close(coated_look *k) {
    mil_separation_free(&k->s);
    coated_free(&k->scan);
    free(k->part);
    free(k->z);
    free(k->amount);
    free(k->fog);
    milori_context_free(k->ctx);
}

/* ---- sums over the cells of one part, the sun's surroundings left out ---- */

typedef struct coated_fit {
    double count, mean, deviation; /* of y */
    double slope, correlation;     /* of y on x */
} coated_fit;

static inline coated_fit coated_compare(const coated_look *k, mil_part part, const float *x,
                                        const float *y) {
    double n = 0, sx = 0, sy = 0, sxx = 0, sxy = 0, syy = 0;
    for (size_t i = 0; i < k->cells; i++) {
        if (k->part[i] != part || k->scan.core[i] > 0 || k->scan.rim[i] > 0)
            continue;
        n++;
        sx += x[i];
        sy += y[i];
        sxx += (double)x[i] * x[i];
        sxy += (double)x[i] * y[i];
        syy += (double)y[i] * y[i];
    }
    double cxx = sxx - sx * sx / n, cyy = syy - sy * sy / n, cxy = sxy - sx * sy / n;
    return (coated_fit){.count = n,
                        .mean = sy / n,
                        .deviation = sqrt(fmax(cyy, 0) / n),
                        .slope = cxy / cxx,
                        .correlation = cxy / sqrt(cxx * cyy)};
}

#endif
