/* The palettes of our own: even, smooth, opposite, showable. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "colour/lab.h"
#include "colour/output.h"
#include "tone/palette.h"

#define near(a, b, tolerance) assert_true(fabs((a) - (b)) <= (tolerance))

enum { COUNT = 2001 };
static const double degree = 57.29577951308232;

static milori_choices with(milori_palette palette) {
    milori_choices choices;
    memset(&choices, 0, sizeof choices);
    choices.palette = palette;
    return choices;
}

static bool shown(const void *output, const double lab[3]) {
    return mil_output_holds(output, lab);
}

static mil_output *output_to(const char *profile) {
    milori_context *ctx = milori_context_new();
    mil_output *output;
    assert_int_equal(mil_output_new(ctx, profile, MILORI_RELATIVE, true, &output), MILORI_OK);
    milori_context_free(ctx);
    return output;
}

static double chroma(const double lab[3]) {
    return hypot(lab[1], lab[2]);
}

static double hue(double a, double b) {
    double h = atan2(b, a) * degree;
    return h < 0 ? h + 360 : h;
}

static void oklab_of(const double lab[3], double ok[3]) {
    double xyz[3];
    mil_lab_to_xyz(lab, xyz);
    mil_d50_to_d65(xyz, xyz);
    mil_xyz_to_oklab(xyz, ok);
}

/* The second difference of a and b, per step squared of the line's length: a
 * kink of a single colour unit per tenth of the line would give 20 000 or so. */
static void is_smooth(const double (*lab)[3], double most) {
    double steepest = 0, worst = 0;
    for (int i = 1; i + 1 < COUNT; i++)
        for (int c = 1; c < 3; c++) {
            double second = (lab[i + 1][c] - 2 * lab[i][c] + lab[i - 1][c]) * COUNT * COUNT;
            steepest = fmax(steepest, fabs(lab[i + 1][c] - lab[i][c]) * COUNT);
            worst = fmax(worst, fabs(second));
        }
    assert_true(steepest < 400);
    assert_true(worst < most);
}

static void is_even(const double (*lab)[3], double dark, double light) {
    for (int i = 0; i < COUNT; i++)
        near(lab[i][0], dark + (light - dark) * i / (COUNT - 1), 1e-9);
}

static void neutral_is_exactly_neutral(void **state) {
    (void)state;
    static double lab[COUNT][3];
    static uint16_t codes[COUNT][3];
    milori_choices choices = with(MILORI_NEUTRAL);
    mil_output *output = output_to("");
    mil_palette_line(&choices, shown, output, COUNT, lab);
    mil_output_line(output, lab, COUNT, codes[0]);
    is_even(lab, 5, 100);
    for (int i = 0; i < COUNT; i++) {
        assert_true(lab[i][1] == 0 && lab[i][2] == 0);
        assert_int_equal(codes[i][0], codes[i][1]);
        assert_int_equal(codes[i][0], codes[i][2]);
    }
    mil_output_free(output);
}

static void blue_runs_from_paper_to_prussian_blue(void **state) {
    (void)state;
    static double lab[COUNT][3], shown_lab[COUNT][3];
    milori_choices choices = with(MILORI_BLUE);
    mil_output *output = output_to("");
    mil_palette_line(&choices, NULL, NULL, COUNT, lab);
    is_even(lab, 12, 100);
    is_smooth(lab, 400);
    int fullest = 0;
    double before = 400;
    for (int i = 0; i < COUNT; i++) {
        fullest = chroma(lab[i]) > chroma(lab[fullest]) ? i : fullest;
        if (chroma(lab[i]) < .5)
            continue;
        double h = hue(lab[i][1], lab[i][2]);
        assert_true(h > 233 && h < 276 && h < before + 1e-9);
        before = h;
    }
    assert_in_range((int)lab[fullest][0], 35, 48);
    assert_true(chroma(lab[fullest]) > 30 && chroma(lab[fullest]) < 36);
    near(chroma(lab[COUNT - 1]), 0, 1e-12);
    /* Drawn inside sRGB: nothing is lowered there. */
    mil_palette_line(&choices, shown, output, COUNT, shown_lab);
    assert_memory_equal(lab, shown_lab, sizeof lab);
    mil_output_free(output);
}

