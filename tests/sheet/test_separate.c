/* The picture's dye apart from paper, coat, fog and noise, on sheets made of known amounts
 * (coated_sheet.h). Tables: Kubelka & Munk 1931 and ISO 5 as computed in REFERENCES; the other
 * figures are milori's own goals, with room above what was measured. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "sheet/coated_look.h"

/* K/S = (1-R)^2 / 2R and D = -log10 R (computed from these). */
static void tables_of_density_and_ks(void **state) {
    (void)state;
    static const double ks[9][2] = {{0.02, 24.01},   {0.05, 9.025}, {0.10, 4.05},
                                    {0.18, 1.86778}, {0.20, 1.6},   {0.25, 1.125},
                                    {0.50, 0.25},    {0.80, 0.025}, {0.90, 0.0055556}};
    static const double inverse[5][2] = {
        {0.868226, 0.01}, {0.641742, 0.1}, {0.267949, 1}, {0.171573, 2}, {0.045549, 10}};
    static const double density[5][2] = {
        {0.90, 0.0458}, {0.50, 0.3010}, {0.18, 0.7447}, {0.10, 1.0}, {0.02, 1.6990}};
    for (int k = 0; k < 9; k++)
        assert_true(fabs(mil_density_ks(-log10(ks[k][0])) / ks[k][1] - 1) < 1e-5);
    /* R is printed to 1e-6: K/S = 10 moves by 1.2e-4 of itself. */
    for (int k = 0; k < 5; k++)
        assert_true(fabs(mil_density_ks(-log10(inverse[k][0])) / inverse[k][1] - 1) < 2e-4);
    const mil_absorb absorb = {.floor = 0.002f};
    for (int k = 0; k < 5; k++)
        assert_true(fabs(mil_absorb_light(&absorb, (float)density[k][0]) - density[k][1]) < 6e-5);
    /* What no flatbed tells apart: R 0.003 .. 1. */
    assert_true(mil_density_ks(-0.2) == 0 && mil_density_ks(0) == 0);
    assert_true(fabs(mil_density_ks(9) - 0.997 * 0.997 / 0.006) < 1e-9);
}

static double density_of(double ks) {
    return -log10(1 + ks - sqrt(ks * ks + 2 * ks));
}

/* K/S of the red channel alone, which is what a scan shows without separating. */
static float *red_alone(const coated_look *k) {
    float *red = coated_plane(k);
    for (size_t i = 0; i < k->cells; i++) {
        double r = fmin(fmax(k->scan.grid.light[0][i], 0.002), 1);
        red[i] = (float)((1 - r) * (1 - r) / (2 * r));
    }
    return red;
}

/* Share of y's variance that x does not explain. */
static double unlike(const coated_look *k, const float *x, const float *y) {
    double r = coated_compare(k, MIL_FRAME, x, y).correlation;
    return 1 - r * r;
}

/* Share of the frame's cells whose amount is less. */
static double share_below(const coated_look *k, double amount) {
    double n = 0, less = 0;
    for (size_t i = 0; i < k->cells; i++) {
        n += k->part[i] == MIL_FRAME;
        less += k->part[i] == MIL_FRAME && k->amount[i] < amount;
    }
    return less / n;
}

/* Usual, faint (three minutes' worth) and dense sheets, and one with coarse paper. */
static void the_picture_comes_back(void **state) {
    (void)state;
    const double strength[4] = {0.3, 0.03, 0.8, 0.3}, least[4] = {0.9965, 0.99, 0.996, 0.9965};
    for (int n = 0; n < 4; n++) {
        coated_sheet sheet = coated_usual();
        sheet.strength = strength[n];
        sheet.texture = n == 3 ? 0.03 : sheet.texture;
        coated_look k = coated_open(&sheet);
        float *red = red_alone(&k);
        coated_fit f = coated_compare(&k, MIL_FRAME, k.scan.light, k.amount);
        double gain = unlike(&k, k.scan.light, red) / unlike(&k, k.scan.light, k.amount);
        double deep = k.s.scale.strength * f.slope / sheet.strength;
        print_message(
            "strength %.2f: correlation %.5f, light 1 is %.3f, K/S %.3f times what it is, "
            "better than red by %.1f\n",
            strength[n], f.correlation, f.slope, deep, gain);
        assert_int_equal(k.status, MILORI_OK);
        assert_int_equal(k.s.channels, 3);
        assert_int_equal(k.s.notes.count, 0);
        assert_true(f.correlation > least[n]);
        assert_true(gain > 4.5);
        /* In proportion, and 1 at the light tones: 99 in 100 of the clouds lie below 0.94. */
        assert_true(f.slope > 1 && f.slope < 1.15);
        assert_true(fabs(k.s.scale.percentile[99] - 1) < 1e-3);
        /* As far as the dye's colour can be told. */
        assert_true(fabs(deep - 1) < 0.3);
        assert_true(fabs(share_below(&k, k.s.scale.light) - 0.98) < 0.01);
        free(red);
        coated_close(&k);
    }
}

