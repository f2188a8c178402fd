/* Fog carried from a margin into a frame. No outside source: the figures are what a field of the
 * kind that kriging supposes (Krige 1951; Matheron 1963) allows, and milori's own goals. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "sheet/cells.h"
#include "sheet/coated_sheet.h"

typedef struct fog_look {
    milori_context *ctx;
    coated_scan scan;
    mil_cells cells;
    double sigma;
    size_t count;
} fog_look;

/* Empty cells of a sheet in the right places, for a test to fill in the amounts. */
static fog_look fog_open(double w, double h, double margin) {
    fog_look k = {.ctx = milori_context_new()};
    coated_sheet s = {.w = w, .h = h, .margin = margin, .channels = 1};
    coated_bed(&k.scan, &s);
    assert_int_equal(mil_cells_make(k.ctx, &k.scan.grid, &k.scan.found, &k.cells), MILORI_OK);
    k.count = mil_cells_count(&k.cells);
    return k;
}

static void fog_run(fog_look *k) {
    assert_int_equal(mil_fog_find(k->ctx, &k->cells, &k->sigma), MILORI_OK);
}

static void fog_close(fog_look *k) {
    mil_cells_free(&k->cells);
    coated_free(&k->scan);
    milori_context_free(k->ctx);
}

static double x_of(const fog_look *k, size_t i) {
    return (double)(i % (size_t)k->cells.nx) * k->cells.mm;
}

static double y_of(const fog_look *k, size_t i) {
    return (double)(i / (size_t)k->cells.nx) * k->cells.mm;
}

/* A smooth random field of deviation 1: sixty waves drawn from the spectrum of a correlation
 * exp(-d^2 / 2 l^2), l in mm. */
static void blotches(const fog_look *k, double l, uint32_t seed, float *out) {
    enum { WAVES = 60 };
    double wx[WAVES], wy[WAVES], phase[WAVES];
    for (int m = 0; m < WAVES; m++) {
        wx[m] = coated_noise(&seed) / l;
        wy[m] = coated_noise(&seed) / l;
        phase[m] = 10 * coated_noise(&seed);
    }
    for (size_t i = 0; i < k->count; i++) {
        double sum = 0;
        for (int m = 0; m < WAVES; m++)
            sum += cos(wx[m] * x_of(k, i) + wy[m] * y_of(k, i) + phase[m]);
        out[i] = (float)(sum * sqrt(2.0 / WAVES));
    }
}

/* Amounts: the fog, a picture well above it in the frame, a cell's noise. */
static void fill(fog_look *k, const float *fog, double picture, double noise, uint32_t seed) {
    for (size_t i = 0; i < k->count; i++)
        k->cells.amount[i] = (float)(fog[i] + (k->cells.part[i] == MIL_FRAME ? picture : 0) +
                                     noise * coated_noise(&seed));
}

/* Root mean square of the fog found less the fog put in, over a part. */
static double off(const fog_look *k, const float *fog, mil_part part) {
    double n = 0, squares = 0;
    for (size_t i = 0; i < k->count; i++) {
        if (k->cells.part[i] != part)
            continue;
        double d = k->cells.fog[i] - fog[i];
        n++;
        squares += d * d;
    }
    assert_true(n > 0);
    return sqrt(squares / n);
}

/* Edge fog and blotches of its own reach, over several draws: it comes back in the margin, in the
 * frame as well as its own uncertainty says, and better than the margin's mean would. */
