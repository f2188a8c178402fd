/* Grades, and the print fitted to a sheet. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "tone/tone.h"

static mil_tone resolve(const mil_scale *scale, const milori_choices *choices) {
    mil_tone tone;
    mil_tone_resolve(scale, choices, 0, 0, &tone);
    return tone;
}

static milori_choices defaults(void) {
    milori_choices choices;
    milori_choices_default(&choices);
    return choices;
}

/* 0..1 from a fixed sequence (Steele, Lea & Flood 2014, SplitMix64). */
static double drawn(uint64_t *seed) {
    uint64_t z = (*seed += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

static mil_scale drawn_scale(uint64_t *seed) {
    mil_scale s = {.light = 0.5 + drawn(seed)};
    s.dark = s.light * pow(10, -3 * drawn(seed));
    s.middle = s.dark + (s.light - s.dark) * drawn(seed);
    s.noise = pow(10, -4 + 3.5 * drawn(seed));
    s.grain = s.noise * (1 + 3 * drawn(seed));
    return s;
}

/* ANSI PH2.2-1966's six grades (limits from memory). */
static void grades_lie_within_their_limits(void **state) {
    (void)state;
    const double limits[7] = {1.70, 1.40, 1.15, 0.95, 0.80, 0.65, 0.50};
    for (int g = 0; g < 6; g++) {
        assert_true(fabs(mil_grade_range(g) - (limits[g] + limits[g + 1]) / 2) < 1e-12);
        /* where two grades meet lies half way between them */
        if (g < 5)
            assert_true(fabs(mil_range_grade(limits[g + 1]) - (g + 0.5)) < 0.06);
    }
}

static void grade_and_range_undo_each_other(void **state) {
    (void)state;
    for (int i = -200; i <= 800; i++) {
        double g = i / 100.0, r = mil_grade_range(g);
        assert_true(fabs(mil_range_grade(r) - g) < 1e-9);
        assert_true(mil_grade_range(g + 0.01) < r);
        assert_true(r - mil_grade_range(g + 0.01) < 0.01);
    }
}

/* ---- ISO 6846:1992 ------------------------------------------------------- */

/* Log exposure range between T, 0.04 above the least density, and S, 90 % of the
 * most: absolute, or net of the least. Density rises with x. */
typedef struct density_curve {
    double (*at)(const void *, double x);
    const void *data;
    double least, most;
} density_curve;

static double where(const density_curve *c, double density) {
    double low = -20, high = 20;
    for (int i = 0; i < 200; i++) {
        double mid = (low + high) / 2;
        *(c->at(c->data, mid) < density ? &low : &high) = mid;
    }
    return (low + high) / 2;
}

static double iso_range(const density_curve *c, bool net) {
    double s = net ? c->least + 0.9 * (c->most - c->least) : 0.9 * c->most;
    return where(c, s) - where(c, c->least + 0.04);
}

static double logistic(const void *k, double x) {
    return 0.10 + 1.40 / (1 + exp(-*(const double *)k * x));
}

/* Closed form of the logistic's range (computed). */
static void iso_range_is_found(void **state) {
    (void)state;
    const double cases[3][3] = {{3, 1.8822, 1.9079}, {5, 1.1293, 1.1447}, {8, 0.7058, 0.7154}};
    for (int i = 0; i < 3; i++) {
        density_curve c = {logistic, &cases[i][0], 0.10, 1.50};
        assert_true(fabs(iso_range(&c, false) - cases[i][1]) < 1e-4);
        assert_true(fabs(iso_range(&c, true) - cases[i][2]) < 1e-4);
    }
}

/* Density of a palette from L* darkest to 100, even in L* (CIE 1976), under less
 * and less light. */
typedef struct print {
    mil_tone tone;
    double darkest;
} print;

static double print_density(const void *data, double x) {
    const print *p = data;
    double t = mil_tone_place(&p->tone, -x / log10(2));
    double L = p->darkest + (100 - p->darkest) * t;
    double y = L > 8 ? pow((L + 16) / 116, 3) : L * 27 / 24389;
    return -log10(y);
}

/* A grade of ours has the range that ISO 6846 would measure on the print. The
 * darkest L* are those of the neutral and the blue palette. */
static void prints_have_their_grades_range(void **state) {
    (void)state;
    const double darkest[2] = {5, 12};
    for (int d = 0; d < 2; d++)
        for (int grade = 0; grade <= 5; grade++) {
            mil_scale scale = {.dark = 0.05, .light = 1, .middle = 0.3, .noise = 0.01};
            milori_choices choices = defaults();
            choices.grade = grade;
            print p = {resolve(&scale, &choices), darkest[d]};
            density_curve c = {print_density, &p, 0, print_density(&p, 20)};
            double range = iso_range(&c, false);
            assert_true(fabs(range / mil_grade_range(grade) - 1) < 0.04);
        }
}

/* ---- the curve ------------------------------------------------------------ */

static void tones_rise_from_0_to_1(void **state) {
    (void)state;
    uint64_t seed = 6;
    for (int i = 0; i < 300; i++) {
        mil_scale scale = drawn_scale(&seed);
        milori_choices choices = defaults();
        choices.soften_lights = drawn(&seed);
        choices.soften_shadows = drawn(&seed);
        choices.stops = 4 * drawn(&seed) - 2;
        mil_tone tone;
        mil_tone_resolve(&scale, &choices, 40 * drawn(&seed), i % 3 ? 0.5 + drawn(&seed) : 0,
                         &tone);
        double before = 0;
        for (int k = -1000; k <= 3000; k++) {
            double t = mil_tone_of(&tone, k / 1000.0);
            assert_true(t >= before && t <= 1);
            /* steps as small as the grade and the undone saturation (10 at most) make them */
            assert_true(k == -1000 ||
                        t - before < 0.001 / tone.floor * (tone.shoulder > 0 ? 10 : 1));
            before = t;
        }
        assert_true(mil_tone_of(&tone, -INFINITY) == 0);
        assert_true(mil_tone_of(&tone, NAN) == 0);
        assert_true(mil_tone_of(&tone, INFINITY) > 0.99 || choices.soften_lights > 0);
        assert_true(mil_tone_of(&tone, INFINITY) <= 1);
    }
}

static void grain_below_zero_is_not_cut_flat(void **state) {
    (void)state;
    mil_scale scale = {.dark = 0.02, .light = 1, .middle = 0.3, .noise = 0.02, .grain = 0.04};
    milori_choices choices = defaults();
    mil_tone tone = resolve(&scale, &choices);
    double at[4];
    for (int i = 0; i < 4; i++)
        at[i] = mil_tone_of(&tone, (i - 2) * 0.04);
    for (int i = 1; i < 4; i++) {
        assert_true(at[i] > at[i - 1]);
        assert_true((at[i] - at[i - 1]) * 95 > 0.3); /* L* */
    }
}

static void softening_an_end_moves_nothing_else(void **state) {
    (void)state;
    mil_scale scale = {.dark = 0.05, .light = 1, .middle = 0.3, .noise = 0.01};
    milori_choices choices = defaults();
    mil_tone plain = resolve(&scale, &choices);
    for (int end = 0; end < 2; end++) {
        double before = end ? 1 : 0;
        for (int s = 1; s <= 4; s++) {
            choices = defaults();
            *(end ? &choices.soften_lights : &choices.soften_shadows) = s / 4.0;
            mil_tone soft = resolve(&scale, &choices);
            double sign = end ? 1 : -1;
            assert_true(mil_tone_place(&soft, 0) == 0.5);
            for (int k = 1; k <= 40; k++) /* the other end, to the bit */
                assert_true(mil_tone_place(&soft, -sign * k / 8) ==
                            mil_tone_place(&plain, -sign * k / 8));
            /* the end itself moves inwards, more and more, and keeps its tones apart */
            double here = mil_tone_place(&soft, 2 * sign);
            assert_true(end ? here < before : here > before);
            before = here;
            double far_soft = mil_tone_place(&soft, 4 * sign) - mil_tone_place(&soft, 3 * sign);
            double far_plain = mil_tone_place(&plain, 4 * sign) - mil_tone_place(&plain, 3 * sign);
            assert_true(fabs(far_soft) > fabs(far_plain));
        }
    }
    /* slope in the middle */
    double step = 1e-4;
    choices.soften_shadows = choices.soften_lights = 1;
    mil_tone both = resolve(&scale, &choices);
    assert_true(fabs(mil_tone_place(&both, step) - mil_tone_place(&plain, step)) < 1e-9);
    assert_true(fabs(mil_tone_place(&both, -step) - mil_tone_place(&plain, -step)) < 1e-9);
}

static void stops_are_a_factor_of_light(void **state) {
    (void)state;
    mil_scale scale = {.dark = 0.05, .light = 1, .middle = 0.3};
    milori_choices choices = defaults();
    mil_tone plain = resolve(&scale, &choices);
    choices.stops = 1.5;
    mil_tone lighter = resolve(&scale, &choices);
    assert_true(lighter.middle == plain.middle && lighter.grade == plain.grade);
    for (int k = 2; k < 100; k++) {
        double amount = k / 50.0;
        /* noise is least, so light is the amount itself to a part in a million */
        assert_true(fabs(mil_tone_of(&lighter, amount) - mil_tone_of(&plain, amount * exp2(1.5))) <
                    1e-6);
        assert_true(mil_tone_of(&lighter, amount) > mil_tone_of(&plain, amount));
    }
    /* dodging adds to the light */
    assert_true(mil_tone_place(&plain, 0.25 + 1.5) == mil_tone_place(&lighter, 0.25));
}

/* Common practice, no source: three minutes against fifteen is about 2.3 stops,
 * in proportion to exposure. Saturation is first-order kinetics. */
static void saturation_is_undone(void **state) {
    (void)state;
    mil_scale scale = {.dark = 0.02, .light = 1, .middle = 0.3};
    milori_choices choices = defaults();
    mil_tone tone;
    double s = 1.2;
    mil_tone_resolve(&scale, &choices, 0, s, &tone);
    for (int k = 1; k <= 8; k++) {
        double light = 0.25 * k, amount = s * (1 - exp(-light / s));
        double fifth = s * (1 - exp(-light / 5 / s));
        double stops = mil_tone_light(&tone, amount) - mil_tone_light(&tone, fifth);
        assert_true(fabs(stops - 2.3219) < 1e-3);
    }
    /* past saturation it still rises, gently */
    assert_true(mil_tone_light(&tone, 3) > mil_tone_light(&tone, 1.2));
    assert_true(mil_tone_light(&tone, 3) < mil_tone_light(&tone, 1.0) + 5);
}

static void veil_is_taken_off_as_light(void **state) {
    (void)state;
    milori_choices choices = defaults();
    mil_scale clear = {.dark = 0.05, .light = 1, .middle = 0.3, .noise = 0.01};
    mil_scale veiled = {.dark = 0.09, .light = 1.04, .middle = 0.34, .noise = 0.01};
    mil_tone without = resolve(&clear, &choices), with;
    mil_tone_resolve(&veiled, &choices, 100 * 0.04 / 0.95, 0, &with);
    for (int k = 0; k <= 120; k++)
        assert_true(fabs(mil_tone_of(&without, k / 100.0) - mil_tone_of(&with, k / 100.0 + 0.04)) <
                    1e-9);
}

/* The veil is an estimate: near it the log runs away, and must not take the grade with it. */
static void a_veil_widens_the_range_by_a_stop_at_most(void **state) {
    (void)state;
    milori_choices choices = defaults();
    mil_scale scale = {.dark = 0.1, .light = 1, .middle = 0.4, .noise = 0.001};
    mil_tone without = resolve(&scale, &choices), with;
    mil_tone_resolve(&scale, &choices, 100 * 0.0999 / 0.9, 0, &with);
    assert_true(with.log_range > without.log_range + 0.1);
    assert_true(with.log_range < without.log_range + log10(2) + 0.01);
}

static void a_short_exposure_prints_softer(void **state) {
    (void)state;
    milori_choices choices = defaults();
    mil_scale scale = {.dark = 0.1, .light = 1, .middle = 0.4, .noise = 0.001};
    mil_tone unknown = resolve(&scale, &choices);
    scale.strength = 1;
    mil_tone full = resolve(&scale, &choices);
    scale.strength = 0.125; /* two stops short of 0.5: half of them is a stop */
    mil_tone pale = resolve(&scale, &choices);
    assert_true(unknown.log_range == full.log_range);
    assert_true(fabs(pale.log_range - full.log_range - log10(2)) < 1e-6);
    choices.grade = 2;
    mil_tone chosen = resolve(&scale, &choices);
    assert_true(fabs(chosen.log_range - mil_grade_range(2)) < 1e-12);
}

static void a_curve_is_applied_last(void **state) {
    (void)state;
    mil_scale scale = {.dark = 0.05, .light = 1, .middle = 0.3, .noise = 0.01};
    milori_choices choices = defaults();
    mil_tone plain = resolve(&scale, &choices);
    choices.curve_points = 3;
    const double points[3][2] = {{0, 0.1}, {0.5, 0.4}, {1, 0.9}};
    memcpy(choices.curve, points, sizeof points);
    mil_tone curved = resolve(&scale, &choices);
    double slopes[3];
    mil_monotone_slopes(points, 3, slopes);
    for (int k = -20; k <= 150; k++) {
        double t = mil_tone_of(&plain, k / 100.0);
        assert_true(mil_tone_of(&curved, k / 100.0) == mil_monotone_at(points, slopes, 3, t));
    }
}

/* ---- what is automatic ----------------------------------------------------- */

static void a_full_sheet_fills_the_palette(void **state) {
    (void)state;
    mil_scale scale = {.dark = 0.05, .light = 1, .middle = 0.22, .noise = 0.003, .grain = 0.004};
    milori_choices choices = defaults();
    mil_tone tone = resolve(&scale, &choices);
    /* the grade is that of the sheet's own range (ISO 6846, introduction) */
    assert_true(fabs(tone.log_range - log10(20)) < 0.02);
    assert_true(fabs(tone.grade - mil_range_grade(tone.log_range)) < 1e-9);
    assert_false(tone.noise_limited);
    assert_true(mil_tone_of(&tone, 1) > 0.92 && mil_tone_of(&tone, 0.05) < 0.08);
    double middle = mil_tone_of(&tone, 0.22);
    assert_true(middle > 0.40 && middle < 0.55);
    /* a light picture stays lighter than a dark one, and neither loses an end */
    double last = 0;
    for (int k = 1; k <= 9; k++) {
        scale.middle = 0.05 + 0.1 * k;
        tone = resolve(&scale, &choices);
        assert_true(mil_tone_of(&tone, 1) > 0.915 && mil_tone_of(&tone, 0.05) < 0.085);
        assert_true(mil_tone_of(&tone, scale.middle) > last);
        /* the print goes some way to meet its middle: darker for a light picture */
        assert_true((tone.middle > sqrt(0.05)) == (scale.middle > 0.2));
        assert_true(fabs(log2(tone.middle / sqrt(0.05))) < 0.8);
        last = mil_tone_of(&tone, scale.middle);
    }
}

static void a_faint_sheet_keeps_its_mood(void **state) {
    (void)state;
    milori_choices choices = defaults();
    double before = 0;
    for (int k = 0; k <= 20; k++) {
        mil_scale scale = {.dark = 0.2, .light = 1, .middle = 0.45, .noise = 0.005 * (k + 1)};
        scale.grain = 1.5 * scale.noise;
        mil_tone tone = resolve(&scale, &choices);
        /* softer and softer with the noise, never steeper */
        assert_true(tone.log_range >= before);
        before = tone.log_range;
        double grain = (mil_tone_place(&tone, 0.01) - mil_tone_place(&tone, -0.01)) / 0.02 *
                       scale.noise / tone.middle / log(2) * 95;
        bool softest = tone.grade <= -1.5 + 1e-9;
        assert_true(grain < 4.4 || softest); /* most_grain and what balancing the middle adds */
        assert_true(tone.grade >= -1.5 - 1e-9);
        if (k == 0)
            assert_true(mil_tone_of(&tone, 1) - mil_tone_of(&tone, 0.2) > 0.8);
        if (k == 20) {
            assert_true(softest && tone.noise_limited);
            assert_true(mil_tone_of(&tone, 1) - mil_tone_of(&tone, 0.2) < 0.5);
        }
    }
}

static void a_grade_chosen_turns_about_the_same_middle(void **state) {
    (void)state;
    mil_scale scale = {.dark = 0.2, .light = 1, .middle = 0.45, .noise = 0.02, .grain = 0.03};
    milori_choices choices = defaults();
    mil_tone own = resolve(&scale, &choices);
    double slope = 0;
    for (int g = -2; g <= 8; g++) {
        choices.grade = g;
        mil_tone tone = resolve(&scale, &choices);
        assert_true(tone.grade == g && tone.middle == own.middle);
        assert_true(fabs(tone.log_range - mil_grade_range(g)) < 1e-12);
        assert_true(mil_tone_place(&tone, 0) == 0.5);
        /* 4 and 96 % stand the range apart */
        double half = tone.log_range / 2 / log10(2);
        assert_true(fabs(mil_tone_place(&tone, half) - 0.96) < 1e-9);
        assert_true(fabs(mil_tone_place(&tone, -half) - 0.04) < 1e-9);
        double s = mil_tone_place(&tone, 0.1);
        assert_true(s > slope);
        slope = s;
    }
}

static void small_changes_of_the_sheet_change_the_print_little(void **state) {
    (void)state;
    uint64_t seed = 1842;
    milori_choices choices = defaults();
    for (int i = 0; i < 400; i++) {
        mil_scale scale = drawn_scale(&seed);
        double veil = 60 * drawn(&seed), shoulder = 0.6 + drawn(&seed);
        mil_tone tone;
        mil_tone_resolve(&scale, &choices, veil, shoulder, &tone);
        for (int what = 0; what < 6; what++) {
            mil_scale moved = scale;
            double *field[5] = {&moved.dark, &moved.light, &moved.middle, &moved.noise,
                                &moved.grain};
            double by = 1 + 1e-6, v = veil * (what == 5 ? by : 1);
            if (what < 5)
                *field[what] *= by;
            mil_tone other;
            mil_tone_resolve(&moved, &choices, v, shoulder, &other);
            for (int k = 0; k <= 20; k++)
                assert_true(fabs(mil_tone_of(&tone, k / 10.0) - mil_tone_of(&other, k / 10.0)) <
                            1e-4);
        }
    }
}

static void no_measure_upsets_it(void **state) {
    (void)state;
    const double odd[] = {NAN, INFINITY, -INFINITY, 0, -0.0, -1, 1, 1e-300, -1e-300, 1e300, 0.3};
    enum { N = sizeof odd / sizeof *odd };
    milori_choices choices = defaults();
    uint64_t seed = 3;
    for (int i = 0; i < 5000; i++) {
        double v[7];
        for (int k = 0; k < 7; k++)
            v[k] = odd[(size_t)(drawn(&seed) * N)];
        mil_scale scale = {
            .dark = v[0], .light = v[1], .middle = v[2], .noise = v[3], .grain = v[4]};
        mil_tone tone;
        mil_tone_resolve(&scale, &choices, v[5], v[6], &tone);
        assert_true(isfinite(tone.middle) && tone.middle > 0 && tone.floor > 0);
        assert_true(isfinite(tone.automatic_stops) && isfinite(tone.veil));
        assert_true(tone.grade >= -1.5 - 1e-9 && tone.grade <= 4 + 1e-9 && tone.log_range > 0);
        for (int k = 0; k < N; k++) {
            double t = mil_tone_of(&tone, odd[k]);
            assert_true(t >= 0 && t <= 1);
        }
    }
    /* a blank sheet is an even grey */
    mil_scale blank = {.dark = 1, .light = 1, .middle = 1, .noise = 0.3, .grain = 0.5};
    mil_tone tone = resolve(&blank, &choices);
    assert_true(fabs(mil_tone_of(&tone, 1) - 0.5) < 1e-9);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(grades_lie_within_their_limits),
        cmocka_unit_test(grade_and_range_undo_each_other),
        cmocka_unit_test(iso_range_is_found),
        cmocka_unit_test(prints_have_their_grades_range),
        cmocka_unit_test(tones_rise_from_0_to_1),
        cmocka_unit_test(grain_below_zero_is_not_cut_flat),
        cmocka_unit_test(softening_an_end_moves_nothing_else),
        cmocka_unit_test(stops_are_a_factor_of_light),
        cmocka_unit_test(saturation_is_undone),
        cmocka_unit_test(veil_is_taken_off_as_light),
        cmocka_unit_test(a_curve_is_applied_last),
        cmocka_unit_test(a_full_sheet_fills_the_palette),
        cmocka_unit_test(a_faint_sheet_keeps_its_mood),
        cmocka_unit_test(a_veil_widens_the_range_by_a_stop_at_most),
        cmocka_unit_test(a_short_exposure_prints_softer),
        cmocka_unit_test(a_grade_chosen_turns_about_the_same_middle),
        cmocka_unit_test(small_changes_of_the_sheet_change_the_print_little),
        cmocka_unit_test(no_measure_upsets_it)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
