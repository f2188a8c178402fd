/* Scans whose codes are not what the scanner saw: levels stretched, colour lost to compression,
 * dust in the margin. On sheets made of known amounts (coated_sheet.h); what is asked is computed
 * from those. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "sheet/cells.h"
#include "sheet/coated_look.h"

static const double GAMMA = 2.2; /* light = code^2.2, near sRGB's (IEC 61966-2-1) */
static const int PLACE[3][3] = {{0, 1, 2}, {1, 3, 4}, {2, 4, 5}};

/* Clouds, finely hatched: 0.28 mm from line to line. */
static double hatched(double u, double v) {
    return 0.7 * coated_clouds(u, v) + 0.2 * (1 + sin(400 * u));
}

/* Levels as a scanner's automatics set them: code' = (code - low) / (1 - low). */
static void stretch(coated_scan *scan) {
    static const double LOW[3] = {0.5, 0.7, 0.6};
    mil_grid *g = &scan->grid;
    for (size_t k = 0; k < (size_t)g->nx * (size_t)g->ny; k++) {
        double slope[3];
        for (int c = 0; c < 3; c++) {
            double code = pow(10, -g->absorb[c][k] / GAMMA);
            double to = fmax((code - LOW[c]) / (1 - LOW[c]), 0.06);
            slope[c] = code / fmax(code - LOW[c], 0.03);
            g->absorb[c][k] = (float)(-GAMMA * log10(to));
            g->light[c][k] = (float)pow(to, GAMMA);
        }
        for (int a = 0; a < 3; a++)
            for (int b = 0; b <= a; b++)
                g->cov[PLACE[a][b]][k] *= (float)(slope[a] * slope[b]);
    }
}

/* Half a per cent cut off at both ends, which is how such levels are known. */
static void say_clipped(coated_scan *scan) {
    mil_grid *g = &scan->grid;
    for (size_t k = 0; k < (size_t)g->nx * (size_t)g->ny; k++)
        for (int c = 0; c < 3; c++)
            g->clip_low[c][k] = g->clip_high[c][k] = 0.005f;
}

/* Share of a plane's variance in the frame that no curve of light explains (the correlation ratio,
 * Pearson 1905), in 50 steps of light. */
static double unexplained(const coated_look *k, const float *plane) {
    enum { STEPS = 50 };
    double n[STEPS] = {0}, sum[STEPS] = {0}, square = 0, all = 0, whole = 0, within;
    for (size_t i = 0; i < k->cells; i++) {
        int step = (int)(k->scan.light[i] / 1.1 * STEPS);
        if (k->part[i] != MIL_FRAME || step < 0 || step >= STEPS)
            continue;
        n[step]++;
        sum[step] += plane[i];
        square += (double)plane[i] * plane[i];
    }
    within = square;
    for (int s = 0; s < STEPS; s++) {
        within -= n[s] > 0 ? sum[s] * sum[s] / n[s] : 0;
        all += n[s];
        whole += sum[s];
    }
    return within / (square - whole * whole / all);
}

static void stretched_levels_are_no_reflectance(void **state) {
    (void)state;
    coated_sheet sheet = coated_usual();
    double left[2], red = 0;
    for (int known = 0; known < 2; known++) {
        coated_look k = {.choices = coated_choices()};
        coated_make(&sheet, &k.scan);
        stretch(&k.scan);
        if (known)
            say_clipped(&k.scan);
        coated_separate(&k);
        assert_int_equal(k.status, MILORI_OK);
        left[known] = unexplained(&k, k.z);
        red = unexplained(&k, k.scan.grid.absorb[0]);
        print_message("  mix %.3f %.3f %.3f\n", k.s.mix[0], k.s.mix[1], k.s.mix[2]);
        coated_close(&k);
    }
    print_message("not the picture's: of red %.4f, levels unknown %.4f, known %.4f\n", red, left[0],
                  left[1]);
    assert_true(left[1] < 0.8 * red);
    assert_true(left[1] < 0.9 * left[0]);
}

/* Lightness of a change of density, by ITU-R BT.601's weights of codes. */
static double lightness(const float *density, const double change[3]) {
    static const double WEIGHT[3] = {0.299, 0.587, 0.114};
    double sum = 0;
    for (int c = 0; c < 3; c++)
        sum += WEIGHT[c] * pow(10, -density[c] / GAMMA) * change[c];
    return sum;
}

/* Among the px of a cell only lightness is left, as compression leaves it. */
static void lose_colour(coated_scan *scan) {
    mil_grid *g = &scan->grid;
    g->lossy = true;
    for (size_t k = 0; k < (size_t)g->nx * (size_t)g->ny; k++) {
        float density[3] = {g->absorb[0][k], g->absorb[1][k], g->absorb[2][k]};
        double along[3], all;
        for (int a = 0; a < 3; a++) {
            double row[3];
            for (int b = 0; b < 3; b++)
                row[b] = g->cov[PLACE[a][b]][k];
            along[a] = lightness(density, row);
        }
        all = lightness(density, along);
        for (int a = 0; a < 3; a++)
            for (int b = 0; b <= a; b++)
                g->cov[PLACE[a][b]][k] = (float)(all * pow(10, (density[a] + density[b]) / GAMMA));
    }
}

/* What a mix answers to fine detail of the dye once only its lightness is left, over red density's
 * change before; about half for red density itself. */
