/* The picture's dye apart from base, fog and stain: the order of the work. */
#include "sheet/separate.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/cells.h"
#include "sheet/tell.h"

/* Not a density below this: K/S would lose its slope, and dark tones with it. */
static const double LEAST_BASE = 0.05;
static const double CLEAR_COAT = 0.14;  /* red density of a fresh coat on white paper. Ours */
static const double WHITE_PAPER = 0.04; /* red density of bare paper where none is seen. Ours */
/* The coat is told from the picture by broad tones only: with 0.4 mm its estimate knew the picture
 * and took a quarter of a texture with it (tests/simulator/test_detail.py). */
static const double COAT_MM = 1.0;
static const double COAT_RED = 0.06; /* what a clear coat adds to it. Ours */
/* How far off they are, measured on drawn sheets with and without bare paper. */
static const double COAT_SIGMA = 0.03, PAPER_SIGMA = 0.08;
static const double TOGETHER = 250; /* cells of margin that go up and down together: 5 mm square */
enum { FEW = 40 };
static const unsigned COATED = 1u << MIL_MARGIN | 1u << MIL_FRAME | 1u << MIL_DOUBT;

/* A scan cropped to the frame has no margin: its least blue cells stand for one. */
static void borrow_margin(mil_cells *cells, milori_notes *notes) {
    if (cells->margin >= FEW || cells->frame < 4 * FEW)
        return;
    double low = mil_cells_quantile(cells, cells->density[0], MIL_FRAME, 0.02);
    size_t all = mil_cells_count(cells);
    for (size_t i = 0; i < all; i++)
        if (cells->part[i] == MIL_FRAME && cells->density[0][i] <= low) {
            cells->part[i] = MIL_MARGIN;
            cells->margin++;
            cells->frame--;
        }
    mil_note(notes, "margin",
             "no unexposed margin to be seen: the darkest parts of the picture stand for it");
}

/* z of every cell, without the coat's share: mix of densities less the margin's. */
static void make_z(mil_cells *cells, mil_separation *s, const double *mix, double *margin) {
    size_t all = mil_cells_count(cells);
    *margin = 0;
    for (int c = 0; c < s->channels; c++)
        *margin += mix[c] * mil_cells_quantile(cells, cells->density[c], MIL_MARGIN, 0.5);
    for (size_t i = 0; i < all; i++) {
        double z = -*margin;
        for (int c = 0; c < s->channels; c++)
            z += mix[c] * cells->density[c][i];
        cells->z[i] = (float)z;
    }
}

/* Broad tones of the densities: the cells' own, or where compression took colour's detail away,
 * what is broader than the px among which that is worst. */
static void broad_planes(mil_cells *cells, float *const broad[3]) {
    static const double FINE_PX = 3; /* 2 to 5 do as well; with 12, JPEG's block, less detail */
    size_t all = mil_cells_count(cells);
    for (int c = 0; c < 3; c++)
        if (cells->grid->lossy)
            mil_cells_smooth(cells, cells->density[c], COATED, FINE_PX / cells->grid->cell,
                             broad[c]);
        else
            memcpy(broad[c], cells->density[c], all * sizeof(float));
}

/* Colour: which mix, and how much of the coat it leaves, as the surface `inner`. */
static milori_status colour_surface(milori_context *ctx, mil_cells *cells, mil_dyes *dyes,
                                    const double cov[3][3], float *const broad[3], float *leave,
                                    mil_separation *s) {
    size_t all = mil_cells_count(cells);
    double margin, mix[3];
    mil_dyes_image(cells, dyes->image);
    mil_coat_find(cells, dyes);
    broad_planes(cells, broad);
    mil_mix_find(cells, dyes, cov, mix, s->mix, broad, leave);
    make_z(cells, s, mix, &margin);
    for (size_t i = 0; i < all; i++) {
        double more = 0;
        for (int c = 0; c < 3; c++)
            more += (mix[c] - s->mix[c]) * broad[c][i];
        cells->fog[i] = (float)(more - margin); /* not in use yet */
    }
    mil_cells_smooth(cells, cells->coat, COATED, COAT_MM / cells->mm, broad[0]);
    for (size_t i = 0; i < all; i++) {
        float off = leave[i] * broad[0][i];
        cells->z[i] -= off;
        leave[i] = cells->fog[i] - off;
    }
    return mil_cells_surface(ctx, cells, leave, &s->inner);
}

static milori_status colour_model(milori_context *ctx, mil_cells *cells, mil_dyes *dyes,
                                  const double cov[3][3], mil_separation *s) {
    size_t all = mil_cells_count(cells);
    float *plane = mil_alloc(ctx, 4 * all, sizeof *plane);
    if (!plane)
        return MILORI_ERR_MEMORY;
    float *broad[3] = {plane, plane + all, plane + 2 * all};
    milori_status status = colour_surface(ctx, cells, dyes, cov, broad, plane + 3 * all, s);
    free(plane);
    return status;
}