/* Laid lines darken all channels alike: how much of them is left in z, in the margin. */
static void texture_alike_in_all_channels_drops_out(void **state) {
    (void)state;
    coated_sheet sheet = coated_usual();
    sheet.streaks = 0;
    sheet.texture = 0.02;
    sheet.noise = 0.002;
    coated_look k = coated_open(&sheet);
    coated_fit z = coated_compare(&k, MIL_MARGIN, k.scan.laid, k.z);
    coated_fit red = coated_compare(&k, MIL_MARGIN, k.scan.laid, k.scan.grid.absorb[0]);
    print_message("texture left in z: %.3f of the red density's\n", z.slope / red.slope);
    /* 0.02 of the light, half of its variance in the lines, in density. */
    assert_true(fabs(red.slope / (-0.02 * 0.707 / log(10)) - 1) < 0.05);
    assert_true(fabs(z.slope / red.slope) < 0.25);
    assert_true(z.deviation < 0.5 * red.deviation);
    coated_close(&k);
}

/* Slow yellow-brown blotches: how much of them is left in the amount, in the margin, where no
 * picture is, and in the frame. */
static void stain_drops_out(void **state) {
    (void)state;
    coated_sheet sheet = coated_usual();
    sheet.streaks = 0.02;
    sheet.texture = 0.004;
    sheet.noise = 0.002;
    sheet.stain = 0.03;
    coated_look k = coated_open(&sheet);
    coated_fit z = coated_compare(&k, MIL_MARGIN, k.scan.stain, k.z);
    coated_fit red = coated_compare(&k, MIL_MARGIN, k.scan.stain, k.scan.grid.absorb[0]);
    double r = coated_compare(&k, MIL_FRAME, k.scan.light, k.amount).correlation;
    print_message("stain left in z: %.3f of the red density's; correlation %.5f\n",
                  z.slope / red.slope, r);
    assert_true(red.slope > 0.1);
    assert_true(fabs(z.slope / red.slope) < 0.2);
    assert_true(r > 0.99);
    coated_close(&k);
}

/* Streaks of the coat scale the dye: share of the light tones' amount by which they go along with
 * the coat's log, where the picture leaves no doubt. Red alone would have all of it. */
static double streaks_left(const coated_look *k, const float *amount) {
    double cxx = 0, cxy = 0;
    double level = coated_compare(k, MIL_FRAME, k->scan.light, amount).slope;
    double zero = coated_compare(k, MIL_FRAME, k->scan.light, amount).mean -
                  level * coated_compare(k, MIL_FRAME, amount, k->scan.light).mean;
    for (size_t i = 0; i < k->cells; i++) {
        if (k->part[i] != MIL_FRAME || k->scan.light[i] < 0.4)
            continue;
        double x = k->scan.coat[i] * k->scan.light[i];
        cxx += x * x;
        cxy += x * ((amount[i] - zero) / level - k->scan.light[i]);
    }
    return cxy / cxx;
}

static void streaks_of_the_coat_drop_out(void **state) {
    (void)state;
    coated_sheet sheet = coated_usual();
    sheet.streaks = 0.12;
    sheet.texture = 0.004;
    sheet.noise = 0.002;
    coated_look k = coated_open(&sheet);
    float *red = red_alone(&k);
    double ours = streaks_left(&k, k.amount), plain = streaks_left(&k, red);
    print_message("streaks left in light tones: %.3f; in red alone %.3f\n", ours, plain);
    assert_true(plain > 0.8 && plain < 1.1);
    assert_true(fabs(ours) < 0.35);
    free(red);
    coated_close(&k);
}

/* Fog of the margin's middle counts as base; the rest comes back as a surface. Fog inside is
 * believed down to a fresh coat's usual red density, 0.14; a clearer coat's less exactly. */