static void a_field_comes_back_as_well_as_it_says(void **state) {
    (void)state;
    const double blotch = 0.01, noise = 0.004;
    double squares = 0, said = 0, flat = 0;
    for (uint32_t draw = 1; draw <= 5; draw++) {
        fog_look k = fog_open(24, 18, 7);
        float *fog = calloc(k.count, sizeof *fog);
        double margin = 0;
        blotches(&k, 8, draw * 77u, fog);
        for (size_t i = 0; i < k.count; i++) {
            fog[i] = (float)(0.03 + 0.08 * exp(-k.cells.edge[i] / 5) + blotch * fog[i]);
            margin += k.cells.part[i] == MIL_MARGIN ? fog[i] / (double)k.cells.margin : 0;
        }
        fill(&k, fog, 0.4, noise, draw);
        fog_run(&k);
        assert_true(off(&k, fog, MIL_MARGIN) < noise);
        squares += pow(off(&k, fog, MIL_FRAME), 2) / 5;
        said += k.sigma * k.sigma / 5;
        for (size_t i = 0; i < k.count; i++)
            k.cells.fog[i] = (float)margin;
        flat += pow(off(&k, fog, MIL_FRAME), 2) / 5;
        free(fog);
        fog_close(&k);
    }
    print_message("frame %.5f, said %.5f, margin's mean %.5f\n", sqrt(squares), sqrt(said),
                  sqrt(flat));
    assert_true(sqrt(squares / said) > 0.65 && sqrt(squares / said) < 1.6);
    assert_true(squares < flat / 9);
    assert_true(sqrt(squares) < blotch);
}

/* Mean of the fog found, or put in, in a window 6 mm wide on either side of the middle. */
static double window_mean(const fog_look *k, const float *fog, double from_middle) {
    double sum = 0, n = 0;
    for (size_t i = 0; i < k->count; i++) {
        double x = x_of(k, i) - k->cells.nx * k->cells.mm / 2 - from_middle;
        double y = y_of(k, i) - k->cells.ny * k->cells.mm / 2;
        if (k->cells.part[i] != MIL_FRAME || fabs(x) > 3 || fabs(y) > 8)
            continue;
        sum += fog[i];
        n++;
    }
    assert_true(n > 100);
    return sum / n;
}

/* Dark tones lower than what the margin lets expect pull the fog down to them, little elsewhere,
 * and leave less doubt. Bright ones pull it nowhere. */
static void darks_in_the_frame_are_witnesses(void **state) {
    (void)state;
    const double low = 0.03;
    double left[2], right[2], sigma[2];
    for (int dark = 0; dark < 2; dark++) {
        fog_look k = fog_open(44, 30, 7);
        float *fog = calloc(k.count, sizeof *fog);
        uint32_t seed = 4;
        blotches(&k, 8, 5, fog);
        for (size_t i = 0; i < k.count; i++)
            fog[i] = 0.06f + 0.012f * fog[i];
        fill(&k, fog, 0.4, 0.002, 3);
        for (size_t i = 0; dark && i < k.count; i++)
            if (k.cells.part[i] == MIL_FRAME && x_of(&k, i) < k.cells.nx * k.cells.mm / 2 - 3)
                k.cells.amount[i] = (float)(low + 0.002 * coated_noise(&seed));
        fog_run(&k);
        left[dark] = window_mean(&k, k.cells.fog, -12) - (dark ? low : window_mean(&k, fog, -12));
        right[dark] = window_mean(&k, k.cells.fog, 15) - window_mean(&k, fog, 15);
        sigma[dark] = k.sigma;
        free(fog);
        fog_close(&k);
    }
    print_message("off: left %.4f %.4f, right %.4f %.4f; said %.5f %.5f\n", left[0], left[1],
                  right[0], right[1], sigma[0], sigma[1]);
    /* Two deviations of the blotches; the witnesses' own amount, less than half way to the
     * margin's; and one deviation 15 mm away from them. */
    assert_true(fabs(left[0]) < 0.024 && fabs(right[0]) < 0.024);
    assert_true(fabs(left[1]) < 0.012);
    assert_true(fabs(right[1] - right[0]) < 0.012);
    assert_true(sigma[1] < 0.8 * sigma[0]);
}

/* Fog grows from the cut: noise, or a margin that is paler towards the cut, must not make more of
 * it inside than there is in the margin. */
