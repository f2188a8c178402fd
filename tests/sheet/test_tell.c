/* What a sheet tells its maker, on sheets made of known amounts (coated_sheet.h). The source of
 * each figure stands beside its check. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "sheet/coated_look.h"
#include "sheet/tell.h"

static double density(double ks) {
    return -log10(1 + ks - sqrt(ks * ks + 2 * ks));
}

/* light = -most ln(1 - strength / most): computed. */
static void stops_by_arithmetic(void **state) {
    (void)state;
    assert_true(fabs(mil_tell_light(1, 2) - 2 * log(2)) < 1e-12);
    assert_true(fabs(mil_tell_next(1, 4)) < 1e-12);
    assert_true(fabs(mil_tell_next(2, 4) - log2(log(4.0 / 3) / log(2))) < 1e-12);
    assert_true(fabs(mil_tell_next(0.8, 4) - log2(log(4.0 / 3) / log(1.25))) < 1e-12);
    /* Small amounts are in proportion to the light. */
    assert_true(fabs(mil_tell_next(0.001, 3) - mil_tell_next(0.002, 3) - 1) < 1e-3);
    /* What cannot be is no infinite number of stops. */
    assert_true(isfinite(mil_tell_next(9, 3)) && isfinite(mil_tell_next(1e-9, 3)));
}

static void verdicts_at_their_limits(void **state) {
    (void)state;
    double limits[2];
    mil_tell_right(3, 0, 0, limits);
    assert_true(fabs(limits[0] - 0.45) < 1e-12 && fabs(limits[1] - 1.2) < 1e-12);
    assert_int_equal(mil_tell_exposure(0.44, limits), MILORI_EXPOSURE_SHORT);
    assert_int_equal(mil_tell_exposure(0.46, limits), MILORI_EXPOSURE_RIGHT);
    assert_int_equal(mil_tell_exposure(1.19, limits), MILORI_EXPOSURE_RIGHT);
    assert_int_equal(mil_tell_exposure(1.21, limits), MILORI_EXPOSURE_LONG);
    assert_int_equal(mil_tell_exposure(NAN, limits), MILORI_EXPOSURE_UNKNOWN);
    /* Fog and grain ask for more light, but never for more than is aimed at: what is called short
     * always wants at least a quarter of a stop. */
    mil_tell_right(3, 0.12, 0, limits);
    assert_true(fabs(limits[0] - 0.48) < 1e-12);
    mil_tell_right(3, 0, 0.008, limits);
    assert_true(fabs(limits[0] - 0.512) < 1e-12);
    mil_tell_right(3, 9, 9, limits);
    assert_true(mil_tell_next(limits[0], 3) > 0.25);
}

static void words_for_fog(void **state) {
    (void)state;
    const struct {
        double value, sigma;
        milori_tarnish word;
    } cases[] = {{0.03, 0.03, MILORI_FRESH},           {0.12, 0.08, MILORI_FRESH},
                 {0.12, 0.03, MILORI_SLIGHTLY_FOGGED}, {0.15, 0.08, MILORI_SLIGHTLY_FOGGED},
                 {0.15, 0.03, MILORI_CLEARLY_FOGGED},  {0.23, 0.08, MILORI_CLEARLY_FOGGED},
                 {NAN, 0.03, MILORI_TARNISH_UNKNOWN}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        milori_value fog = {cases[i].value, cases[i].sigma, MILORI_FOUND};
        assert_int_equal(mil_tell_tarnish(&fog), cases[i].word);
    }
}

/* Three minutes and a quarter of an hour in the same light: a fifth of the dye, so 2.3 stops.
 * Common practice, no source: print-out density grows in proportion to exposure while it is small.
 */