static void fog_from_the_edges_comes_back_in_the_frame(void **state) {
    (void)state;
    const double even[3] = {0.045, 0.045, 0.01}, streaks[3] = {0, 0.08, 0.08};
    for (int m = 0; m < 3; m++) {
        coated_sheet sheet = coated_usual();
        sheet.fog = even[m];
        sheet.rise = 0.1;
        sheet.streaks = streaks[m];
        coated_look k = coated_open(&sheet);
        double n = 0, squares = 0, plain = 0, base = mil_density_ks(k.s.base) - 0.012;
        for (size_t i = 0; i < k.cells; i++) {
            if (k.part[i] != MIL_FRAME)
                continue;
            double want = k.scan.fog[i] - base;
            n++;
            squares += pow(k.fog[i] / k.s.unit - want, 2);
            plain += want * want;
        }
        double rms = sqrt(squares / n), all = sqrt(plain / n);
        double r = coated_compare(&k, MIL_FRAME, k.scan.light, k.amount).correlation;
        print_message("fog off by %.5f of %.5f; correlation %.5f\n", rms, all, r);
        assert_true(all > 0.03);
        /* Three hundredths of the light tones. */
        assert_true(rms < (m < 2 ? 0.03 * sheet.strength : all / 3));
        assert_true(r > 0.995);
        coated_close(&k);
    }
}

/* Scanner noise alone: what it makes of the amount follows from the mix. */
static void noise_and_grain_are_what_they_are(void **state) {
    (void)state;
    coated_sheet sheet = coated_usual();
    sheet.streaks = sheet.texture = 0;
    coated_look k = coated_open(&sheet);
    double variance = 0;
    for (int c = 0; c < 3; c++) {
        double r = pow(10, -density_of(COATED_PAPER[c] + COATED_YELLOW[c]));
        variance += pow(k.s.mix[c] * sheet.noise / (r * log(10)), 2);
    }
    double r = pow(10, -k.s.base), slope = log(10) * (1 - r * r) / (2 * r);
    double grain = sqrt(variance) * slope * k.s.unit;
    double seen = coated_compare(&k, MIL_MARGIN, k.scan.light, k.amount).deviation;
    print_message("grain %.5f, want %.5f; noise %.5f, seen %.5f\n", k.s.scale.grain, grain,
                  k.s.scale.noise, seen);
    assert_true(fabs(k.s.scale.grain / grain - 1) < 0.1);
    /* Sixteen px a cell; the coat's model adds some noise of its own. */
    assert_true(k.s.scale.noise > 0.6 * grain / 4 && k.s.scale.noise < 1.7 * grain / 4);
    assert_true(fabs(k.s.scale.noise / seen - 1) < 0.25);
    assert_true(k.s.noise.value == k.s.scale.noise / k.s.scale.light);
    coated_close(&k);
}

/* Eight steps of 0.15 in log10: 1.05 from the first to the last. */
static void a_wedges_range_and_steps_come_back(void **state) {
    (void)state;
    coated_sheet sheet = coated_usual();
    sheet.picture = coated_wedge;
    sheet.streaks = 0;
    sheet.texture = 0.004;
    sheet.noise = 0.002;
    coated_look k = {.choices = coated_choices()};
    k.choices.veil = 0;
    coated_make(&sheet, &k.scan);
    coated_separate(&k);
    double sum[8] = {0}, n[8] = {0};
    for (size_t i = 0; i < k.cells; i++) {
        double step = -log10(fmax(k.scan.light[i], 1e-6)) / 0.15, whole = floor(step + 0.5);
        if (k.part[i] != MIL_FRAME || fabs(step - whole) > 1e-4)
            continue;
        sum[(int)whole] += k.amount[i];
        n[(int)whole]++;
    }
    for (int s = 0; s < 8; s++) {
        double off = log10(sum[s] / n[s] / (sum[0] / n[0])) + 0.15 * s;
        print_message("step %d: %.4f\n", s, off);
        assert_true(fabs(off) < 0.04);
    }
    print_message("range %.4f +- %.4f, shoulder %.3f want %.3f\n", k.s.range.value, k.s.range.sigma,
                  k.s.shoulder, 1.4 * k.s.unit);
    assert_true(fabs(k.s.range.value - 1.05) < 0.06);
    assert_true(k.s.range.sigma > 0 && k.s.range.sigma < 0.05);
    for (int p = 1; p <= 100; p++)
        assert_true(k.s.scale.percentile[p] >= k.s.scale.percentile[p - 1]);
    assert_true(fabs(k.s.scale.middle - (pow(10, -0.45) + pow(10, -0.6)) / 2) < 0.08);
    /* The dye can grow until the yellow's 0.42 is used up, 0.30 a unit. */
    assert_true(fabs(k.s.shoulder / (1.4 * k.s.unit) - 1) < 0.3);
    coated_close(&k);
}