static void amber_is_the_complement(void **state) {
    (void)state;
    static double blue[COUNT][3], amber[COUNT][3], shown_amber[COUNT][3];
    milori_choices choices = with(MILORI_BLUE);
    mil_output *output = output_to("");
    mil_palette_line(&choices, NULL, NULL, COUNT, blue);
    choices.palette = MILORI_AMBER;
    mil_palette_line(&choices, NULL, NULL, COUNT, amber);
    mil_palette_line(&choices, shown, output, COUNT, shown_amber);
    is_even(amber, 12, 100);
    is_smooth(amber, 1600);
    is_smooth(shown_amber, 1600);
    double lowest = 1, furthest = 0;
    for (int i = 0; i < COUNT; i++) {
        double one[3], other[3], lowered[3];
        oklab_of(blue[i], one);
        oklab_of(amber[i], other);
        oklab_of(shown_amber[i], lowered);
        /* Opposite across OKLab's grey, which for D50's white, adapted, lies
         * within 2e-4 of a = b = 0; as much chroma. */
        near(one[1] + other[1], 0, 4e-4);
        near(one[2] + other[2], 0, 4e-4);
        assert_true(mil_output_holds(output, shown_amber[i]));
        near(shown_amber[i][0], blue[i][0], 1e-9);
        if (chroma(amber[i]) < .5)
            continue;
        lowest = fmin(lowest, chroma(shown_amber[i]) / chroma(amber[i]));
        assert_true(chroma(shown_amber[i]) < chroma(amber[i]) + 1e-9);
        near(hue(shown_amber[i][1], shown_amber[i][2]), hue(amber[i][1], amber[i][2]), 1e-6);
        if (chroma(amber[i]) > 3) {
            double turn = fabs(hue(one[1], one[2]) - hue(lowered[1], lowered[2]));
            furthest = fmax(furthest, fabs(turn - 180));
        }
    }
    print_message("amber keeps %.3f of its chroma in sRGB, hue within %.2f degrees\n", lowest,
                  furthest);
    near(furthest, 0, 3);
    assert_true(lowest > .85);
    near(chroma(shown_amber[COUNT - 1]), 0, 1e-6);
    mil_output_free(output);
}

/* A made-up gamut with a hard edge, that nothing of our own meets. */
static bool narrow(const void *data, const double lab[3]) {
    (void)data;
    return lab[0] > 20 && chroma(lab) <= (lab[0] < 60 ? 10 : 18);
}

static void chroma_is_lowered_smoothly(void **state) {
    (void)state;
    static double lab[COUNT][3], full[COUNT][3];
    for (milori_palette p = MILORI_AMBER; p <= MILORI_BLUE; p++) {
        milori_choices choices = with(p);
        mil_palette_line(&choices, NULL, NULL, COUNT, full);
        mil_palette_line(&choices, narrow, NULL, COUNT, lab);
        is_even(lab, 12, 100);
        is_smooth(lab, 4500);
        for (int i = 0; i < COUNT; i++) {
            assert_true(lab[i][0] < 20.5 || narrow(NULL, lab[i]));
            if (chroma(lab[i]) > .5)
                near(hue(lab[i][1], lab[i][2]), hue(full[i][1], full[i][2]), 1e-6);
        }
        /* Where not even grey can be shown, colour does not break off. */
        assert_true(chroma(lab[0]) > .15 * chroma(full[0]));
    }
}

static void a_grey_profile_gets_grey(void **state) {
    (void)state;
    static double lab[COUNT][3];
    mil_output *output = output_to("/usr/share/color/icc/Gray.icc");
    milori_choices choices = with(MILORI_BLUE);
    mil_palette_line(&choices, shown, output, COUNT, lab);
    for (int i = 0; i < COUNT; i++)
        assert_true(chroma(lab[i]) < 1.5);
    mil_output_free(output);
}

/* A line is the same whatever its count. */
static void count_does_not_matter(void **state) {
    (void)state;
    static double fine[COUNT][3], coarse[11][3], one[1][3];
    mil_output *output = output_to("");
    milori_choices choices = with(MILORI_AMBER);
    mil_palette_line(&choices, shown, output, COUNT, fine);
    mil_palette_line(&choices, shown, output, 11, coarse);
    mil_palette_line(&choices, shown, output, 1, one);
    for (int i = 0; i < 11; i++)
        for (int c = 0; c < 3; c++)
            near(coarse[i][c], fine[200 * i][c], 1e-12);
    near(one[0][0], 100, 1e-12);
    mil_output_free(output);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(neutral_is_exactly_neutral),
                                       cmocka_unit_test(blue_runs_from_paper_to_prussian_blue),
                                       cmocka_unit_test(amber_is_the_complement),
                                       cmocka_unit_test(chroma_is_lowered_smoothly),
                                       cmocka_unit_test(a_grey_profile_gets_grey),
                                       cmocka_unit_test(count_does_not_matter)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
