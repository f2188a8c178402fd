/* The tone's tables against the tone itself. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>

#include "render/tones.h"

static mil_tone tone_of(double noise, double grade, double soft, double veil) {
    mil_scale scale = {.dark = 0.03, .light = 1, .middle = 0.25, .noise = noise, .grain = noise};
    milori_choices choices;
    milori_choices_default(&choices);
    choices.grade = grade;
    choices.soften_shadows = choices.soften_lights = soft;
    mil_tone tone;
    mil_tone_resolve(&scale, &choices, veil, 3, &tone);
    return tone;
}

static const double shifts[] = {0, 1, -2.5};

/* Largest difference from the tone itself, of 65535, over amounts a picture holds. */
static double worst(const mil_tone *tone, bool dodge) {
    milori_context *ctx = milori_context_new();
    mil_tones tones;
    double most = 0;
    assert_int_equal(mil_tones_make(ctx, tone, 1, dodge, &tones), MILORI_OK);
    for (size_t s = 0; s < (dodge ? 3 : 1); s++)
        for (int i = 0; i < 20000; i++) {
            float amount = (float)(-8 * tone->floor + 3 * pow(i / 20000.0, 3));
            float stops = (float)shifts[s];
            uint16_t place;
            mil_tones_row(&tones, &amount, dodge ? &stops : NULL, 1, &place);
            double want = mil_tone_place(tone, mil_tone_light(tone, amount) + stops);
            most = fmax(most, fabs(place - 65535 * want));
        }
    mil_tones_free(&tones);
    milori_context_free(ctx);
    return most;
}

static void tables_are_the_tone(void **state) {
    (void)state;
    const double noise[] = {0.001, 0.02, 0.2}, grades[] = {NAN, 0, 5}, soft[] = {0, 1},
                 veils[] = {0, 20};
    double most = 0;
    for (int n = 0; n < 3; n++)
        for (int g = 0; g < 3; g++)
            for (int s = 0; s < 2; s++)
                for (int v = 0; v < 2; v++) {
                    mil_tone tone = tone_of(noise[n], grades[g], soft[s], veils[v]);
                    most = fmax(most, worst(&tone, false));
                    most = fmax(most, worst(&tone, true));
                }
    print_message("tables differ from the tone by %.2f of 65535 at most\n", most);
    assert_true(most < 4);
}

static void beyond_the_ends(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_tone tone = tone_of(0.01, NAN, 0, 0);
    mil_tones tones;
    assert_int_equal(mil_tones_make(ctx, &tone, 1, false, &tones), MILORI_OK);
    const float amounts[] = {NAN, -INFINITY, -1e30f, -5, 1e5f, 1e30f, INFINITY};
    uint16_t place[7];
    mil_tones_row(&tones, amounts, NULL, 7, place);
    for (int i = 0; i < 4; i++)
        assert_int_equal(place[i], 0);
    for (int i = 4; i < 7; i++)
        assert_in_range(place[i], 65530, 65535);
    mil_tones_free(&tones);
    milori_context_free(ctx);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(tables_are_the_tone),
                                       cmocka_unit_test(beyond_the_ends)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