static void fog_never_rises_inwards(void **state) {
    (void)state;
    for (int paler = 0; paler < 2; paler++)
        for (uint32_t seed = 1; seed <= 4; seed++) {
            fog_look k = fog_open(36, 24, 5);
            float *fog = calloc(k.count, sizeof *fog);
            for (size_t i = 0; i < k.count; i++)
                fog[i] = (float)(0.05 - 0.03 * paler * exp(-k.cells.edge[i] / 3));
            fill(&k, fog, 0.3, 0.02, seed * 31u);
            fog_run(&k);
            double most = -1, middle = 0;
            for (size_t i = 0; i < k.count; i++)
                if (k.cells.part[i] == MIL_FRAME) {
                    most = fmax(most, k.cells.fog[i]);
                    middle += k.cells.fog[i] / (double)k.cells.frame;
                }
            print_message("paler %d: most %.4f middle %.4f sigma %.5f\n", paler, most, middle,
                          k.sigma);
            assert_true(most < 0.05 + 0.02 / 3);
            assert_true(middle < 0.05 + 0.001);
            free(fog);
            fog_close(&k);
        }
}

/* Greatest root mean square of fog off along one of the sheet's four sides. */
static double worst_side(const fog_look *k, const float *fog) {
    double wide = k->cells.nx * k->cells.mm, tall = k->cells.ny * k->cells.mm, worst = 0;
    double sum[4] = {0}, n[4] = {0};
    for (size_t i = 0; i < k->count; i++) {
        double x = x_of(k, i), y = y_of(k, i);
        int side = y < 10 ? 0 : x > wide - 10 ? 1 : y > tall - 10 ? 2 : 3;
        if (k->cells.part[i] != MIL_MARGIN)
            continue;
        sum[side] += pow(k->cells.fog[i] - fog[i], 2);
        n[side]++;
    }
    for (int side = 0; side < 4; side++) {
        assert_true(n[side] > 1000);
        worst = fmax(worst, sqrt(sum[side] / n[side]));
    }
    return worst;
}

/* 8 x 10 in, and A3 with so narrow a margin that there are more blocks of it than there is room
 * for: none of its four sides may go without, and each has a fog of its own. */
static void a_large_sheet_keeps_all_its_sides(void **state) {
    (void)state;
    const double size[2][3] = {{203, 254, 8}, {290, 413, 3.5}};
    for (int sheet = 0; sheet < 2; sheet++) {
        fog_look k = fog_open(size[sheet][0], size[sheet][1], size[sheet][2]);
        float *fog = calloc(k.count, sizeof *fog);
        for (size_t i = 0; i < k.count; i++) {
            double x = x_of(&k, i) / size[sheet][0], y = y_of(&k, i) / size[sheet][1];
            fog[i] = (float)(0.04 + 0.02 * x + 0.03 * y);
        }
        fill(&k, fog, 0.4, 0.004, 2);
        fog_run(&k);
        print_message("worst side %.5f, frame %.5f, said %.5f\n", worst_side(&k, fog),
                      off(&k, fog, MIL_FRAME), k.sigma);
        assert_true(worst_side(&k, fog) < 0.002);
        /* Its middle is many reaches away from any margin, and that is said. */
        assert_true(k.sigma > off(&k, fog, MIL_FRAME) / 2);
        free(fog);
        fog_close(&k);
    }
}

/* No margin at all: the darkest of the frame is all that is known. */
static void without_a_margin_the_darkest_counts(void **state) {
    (void)state;
    fog_look k = fog_open(20, 20, 0);
    assert_int_equal(k.cells.margin, 0);
    for (size_t i = 0; i < k.count; i++)
        k.cells.amount[i] = (float)(0.07 + 0.5 * x_of(&k, i) / 20);
    fog_run(&k);
    assert_true(isnan(k.sigma));
    for (size_t i = 0; i < k.count; i++)
        assert_true(fabs(k.cells.fog[i] - 0.09) < 0.012 && k.cells.fog[i] == k.cells.fog[0]);
    fog_close(&k);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_field_comes_back_as_well_as_it_says),
                                       cmocka_unit_test(darks_in_the_frame_are_witnesses),
                                       cmocka_unit_test(fog_never_rises_inwards),
                                       cmocka_unit_test(a_large_sheet_keeps_all_its_sides),
                                       cmocka_unit_test(without_a_margin_the_darkest_counts)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