/* Grey: the density alone. */
static milori_status grey_model(milori_context *ctx, mil_cells *cells, mil_separation *s) {
    double margin;
    s->mix[0] = 1;
    make_z(cells, s, s->mix, &margin);
    size_t all = mil_cells_count(cells);
    for (size_t i = 0; i < all; i++)
        cells->fog[i] = (float)-margin;
    mil_note(&s->notes, "grey",
             "a grey scan: stain cannot be told from picture; scan in colour if you can");
    return mil_cells_surface(ctx, cells, cells->fog, &s->inner);
}

/* Amounts of the cells, in K/S, then so that the lightest tones hold 1. */
static void make_amounts(mil_cells *cells, mil_separation *s) {
    double base = mil_cells_quantile(cells, cells->density[0], MIL_MARGIN, 0.5);
    s->base = base > LEAST_BASE ? base : LEAST_BASE;
    double zero = mil_density_ks(s->base);
    size_t all = mil_cells_count(cells);
    cells->clear = fmin(mil_density_ks(CLEAR_COAT) - zero, 0);
    for (size_t i = 0; i < all; i++)
        cells->amount[i] = (float)(mil_density_ks(s->base + cells->z[i]) - zero);
}

static void subtract_fog(mil_cells *cells, mil_separation *s) {
    size_t all = mil_cells_count(cells);
    for (size_t i = 0; i < all; i++)
        cells->amount[i] -= cells->fog[i];
    double light = mil_cells_quantile(cells, cells->amount, MIL_FRAME, 0.99);
    s->unit = light > 1e-4 ? 1 / light : 1e4;
    for (size_t i = 0; i < all; i++) {
        cells->amount[i] = (float)(cells->amount[i] * s->unit);
        cells->fog[i] = (float)(cells->fog[i] * s->unit);
    }
}

/* Deviation of the margin's cells once slow changes are off, by the median. */
static double cell_noise(mil_cells *cells) {
    float *smooth = cells->exposed; /* done with */
    size_t all = mil_cells_count(cells);
    mil_cells_smooth(cells, cells->amount, 1u << MIL_MARGIN, 4.0, smooth);
    for (size_t i = 0; i < all; i++)
        smooth[i] = fabsf(cells->amount[i] - smooth[i]);
    return 1.4826 * mil_cells_quantile(cells, smooth, MIL_MARGIN, 0.5);
}

static void find_scale(mil_cells *cells, const double cov[3][3], double fog_sigma,
                       mil_separation *s) {
    mil_scale *scale = &s->scale;
    for (int i = 0; i <= 100; i++)
        scale->percentile[i] = mil_cells_quantile(cells, cells->amount, MIL_FRAME, i / 100.0);
    scale->noise = cell_noise(cells);
    double slope = (mil_density_ks(s->base + 0.01) - mil_density_ks(s->base - 0.01)) / 0.02;
    scale->grain = sqrt(mil_mix_grain(cov, s->mix)) * slope * s->unit;
    scale->strength = 1 / s->unit;
    scale->light = scale->percentile[98];
    scale->dark = fmax(scale->percentile[4], 2 * scale->noise);
    scale->middle = fmax(scale->percentile[50], scale->noise);
    double light = fmax(scale->light, 1e-6);
    /* Dark tones are as sure as the noise and the fog under them. */
    double unsure = hypot(scale->noise, isnan(fog_sigma) ? 0 : fog_sigma * s->unit);
    s->range = (milori_value){log10(light / fmin(fmax(scale->dark, 1e-6), light)),
                              unsure / fmax(scale->dark, 1e-6) / 2.302585, MILORI_FOUND};
    s->noise = (milori_value){scale->noise / light, NAN, MILORI_FOUND};
}

/* Amount at the frame's px that the user says should be unexposed. */
static double spot_veil(const mil_cells *cells, const milori_choices *choices) {
    const mil_grid *g = cells->grid;
    double sum = 0, count = 0;
    for (size_t k = 0; k < choices->spots; k++) {
        double x, y;
        mil_orient_back(g->orientation, g->width, g->height, choices->spot_px[k][0],
                        choices->spot_px[k][1], &x, &y);
        int ci = (int)floor(x / g->cell) - cells->x0, cj = (int)floor(y / g->cell) - cells->y0;
        for (int j = cj - 1; j <= cj + 1; j++)
            for (int i = ci - 1; i <= ci + 1; i++)
                if (i >= 0 && j >= 0 && i < cells->nx && j < cells->ny) {
                    sum += cells->amount[(size_t)j * (size_t)cells->nx + (size_t)i];
                    count++;
                }
    }
    return count > 0 ? sum / count : NAN;
}

/* Evenly spread light inside the frame. A picture's darkest tones lie few and far between; a
 * veil heaps many cells just above the same amount, well clear of the noise. */