static void three_minutes_against_a_quarter_of_an_hour(void **state) {
    (void)state;
    double next[2], sigma[2];
    for (int n = 0; n < 2; n++) {
        coated_sheet sheet = coated_usual();
        sheet.strength = n ? 0.3 : 0.06;
        coated_look k = coated_open(&sheet);
        next[n] = k.s.told.next.value;
        sigma[n] = k.s.told.next.sigma;
        assert_int_equal(k.s.told.exposure, MILORI_EXPOSURE_SHORT);
        coated_close(&k);
    }
    print_message("short by %.2f and %.2f stops, apart by %.2f\n", next[0], next[1],
                  next[0] - next[1]);
    assert_true(fabs(next[0] - next[1] - log2(5)) < 0.25);
    assert_true(sigma[0] > 0.3 && sigma[0] < 1);
}

static void deep_and_pale_sheets(void **state) {
    (void)state;
    const struct {
        double strength;
        milori_exposure verdict;
    } cases[] = {
        {0.1, MILORI_EXPOSURE_SHORT}, {0.8, MILORI_EXPOSURE_RIGHT}, {2.2, MILORI_EXPOSURE_LONG}};
    double before = 1;
    for (int n = 0; n < 3; n++) {
        coated_sheet sheet = coated_usual();
        sheet.strength = cases[n].strength;
        coated_look k = coated_open(&sheet);
        print_message("K/S %.2f: seen %.2f of %.2f, next %+.2f\n", cases[n].strength,
                      k.s.told.strength.value, k.s.told.most.value, k.s.told.next.value);
        assert_int_equal(k.s.told.exposure, cases[n].verdict);
        assert_true(fabs(log2(k.s.told.strength.value / cases[n].strength)) < 0.6);
        assert_true(k.s.told.tones.value > before);
        before = n < 1 ? k.s.told.tones.value : 1;
        coated_close(&k);
    }
}

/* Fog that adds 0.2 to the margin's red density, by Kubelka and Munk; bare paper is seen. */
static void fog_is_told(void **state) {
    (void)state;
    for (int fogged = 0; fogged < 2; fogged++) {
        coated_sheet sheet = coated_usual();
        double clear = COATED_PAPER[0] + COATED_YELLOW[0];
        sheet.bare = 2.5;
        while (fogged && density(clear + sheet.fog) < density(clear) + 0.2)
            sheet.fog += 1e-4;
        coated_look k = coated_open(&sheet);
        assert_int_equal(k.s.fog_density.origin, MILORI_FOUND);
        assert_int_equal(mil_tell_tarnish(&k.s.fog_density),
                         fogged ? MILORI_CLEARLY_FOGGED : MILORI_FRESH);
        coated_close(&k);
    }
}

/* The brush's streaks, as they were put in. */
static void uneven_coats(void **state) {
    (void)state;
    const double streaks[3] = {0.04, 0.08, 0.16};
    for (int n = 0; n < 3; n++) {
        coated_sheet sheet = coated_usual();
        sheet.streaks = streaks[n];
        coated_look k = coated_open(&sheet);
        milori_value told = k.s.told.uneven;
        print_message("uneven by %.0f %%: %.1f, give or take %.1f\n", 100 * streaks[n], told.value,
                      told.sigma);
        assert_true(fabs(told.value - 100 * streaks[n]) < 2 * told.sigma);
        assert_true(told.sigma < 0.3 * 100 * streaks[n]);
        coated_close(&k);
    }
}

/* Tones of a sheet whose grain is the scanner's noise alone, which is white: its deviation in
 * density is noise / (R ln 10) a channel and px, mixed as the separation mixes, and over 0.1 mm it
 * is less in proportion to the side. Summed along the tones in small steps (computed). */
static double tones_of(const coated_look *k, double noise, double dark, double light) {
    enum { STEPS = 400 };
    double count = 1, before = 0;
    for (int i = 0; i <= STEPS; i++) {
        double dye = dark + (light - dark) * i / STEPS, variance = 0, z = 0;
        for (int c = 0; c < 3; c++) {
            double ks = COATED_PAPER[c] + COATED_YELLOW[c] + dye * COATED_IMAGE[c];
            double here = density(ks), grain = noise / (pow(10, -here) * log(10));
            z += k->s.mix[c] * here;
            variance += pow(k->s.mix[c] * grain, 2);
        }
        if (i > 0)
            count += (z - before) / (2.77 * sqrt(variance) * COATED_PX / 0.1);
        before = z;
    }
    return count;
}

