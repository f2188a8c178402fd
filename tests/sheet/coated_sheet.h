/* A sheet made of amounts, px by px: paper + coat * (yellow + dye * picture dye) in K/S (Kubelka &
 * Munk 1931) of three channels, then paper texture and scanner noise, summed into a grid. What was
 * put in is kept beside it. No optics, and none of the separation's code. */
#ifndef MILORI_COATED_SHEET_H
#define MILORI_COATED_SHEET_H

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/separate.h"

typedef struct coated_sheet {
    double w, h;   /* frame, mm */
    double margin; /* mm of paper round it; 0: the scan is cropped to the frame */
    double bare;   /* mm of these without coat, along the cut */
    int channels;
    double (*picture)(double u, double v); /* light 0..1 over the frame, -1..1 each way */
    double strength;                       /* K/S of red where the picture is 1 */
    double veil;                           /* K/S of red everywhere in the frame */
    double fog, rise, reach;               /* K/S of red: even, and at the cut, falling over mm */
    double stain;                          /* K/S of blue, deviation of slow blotches */
    double streaks;                        /* deviation of the coat's log */
    double texture;                        /* deviation of the paper's light, px; half laid lines */
    double noise;                          /* deviation of each channel's light, px */
    double sun, rim;                       /* mm, half a pale core's width, its rim's; 0 none */
    double patch;                          /* mm, radius of an uncoated spot in the frame; 0 none */
    uint32_t seed;
} coated_sheet;

/* In K/S: rag paper, unexposed coat, and picture dye with the yellow it uses up. */
static const double COATED_PAPER[3] = {0.006, 0.008, 0.018};
static const double COATED_YELLOW[3] = {0.006, 0.03, 0.42};
static const double COATED_IMAGE[3] = {1, 0.27, -0.30};
static const double COATED_PX = 25.4 / 300;
/* Yellow-brown. */
static const double COATED_STAIN[3] = {0.1, 0.35, 1};
enum { COATED_CELL = 4, COATED_BED_MM = 3 };

typedef struct coated_scan {
    mil_grid grid;
    mil_found found;
    /* What was put into each cell, means over its px. */
    float *light; /* of the picture, 0..1; with the veil, as a share of strength */
    float *fog;   /* K/S of red */
    float *coat;  /* log of the coat's thickness */
    float *stain; /* K/S of blue, about the mean */
    float *laid;  /* texture's laid lines, deviation 1 */
    float *core;  /* share of the sun's pale core */
    float *rim;   /* and of its rim */
} coated_scan;

typedef struct coated_spot {
    double light, fog, coat, stain, laid, core, rim, reflect[3];
} coated_spot;

static inline double coated_noise(uint32_t *seed) {
    double sum = 0;
    for (int k = 0; k < 4; k++) {
        *seed = *seed * 1664525u + 1013904223u;
        sum += (*seed >> 8) / 16777216.0 - 0.5;
    }
    return sum * 1.7320508; /* deviation 1 */
}

/* mm along and off an arc of 9 mm in the frame's upper left. */
static inline double coated_off_arc(double x, double y) {
    double dx = x + 4, dy = y - 15, turn = atan2(-dy, dx) - 1.9;
    double along = turn < -0.22 ? -0.22 : turn > 0.22 ? 0.22 : turn;
    return hypot(dx - 20 * cos(1.9 + along), -dy - 20 * sin(1.9 + along));
}

/* Exposure and coat at a place, mm from the sheet's middle. */
static inline void coated_at(const coated_sheet *s, double x, double y, coated_spot *at) {
    double u = 2 * x / s->w, v = 2 * y / s->h;
    double edge = fmin((s->w / 2 + s->margin) - fabs(x), (s->h / 2 + s->margin) - fabs(y));
    double wave = sin(6.28 * x / 5.3) + sin(6.28 * x / 2.1 + 1) + sin(6.28 * x / 11 + y / 40);
    bool in = fabs(u) < 1 && fabs(v) < 1;
    *at = (coated_spot){.fog = s->fog + s->rise * exp(-edge / s->reach), .coat = 1};
    at->coat = exp(s->streaks * wave * 0.816);
    at->stain = s->stain * (sin(6.28 * x / 17 + y / 9) + sin(6.28 * y / 13 - x / 6));
    at->laid = 1.414 * sin(6.28 * y / 0.9);
    if (in)
        at->light = s->picture(u, v) + s->veil / s->strength;
    if (in && s->sun > 0) {
        double off = coated_off_arc(x, y);
        bool core = off < s->sun, rim = !core && off < s->sun + s->rim;
        at->core = core;
        at->rim = rim;
        at->light = core ? 0 : rim ? fmax(at->light, 4) : at->light;
        at->coat *= core ? 0.1 : 1;
    }
    if (in && s->patch > 0 && hypot(x - 7, y - 5) < s->patch)
        at->coat *= 0.03;
    if (edge < s->bare)
        at->coat = 0;
}