static void find_veil(mil_cells *cells, const milori_choices *choices, mil_separation *s) {
    const mil_scale *scale = &s->scale;
    double range = scale->light - scale->dark, spot = spot_veil(cells, choices);
    s->veil = 0;
    if (!(range > 1e-6))
        return;
    if (!isnan(choices->veil)) {
        s->veil = choices->veil;
    } else if (!isnan(spot)) {
        s->veil = fmin(fmax(100 * spot / range, 0), 95);
        mil_note(&s->notes, "veil", "%.0f %% of the range was taken off, as the spot shows it",
                 s->veil);
    } else {
        double low = mil_cells_quantile(cells, cells->amount, MIL_FRAME, 0.005);
        double heaped = 0;
        while (heaped < 100 && scale->percentile[(int)heaped] < low + 0.03 * range)
            heaped++;
        if (low > 4 * scale->noise && low > 0.02 * range && heaped >= 5) {
            s->veil = fmin(100 * 0.8 * low / range, 60);
            mil_note(&s->notes, "veil",
                     "a veil of %.0f %% of the range was taken off; --veil 0 leaves it", s->veil);
        }
    }
}

static void find_facts(mil_cells *cells, const mil_dyes *dyes, mil_separation *s) {
    bool seen = s->channels == 3 && dyes->paper_seen;
    for (int c = 0; c < 3; c++) {
        const float *plane = cells->density[s->channels == 3 ? c : 0];
        double low = mil_cells_quantile(cells, plane, MIL_MARGIN, 0.16);
        double high = mil_cells_quantile(cells, plane, MIL_MARGIN, 0.84);
        s->base_density[c] = (milori_value){
            mil_cells_quantile(cells, plane, MIL_MARGIN, 0.5),
            (high - low) / 2 / sqrt((double)cells->margin / TOGETHER + 1), MILORI_FOUND};
    }
    int red = 0, blue = s->channels == 3 ? 2 : 0;
    double paper =
        seen ? mil_cells_quantile(cells, cells->density[red], MIL_BARE, 0.5) : WHITE_PAPER;
    double bare_blue = seen ? mil_cells_quantile(cells, cells->density[blue], MIL_BARE, 0.5) : NAN;
    s->fog_density =
        (milori_value){fmax(s->base_density[red].value - paper - COAT_RED, 0),
                       seen ? COAT_SIGMA : PAPER_SIGMA, seen ? MILORI_FOUND : MILORI_ASSUMED};
    s->stain = (milori_value){s->base_density[blue].value - bare_blue, seen ? 0.02 : NAN,
                              seen ? MILORI_FOUND : MILORI_ASSUMED};
}

/* Amount at which all yellow would be used up. */
static double find_shoulder(const mil_dyes *dyes, const mil_separation *s) {
    if (s->channels != 3 || dyes->image[2] > -0.1)
        return 0;
    double most = dyes->yellow[2] / -dyes->image[2] * s->unit;
    return most > 1.2 && most < 12 ? most : 0;
}

static milori_status surfaces(milori_context *ctx, mil_cells *cells, const float *track,
                              mil_separation *s) {
    milori_status status = mil_cells_surface(ctx, cells, cells->fog, &s->fog);
    if (status == MILORI_OK && s->sun_fraction > 0)
        status = mil_cells_surface(ctx, cells, track, &s->sun);
    return status;
}

static milori_status separate(milori_context *ctx, mil_cells *cells, const milori_choices *choices,
                              float *track, mil_separation *s) {
    mil_dyes dyes = {0};
    double fog_sigma = NAN, cov[3][3];
    milori_status status;
    borrow_margin(cells, &s->notes);
    mil_margin_covariance(cells, cov);
    if (s->channels == 3) {
        mil_dyes_find(cells, &dyes);
        s->sun_fraction = mil_sun_find(cells, &dyes, track);
        status = colour_model(ctx, cells, &dyes, (const double(*)[3])cov, s);
    } else {
        status = grey_model(ctx, cells, s);
    }
    if (status != MILORI_OK)
        return status;
    make_amounts(cells, s);
    status = mil_fog_find(ctx, cells, &fog_sigma);
    if (status != MILORI_OK)
        return status;
    subtract_fog(cells, s);
    find_scale(cells, (const double(*)[3])cov, fog_sigma, s);
    find_veil(cells, choices, s);
    s->shoulder = find_shoulder(&dyes, s);
    find_facts(cells, &dyes, s);
    mil_tell(cells, fog_sigma, s);
    return surfaces(ctx, cells, track, s);
}

milori_status mil_separate(milori_context *ctx, const mil_grid *grid, const mil_found *found,
                           const milori_choices *choices, mil_separation *separation) {
    mil_cells cells;
    *separation = (mil_separation){.channels = grid->channels};
    milori_status status = mil_cells_make(ctx, grid, found, &cells);
    if (status != MILORI_OK)
        return status;
    float *track = mil_alloc(ctx, mil_cells_count(&cells), sizeof *track);
    status = track ? separate(ctx, &cells, choices, track, separation) : MILORI_ERR_MEMORY;
    free(track);
    mil_cells_free(&cells);
    if (status != MILORI_OK)
        mil_separation_free(separation);
    return status;
}

void mil_separation_free(mil_separation *s) {
    mil_surface_free(&s->inner);
    mil_surface_free(&s->fog);
    mil_surface_free(&s->sun);
    mil_notes_free(&s->notes);
    *s = (mil_separation){0};
}