static double answer(const coated_sheet *sheet, const double mix[3]) {
    float density[3];
    double change[3], sum = 0;
    for (int c = 0; c < 3; c++) {
        double ks = COATED_PAPER[c] + COATED_YELLOW[c] + 0.5 * sheet->strength * COATED_IMAGE[c];
        double r = 1 + ks - sqrt(ks * ks + 2 * ks);
        density[c] = (float)-log10(r);
        change[c] = COATED_IMAGE[c] * 2 * r / (1 - r * r);
    }
    for (int c = 0; c < 3; c++)
        sum += mix[c] * pow(10, density[c] / GAMMA) * lightness(density, change);
    return sum / change[0];
}

static void detail_without_colour_keeps_its_size(void **state) {
    (void)state;
    static const double RED[3] = {1, 0, 0};
    coated_sheet sheet = coated_usual();
    sheet.picture = hatched;
    sheet.texture = 0.006;
    double size[2];
    for (int lossy = 0; lossy < 2; lossy++) {
        coated_look k = {.choices = coated_choices()};
        coated_make(&sheet, &k.scan);
        if (lossy)
            lose_colour(&k.scan);
        coated_separate(&k);
        assert_int_equal(k.status, MILORI_OK);
        size[lossy] = answer(&sheet, k.s.mix);
        coated_close(&k);
    }
    double red = answer(&sheet, RED);
    print_message("detail: red %.3f, the usual mix %.3f, its own %.3f\n", red, size[0], size[1]);
    assert_true(size[0] < 0.7);
    assert_true(size[1] > 0.85 && size[1] < 1.1);
}

/* Detail that drowns in texture is shown no smaller than red density shows it. */
static void drowned_detail_is_not_blown_up(void **state) {
    (void)state;
    static const double RED[3] = {1, 0, 0};
    coated_sheet sheet = coated_usual();
    sheet.strength = 0.02;
    sheet.texture = 0.03;
    coated_look k = {.choices = coated_choices()};
    coated_make(&sheet, &k.scan);
    lose_colour(&k.scan);
    coated_separate(&k);
    double red = answer(&sheet, RED), own = answer(&sheet, k.s.mix);
    print_message("drowned detail: red %.3f, its own mix %.3f\n", red, own);
    assert_int_equal(k.status, MILORI_OK);
    assert_true(own > 0.7 * red && own < 1.4 * red);
    coated_close(&k);
}

/* One cell of the margin in fifty holds a hair or a crumb. */
static void soil_margin(coated_scan *scan) {
    mil_grid *g = &scan->grid;
    uint32_t seed = 5;
    for (size_t k = 0; k < (size_t)g->nx * (size_t)g->ny; k++) {
        double x = ((double)(k % (size_t)g->nx) + 0.5) * g->cell - scan->found.frame.cx;
        double y = ((double)(k / (size_t)g->nx) + 0.5) * g->cell - scan->found.frame.cy;
        bool in = fabs(x) < scan->found.frame.w / 2 + 10 && fabs(y) < scan->found.frame.h / 2 + 10;
        if (in || fabs(coated_noise(&seed)) < 2.2)
            continue;
        for (int c = 0; c < 3; c++)
            g->absorb[c][k] += 0.15f;
        for (int m = 0; m < 6; m++)
            g->cov[m][k] += 0.04f;
    }
}

/* Covariance of the margin's densities, what is within cells counted in. */
static void margin_of(coated_scan *scan, double out[3][3]) {
    milori_context *ctx = milori_context_new();
    mil_cells cells;
    assert_int_equal(mil_cells_make(ctx, &scan->grid, &scan->found, &cells), MILORI_OK);
    float *smooth[3] = {cells.z, cells.amount, cells.fog};
    for (int c = 0; c < 3; c++)
        mil_cells_smooth(&cells, cells.density[c], 1u << MIL_MARGIN, 2, smooth[c]);
    mil_fine_covariance(&cells, MIL_MARGIN, &(mil_fine){cells.density, smooth, true}, out);
    mil_cells_free(&cells);
    milori_context_free(ctx);
}

static void dust_in_the_margin_is_left_out(void **state) {
    (void)state;
    coated_sheet sheet = coated_usual();
    coated_scan scan;
    double clean[3][3], soiled[3][3];
    coated_make(&sheet, &scan);
    margin_of(&scan, clean);
    soil_margin(&scan);
    margin_of(&scan, soiled);
    /* The texture put in, 0.012 of the light, half of its variance in lines that a cell and its
     * neighbours share in part; and the noise. */
    double px = pow(0.012 * 0.707 / log(10), 2);
    print_message("red's variance %.3g, soiled %.3g, texture's grain %.3g\n", clean[0][0],
                  soiled[0][0], px);
    assert_true(clean[0][0] > px && clean[0][0] < 4 * px);
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++)
            /* Counted in, it would be fifty times; its neighbours' broad tones are a little off. */
            assert_true(soiled[a][b] / clean[a][b] > 0.9 && soiled[a][b] / clean[a][b] < 1.7);
    coated_free(&scan);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(stretched_levels_are_no_reflectance),
                                       cmocka_unit_test(detail_without_colour_keeps_its_size),
                                       cmocka_unit_test(drowned_detail_is_not_blown_up),
                                       cmocka_unit_test(dust_in_the_margin_is_left_out)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