static inline void coated_light(const coated_sheet *s, coated_spot *at, uint32_t *seed) {
    double dye = s->strength * at->light + at->fog;
    double paper = 1 + s->texture * 0.707 * (at->laid + coated_noise(seed));
    for (int c = 0; c < 3; c++) {
        double ks = COATED_PAPER[c] + COATED_STAIN[c] * (at->stain + 2 * s->stain) +
                    at->coat * fmax(COATED_YELLOW[c] + dye * COATED_IMAGE[c], c == 2 ? 0.01 : 0);
        double r = (1 + ks - sqrt(ks * ks + 2 * ks)) * paper;
        at->reflect[c] = fmax(r + s->noise * coated_noise(seed), 0);
    }
    if (s->channels == 1)
        at->reflect[0] = 0.3 * at->reflect[0] + 0.6 * at->reflect[1] + 0.1 * at->reflect[2];
}

/* One cell's px into its planes. */
static inline void coated_cell(const coated_sheet *s, coated_scan *scan, int i, int j,
                               uint32_t *seed) {
    static const int first[6] = {0, 0, 0, 1, 1, 2}, second[6] = {0, 1, 2, 1, 2, 2};
    mil_grid *g = &scan->grid;
    size_t at = (size_t)j * (size_t)g->nx + (size_t)i;
    double px[COATED_CELL * COATED_CELL][3], mean[3] = {0}, n = COATED_CELL * COATED_CELL;
    for (int k = 0; k < COATED_CELL * COATED_CELL; k++) {
        coated_spot spot;
        double x = (i * COATED_CELL + k % COATED_CELL + 0.5 - g->width / 2.0) * COATED_PX;
        double y = (j * COATED_CELL + k / COATED_CELL + 0.5 - g->height / 2.0) * COATED_PX;
        coated_at(s, x, y, &spot);
        coated_light(s, &spot, seed);
        for (int c = 0; c < s->channels; c++) {
            px[k][c] = -log10(fmin(fmax(spot.reflect[c], 0.002), 1));
            mean[c] += px[k][c] / n;
            g->light[c][at] += (float)(spot.reflect[c] / n);
        }
        scan->light[at] += (float)(spot.light / n);
        scan->fog[at] += (float)(spot.fog / n);
        scan->coat[at] += (float)(log(fmax(spot.coat, 1e-3)) / n);
        scan->stain[at] += (float)(spot.stain / n);
        scan->laid[at] += (float)(spot.laid / n);
        scan->core[at] += (float)(spot.core / n);
        scan->rim[at] += (float)(spot.rim / n);
    }
    for (int c = 0; c < s->channels; c++)
        g->absorb[c][at] = (float)mean[c];
    for (int m = 0; m < (s->channels == 3 ? 6 : 1); m++) {
        double sum = 0;
        for (int k = 0; k < COATED_CELL * COATED_CELL; k++)
            sum += (px[k][first[m]] - mean[first[m]]) * (px[k][second[m]] - mean[second[m]]);
        g->cov[m][at] = (float)(sum / (n - 1));
    }
}

