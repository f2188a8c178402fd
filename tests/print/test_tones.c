/* Places, words of light and colours on paper. L* of Y: ISO/CIE 11664-4, written out here. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "print/codes.h"
#include "tone/test_context.h"

/* Y of L*. */
static double light_of(double L) {
    return L > 8 ? pow((L + 16) / 116, 3) : L / 903.2962963;
}

static mil_print_tones tones_of(const milori_choices *choices) {
    mil_print_tones tones;
    assert_int_equal(mil_print_tones_make(ctx, choices, &tones), MILORI_OK);
    return tones;
}

static milori_choices own_palette(size_t count, const double (*stop)[4]) {
    milori_choices choices;
    milori_choices_default(&choices);
    choices.palette = MILORI_PALETTE_FILE;
    choices.palette_stops = count;
    for (size_t i = 0; i < count; i++)
        choices.palette_stop[i] =
            (milori_palette_stop){stop[i][0], stop[i][1], stop[i][2], stop[i][3]};
    return choices;
}

/* Neutral runs evenly from L* 5 to 100. */
static void test_neutral(void **state) {
    (void)state;
    milori_choices choices;
    milori_choices_default(&choices);
    mil_print_tones tones = tones_of(&choices);
    for (int i = 0; i < MIL_PLACES; i += 13) {
        double L = 5 + 95 * (i / 65535.);
        if (fabs(tones.word[i] - 65535 * light_of(L)) > 0.51)
            fail_msg("place %d: word %d, not %g", i, tones.word[i], 65535 * light_of(L));
    }
    mil_print_tones_free(&tones);
}

/* Words never fall, the ends stand, and a word leads back to its place: within half of the places
 * that share it. */
static void round_trip(const milori_choices *choices, int most) {
    mil_print_tones tones = tones_of(choices);
    assert_int_equal(tones.word[MIL_PLACES - 1], 65535);
    assert_int_equal(tones.place[65535], MIL_PLACES - 1);
    assert_int_equal(tones.place[tones.word[0]], 0);
    for (int i = 1; i < MIL_PLACES; i++) {
        assert_true(tones.word[i] >= tones.word[i - 1]);
        assert_true(tones.place[i] >= tones.place[i - 1]);
        if (abs(tones.place[tones.word[i]] - i) > most)
            fail_msg("place %d came back as %d", i, tones.place[tones.word[i]]);
    }
    mil_print_tones_free(&tones);
}

static void test_round_trips(void **state) {
    (void)state;
    static const double cream[2][4] = {{0, 10, 0, 0}, {1, 92, 2, 8}};
    static const double still[4][4] = {
        {0, 10, 0, 0}, {0.3, 50, 20, 0}, {0.7, 50, -20, 0}, {1, 100, 0, 0}};
    milori_choices choices;
    milori_choices_default(&choices);
    /* in the darks 95 L* over 65535 places, 0.0138 L* a word: 9.5 places share one */
    for (choices.palette = MILORI_NEUTRAL; choices.palette <= MILORI_BLUE; choices.palette++)
        round_trip(&choices, 10);
    choices = own_palette(2, cream);
    round_trip(&choices, 10);
    /* lightness stands still over two fifths of it: 2 % of 65535 words for them */
    choices = own_palette(4, still);
    round_trip(&choices, 40);
}

/* A cream palette's lightest is the paper, and the others keep their proportion of it in XYZ
 * (ICC.1, media-relative colours): L* 50 over a paper of L* 92 becomes Y 0.184187 / 0.807085. */
static void test_lightest_is_the_paper(void **state) {
    (void)state;
    static const double cream[3][4] = {{0, 10, 0, 0}, {0.5, 50, 0, 0}, {1, 92, 0, 0}};
    milori_choices choices = own_palette(3, cream);
    double(*lab)[3] = malloc(MIL_PLACES * sizeof *lab);
    assert_int_equal(mil_print_line(ctx, &choices, NULL, lab), MILORI_OK);
    assert_true(lab[MIL_PLACES - 1][0] == 100 && lab[MIL_PLACES - 1][1] == 0);
    double wanted = 116 * cbrt(0.184187 / 0.807085) - 16; /* 54.87 */
    assert_true(fabs((lab[32767][0] + lab[32768][0]) / 2 - wanted) < 0.01);
    free(lab);
}

/* Bare paper is no ink at all, and the codes of sRGB's neutrals are those of IEC 61966-2-1. */
static void test_codes(void **state) {
    (void)state;
    milori_choices choices;
    mil_output *output;
    mil_print_codes codes;
    milori_choices_default(&choices);
    assert_int_equal(mil_output_new_print(ctx, "", MILORI_RELATIVE, true, &output), MILORI_OK);
    assert_int_equal(mil_print_codes_make(ctx, &choices, output, &codes), MILORI_OK);
    assert_int_equal(codes.channels, 3);
    for (int c = 0; c < 3; c++) {
        assert_int_equal(codes.code[3 * (MIL_PLACES - 1) + c], 65535);
        for (int i = 0; i < MIL_PLACES; i += 997) {
            double y = light_of(5 + 95 * (i / 65535.));
            double code = y <= 0.0031308 ? 12.92 * y : 1.055 * pow(y, 1 / 2.4) - 0.055;
            if (fabs(codes.code[3 * i + c] - 65535 * code) > 40) /* lcms2's curve tables */
                fail_msg("place %d: %d, not %g", i, codes.code[3 * i + c], 65535 * code);
        }
    }
    mil_print_codes_free(&codes);
    mil_output_free(output);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_neutral), cmocka_unit_test(test_round_trips),
        cmocka_unit_test(test_lightest_is_the_paper), cmocka_unit_test(test_codes)};
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
