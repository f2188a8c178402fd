/* A bed with sheets drawn straight into a grid: areas, three colours and noise, no optics. */
#ifndef MILORI_DRAWN_BED_H
#define MILORI_DRAWN_BED_H

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/find.h"

/* One sheet, in mm on the bed. */
typedef struct drawn_sheet {
    mil_rect outline, frame; /* mm */
    bool round;
    double strength; /* red density of the lightest picture tone */
    double fog;      /* red density of fog at the cut, falling inwards over 9 mm */
    double bare;     /* mm of bare paper along the cut */
    int dark_side;   /* 0..3: the frame's side along which some of it got no light; -1 none */
    double dark_from, dark_wave; /* where that begins (-1 far side .. 1) and how it swings */
    bool beam; /* darker beside the frame's left side, 0.4 mm wide above and 1.4 mm below */
} drawn_sheet;

typedef struct drawn_bed {
    double wide, tall; /* mm */
    int channels, orientation;
    bool black;
    uint32_t seed;
    int count;
    drawn_sheet sheet[4];
} drawn_bed;

static double drawn_noise(uint32_t *seed) {
    double sum = 0;
    for (int k = 0; k < 4; k++) {
        *seed = *seed * 1664525u + 1013904223u;
        sum += (*seed >> 8) / 16777216.0 - 0.5;
    }
    return sum * 1.7320508; /* deviation 1 */
}

/* mm inside a rectangle's nearest side; negative outside. */
static double drawn_inside(const mil_rect *r, double x, double y) {
    double u, v;
    mil_rect_local(r, x, y, &u, &v);
    return fmin((1 - fabs(u)) * r->w, (1 - fabs(v)) * r->h) / 2;
}

/* Red density of picture and fog at a place inside the cut by edge mm. */
static double drawn_dye(const drawn_sheet *s, double x, double y, double edge) {
    double u, v, dye = s->fog * exp(-edge / 9);
    mil_rect_local(&s->frame, x, y, &u, &v);
    bool in = s->round ? u * u + v * v < 1 : fabs(u) < 1 && fabs(v) < 1;
    const double toward[4] = {-v, u, v, -u};
    if (!in || (s->dark_side >= 0 &&
                toward[s->dark_side] > s->dark_from + s->dark_wave * sin(9 * (u + v))))
        return dye;
    /* Clouds, and a dark shed in the middle. */
    double tone = 0.75 + 0.25 * sin(4 * u + 1) * cos(3 * v);
    if (fabs(u) < 0.3 && v > -0.2 && v < 0.5)
        tone = 0.1;
    if (s->beam && (1 + u) * s->frame.w / 2 < 0.9 + 0.5 * v)
        tone *= 0.4;
    return dye + s->strength * tone;
}

static void drawn_light(const drawn_bed *b, double x, double y, double *light) {
    for (int c = 0; c < 3; c++)
        light[c] = b->black ? 0.026 : 0.925;
    double shade = 0;
    for (int k = 0; k < b->count; k++) {
        const drawn_sheet *s = &b->sheet[k];
        double edge = drawn_inside(&s->outline, x, y);
        if (edge < 0) {
            shade = fmax(shade, 0.3 * exp(edge / 0.8));
            continue;
        }
        bool coated = edge > s->bare;
        double dye = coated ? drawn_dye(s, x, y, edge) : 0;
        double yellow = coated ? 0.45 - 0.3 * dye : 0.03;
        light[0] = 0.90 * pow(10, -dye);
        light[1] = 0.89 * pow(10, -0.45 * dye - 0.1 * yellow);
        light[2] = 0.87 * pow(10, -0.1 * dye - yellow);
        return;
    }
    for (int c = 0; c < 3 && !b->black; c++)
        light[c] *= 1 - shade;
}

static void drawn_cell(const drawn_bed *b, mil_grid *g, int i, int j, uint32_t *seed) {
    enum { FINE = 4 };
    double mean[3] = {0}, paper = 1 + 0.004 * drawn_noise(seed);
    for (int k = 0; k < FINE * FINE; k++) {
        double light[3];
        double x = (i + (k % FINE + 0.5) / FINE) * g->cell * g->mm_px;
        double y = (j + (k / FINE + 0.5) / FINE) * g->cell * g->mm_px;
        drawn_light(b, x, y, light);
        for (int c = 0; c < 3; c++)
            mean[c] += light[c] / (FINE * FINE);
    }
    size_t at = (size_t)j * (size_t)g->nx + (size_t)i;
    if (g->channels == 1)
        mean[0] = 0.3 * mean[0] + 0.6 * mean[1] + 0.1 * mean[2];
    for (int c = 0; c < g->channels; c++) {
        double light = mean[c] * paper + 0.001 * drawn_noise(seed);
        g->light[c][at] = (float)light;
    }
}

static void drawn_grid(const drawn_bed *b, mil_grid *g) {
    memset(g, 0, sizeof *g);
    g->mm_px = 25.4 / 300;
    g->mm_known = true;
    g->cell = 4;
    g->channels = b->channels;
    g->bits = 16;
    g->orientation = b->orientation;
    g->width = (uint32_t)(b->wide / g->mm_px);
    g->height = (uint32_t)(b->tall / g->mm_px);
    g->nx = (int)((g->width + 3) / 4);
    g->ny = (int)((g->height + 3) / 4);
    size_t cells = (size_t)g->nx * (size_t)g->ny;
    uint32_t seed = b->seed;
    for (int c = 0; c < g->channels; c++)
        g->light[c] = calloc(cells, sizeof(float));
    for (int j = 0; j < g->ny; j++)
        for (int i = 0; i < g->nx; i++)
            drawn_cell(b, g, i, j, &seed);
}

/* A sheet about (x, y) mm, its frame a little off its middle and turned on it. */
static drawn_sheet drawn_sheet_at(double x, double y, double w, double h, double degrees) {
    double a = degrees * 3.14159265358979323846 / 180;
    return (drawn_sheet){.outline = {x, y, w + 15, h + 17, a},
                         .frame = {x + 0.9, y - 0.7, w, h, a + 0.006},
                         .strength = 0.25,
                         .fog = 0.03,
                         .dark_side = -1,
                         .dark_from = 0.35,
                         .dark_wave = 0.1};
}

#endif