/* A grid of empty planes with its sheet in the middle; sizes in mm. */
static inline void coated_bed(coated_scan *scan, const coated_sheet *s) {
    *scan = (coated_scan){0};
    mil_grid *g = &scan->grid;
    double bed = s->margin > 0 ? COATED_BED_MM : 0, side = COATED_CELL * COATED_PX;
    g->nx = (int)ceil((s->w + 2 * s->margin + 2 * bed) / side);
    g->ny = (int)ceil((s->h + 2 * s->margin + 2 * bed) / side);
    g->width = (uint32_t)(g->nx * COATED_CELL);
    g->height = (uint32_t)(g->ny * COATED_CELL);
    g->cell = COATED_CELL;
    g->mm_px = COATED_PX;
    g->mm_known = true;
    g->channels = s->channels;
    g->bits = 16;
    g->orientation = 1;
    size_t cells = (size_t)g->nx * (size_t)g->ny;
    for (int c = 0; c < s->channels; c++) {
        g->light[c] = calloc(cells, sizeof(float));
        g->absorb[c] = calloc(cells, sizeof(float));
        g->clip_low[c] = calloc(cells, sizeof(float));
        g->clip_high[c] = calloc(cells, sizeof(float));
    }
    for (int m = 0; m < (s->channels == 3 ? 6 : 1); m++)
        g->cov[m] = calloc(cells, sizeof(float));
    float **own[] = {&scan->light, &scan->fog,  &scan->coat, &scan->stain,
                     &scan->laid,  &scan->core, &scan->rim};
    for (size_t k = 0; k < sizeof own / sizeof *own; k++)
        *own[k] = calloc(cells, sizeof(float));
    mil_rect all = {g->width / 2.0, g->height / 2.0, g->width, g->height, 0};
    mil_rect frame = {all.cx, all.cy, s->w / COATED_PX, s->h / COATED_PX, 0};
    mil_rect paper = {all.cx, all.cy, frame.w + 2 * s->margin / COATED_PX,
                      frame.h + 2 * s->margin / COATED_PX, 0};
    scan->found = (mil_found){.outline = s->margin > 0 ? paper : all,
                              .frame = s->margin > 0 ? frame : all,
                              .exposed = s->margin > 0 ? frame : all,
                              .shape = MILORI_RECTANGLE,
                              .side_found = {true, true, true, true},
                              .margin_known = s->margin > 0};
}

static inline void coated_make(const coated_sheet *s, coated_scan *scan) {
    uint32_t seed = s->seed + 1;
    coated_bed(scan, s);
    for (int j = 0; j < scan->grid.ny; j++)
        for (int i = 0; i < scan->grid.nx; i++)
            coated_cell(s, scan, i, j, &seed);
}

static inline void coated_free(coated_scan *scan) {
    float *own[] = {scan->light, scan->fog,  scan->coat, scan->stain,
                    scan->laid,  scan->core, scan->rim};
    for (size_t k = 0; k < sizeof own / sizeof *own; k++)
        free(own[k]);
    mil_grid_free(&scan->grid);
    mil_notes_free(&scan->found.notes);
}

/* ---- pictures ---- */

/* Clouds over a glasshouse, its panes, and a dark shed. */
static inline double coated_clouds(double u, double v) {
    double tone = 0.62 + 0.3 * sin(3 * u + 1) * cos(2.3 * v) + 0.08 * sin(31 * u) * sin(27 * v);
    if (fabs(u + 0.2) < 0.3 && v > -0.1 && v < 0.6)
        tone = 0.06 + (sin(40 * u) > 0.6 ? 0.35 : 0) + 0.04 * sin(9 * v);
    if (u > 0.5 && v > 0.2)
        tone = 0.02;
    return tone;
}

/* A wedge of eight steps of 0.15 in log10, the pitch of a photographic step tablet. */
static inline double coated_wedge(double u, double v) {
    int step = (int)floor((u + 1) * 4);
    (void)v;
    return pow(10, -0.15 * (step < 0 ? 0 : step > 7 ? 7 : step));
}

/* From a fifth of the light to all of it, evenly: nothing dark, and nothing heaped. */
static inline double coated_high_key(double u, double v) {
    return 0.6 + 0.4 * (0.7 * u + 0.3 * v);
}

static inline double coated_nothing(double u, double v) {
    (void)u;
    (void)v;
    return 0;
}

static inline coated_sheet coated_usual(void) {
    return (coated_sheet){.w = 36,
                          .h = 24,
                          .margin = 7,
                          .channels = 3,
                          .picture = coated_clouds,
                          .strength = 0.3,
                          .reach = 5,
                          .streaks = 0.08,
                          .texture = 0.012,
                          .noise = 0.004,
                          .seed = 7};
}

#endif