static bool near_to(double a, double b, double by) {
    return fabs(a - b) < by;
}

static void base_fog_and_stain_are_the_margins(void **state) {
    (void)state;
    coated_sheet sheet = coated_usual();
    sheet.fog = 0.03;
    for (int bare = 0; bare < 2; bare++) {
        sheet.bare = bare ? 2 : 0;
        coated_look k = coated_open(&sheet);
        for (int c = 0; c < 3; c++) {
            double ks = COATED_PAPER[c] + COATED_YELLOW[c] + sheet.fog * COATED_IMAGE[c];
            assert_true(near_to(k.s.base_density[c].value, density_of(ks), 0.01));
            assert_int_equal(k.s.base_density[c].origin, MILORI_FOUND);
            assert_true(k.s.base_density[c].sigma > 0 && k.s.base_density[c].sigma < 0.01);
        }
        double red = density_of(0.042), blue = density_of(0.429);
        assert_int_equal(k.s.fog_density.origin, bare ? MILORI_FOUND : MILORI_ASSUMED);
        assert_int_equal(k.s.stain.origin, bare ? MILORI_FOUND : MILORI_ASSUMED);
        /* Above a clear coat (paper .006 + coat .006), whose red milori can only assume. */
        assert_true(
            near_to(k.s.fog_density.value, red - density_of(0.012), 2 * k.s.fog_density.sigma));
        if (bare) {
            assert_true(near_to(k.s.stain.value, blue - density_of(0.018), 0.02));
        } else {
            assert_true(isnan(k.s.stain.value));
        }
        coated_close(&k);
    }
}

static void a_scan_without_margin_is_said(void **state) {
    (void)state;
    coated_sheet sheet = coated_usual();
    sheet.margin = 0;
    coated_look k = coated_open(&sheet);
    double r = coated_compare(&k, MIL_FRAME, k.scan.light, k.amount).correlation;
    print_message("no margin: correlation %.5f\n", r);
    assert_true(mil_notes_have(&k.s.notes, "margin"));
    assert_true(r > 0.99);
    coated_close(&k);
}

static void a_grey_scan_is_separated_by_density_alone(void **state) {
    (void)state;
    coated_sheet sheet = coated_usual();
    sheet.channels = 1;
    coated_look k = coated_open(&sheet);
    double r = coated_compare(&k, MIL_FRAME, k.scan.light, k.amount).correlation;
    print_message("grey: correlation %.5f\n", r);
    assert_true(mil_notes_have(&k.s.notes, "grey") && k.s.notes.count == 1);
    assert_int_equal(k.s.channels, 1);
    assert_true(k.s.mix[0] == 1 && k.s.mix[1] == 0 && k.s.mix[2] == 0);
    assert_true(k.s.shoulder == 0 && k.s.sun_fraction == 0);
    assert_true(r > 0.95);
    for (int c = 1; c < 3; c++)
        assert_true(k.s.base_density[c].value == k.s.base_density[0].value);
    coated_close(&k);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(tables_of_density_and_ks),
                                       cmocka_unit_test(the_picture_comes_back),
                                       cmocka_unit_test(texture_alike_in_all_channels_drops_out),
                                       cmocka_unit_test(stain_drops_out),
                                       cmocka_unit_test(streaks_of_the_coat_drop_out),
                                       cmocka_unit_test(fog_from_the_edges_comes_back_in_the_frame),
                                       cmocka_unit_test(noise_and_grain_are_what_they_are),
                                       cmocka_unit_test(a_wedges_range_and_steps_come_back),
                                       cmocka_unit_test(base_fog_and_stain_are_the_margins),
                                       cmocka_unit_test(a_scan_without_margin_is_said),
                                       cmocka_unit_test(a_grey_scan_is_separated_by_density_alone)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