static int by_size(const void *a, const void *b) {
    float x = *(const float *)a, y = *(const float *)b;
    return (x > y) - (x < y);
}

/* The light that a share of the frame's cells lies below. */
static double light_at(const coated_look *k, double share) {
    size_t n = 0;
    float *light = coated_plane(k);
    for (size_t i = 0; i < k->cells; i++)
        if (k->part[i] == MIL_FRAME)
            light[n++] = k->scan.light[i];
    qsort(light, n, sizeof *light, by_size);
    double found = light[(size_t)(share * (double)(n - 1))];
    free(light);
    return found;
}

static void tones_apart_from_white_noise(void **state) {
    (void)state;
    double told[2];
    for (int n = 0; n < 2; n++) {
        coated_sheet sheet = coated_usual();
        sheet.streaks = sheet.texture = 0;
        sheet.noise = n ? 0.016 : 0.008;
        coated_look k = coated_open(&sheet);
        /* Four in a hundred cells are darker, two lighter than the tones that count. */
        double want = tones_of(&k, sheet.noise, sheet.strength * light_at(&k, 0.04),
                               sheet.strength * light_at(&k, 0.98));
        told[n] = k.s.told.tones.value;
        print_message("noise %.3f: %.1f tones, by the noise put in %.1f\n", sheet.noise, told[n],
                      want);
        assert_true(fabs(told[n] / want - 1) < 0.2);
        coated_close(&k);
    }
    assert_true(fabs((told[0] - 1) / (told[1] - 1) - 2) < 0.3);
}

static void a_grey_scan_tells_less(void **state) {
    (void)state;
    coated_sheet sheet = coated_usual();
    sheet.channels = 1;
    coated_look k = coated_open(&sheet);
    assert_true(isnan(k.s.told.uneven.value) && isnan(k.s.told.next.value));
    assert_true(isnan(k.s.told.most.value));
    assert_int_equal(k.s.told.exposure, MILORI_EXPOSURE_UNKNOWN);
    assert_true(k.s.told.tones.value > 1 && k.s.told.strength.value > 0);
    coated_close(&k);
}

/* Nothing but paper, and a scan without margin: numbers or none, never an odd one. */
static void sheets_that_tell_nothing(void **state) {
    (void)state;
    for (int n = 0; n < 2; n++) {
        coated_sheet sheet = coated_usual();
        sheet.picture = n ? coated_clouds : coated_nothing;
        sheet.margin = n ? 0 : sheet.margin;
        coated_look k = coated_open(&sheet);
        const milori_value *values[] = {&k.s.told.strength, &k.s.told.most, &k.s.told.tones,
                                        &k.s.told.uneven, &k.s.told.next};
        for (size_t i = 0; i < sizeof values / sizeof *values; i++)
            assert_false(isinf(values[i]->value) || isinf(values[i]->sigma));
        if (!n)
            assert_int_not_equal(k.s.told.exposure, MILORI_EXPOSURE_RIGHT);
        coated_close(&k);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stops_by_arithmetic),
        cmocka_unit_test(verdicts_at_their_limits),
        cmocka_unit_test(words_for_fog),
        cmocka_unit_test(three_minutes_against_a_quarter_of_an_hour),
        cmocka_unit_test(deep_and_pale_sheets),
        cmocka_unit_test(fog_is_told),
        cmocka_unit_test(uneven_coats),
        cmocka_unit_test(tones_apart_from_white_noise),
        cmocka_unit_test(a_grey_scan_tells_less),
        cmocka_unit_test(sheets_that_tell_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
