/* Step tablets: their densities as text, and ISO 6846 points of curves. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "print/tablet.h"
#include "tone/test_context.h"

/* 21 steps of 0.15 (a photographic step tablet, seen), 31 of 0.10 and 11 of 0.30 (memory). */
static void even_tablets_are_made(void **state) {
    (void)state;
    static const struct {
        const char *text;
        size_t count;
        double last;
    } cases[] = {{"21x0.15", 21, 3.05}, {"31x0.1", 31, 3.05}, {"11x0.30", 11, 3.05}};
    for (size_t i = 0; i < 3; i++) {
        mil_tablet t;
        assert_int_equal(mil_tablet_parse(ctx, cases[i].text, &t), MILORI_OK);
        assert_int_equal(t.count, cases[i].count);
        assert_true(t.density[0] == 0.05);
        assert_true(fabs(t.density[t.count - 1] - cases[i].last) < 1e-12);
    }
}

static void lists_and_files_are_read(void **state) {
    (void)state;
    mil_tablet t, back;
    assert_int_equal(mil_tablet_parse(ctx, "0.05,0.2;0.36 0.5, 0.66,0.81", &t), MILORI_OK);
    assert_int_equal(t.count, 6);
    assert_true(t.density[2] == 0.36);
    /* A calibration sheet from the dense end. */
    char path[] = "/tmp/milori-tablet-XXXXXX";
    const char text[] =
        "# the tablet in the glasshouse\n0.81\n0.66 # five\r\n0.5\n0.36\n0.2\n0.05\n";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, text, sizeof text - 1), sizeof text - 1);
    close(fd);
    assert_int_equal(mil_tablet_parse(ctx, path, &back), MILORI_OK);
    assert_memory_equal(&back, &t, sizeof t);
    unlink(path);
}

static void no_tablets_are_refused(void **state) {
    (void)state;
    static const char *const cases[][2] = {{"0.05,0.2,0.35,0.5", "5 densities"},
                                           {"0.05,0.2,0.2,0.5,0.65", "rise"},
                                           {"0.05,0.2,0.1,0.5,0.65", "rise"},
                                           {"0,0.2,0.35,0.5,11", "0 to 10"},
                                           {"-1,0.2,0.35,0.5,1", "0 to 10"},
                                           {"2x0.15", "2x0.15"},
                                           {"21x-0.15", "21x-0.15"},
                                           {"21x", "21x"},
                                           {"65x0.1", "65x0.1"},
                                           {"/none/such", "/none/such"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        mil_tablet t;
        assert_int_not_equal(mil_tablet_parse(ctx, cases[i][0], &t), MILORI_OK);
        assert_non_null(strstr(milori_message(ctx), cases[i][1]));
        milori_clear(ctx);
    }
    char many[600] = "0.1";
    for (int i = 0; i < 64; i++)
        snprintf(many + strlen(many), sizeof many - strlen(many), ",%.2f", 0.2 + 0.1 * i);
    mil_tablet t;
    assert_int_not_equal(mil_tablet_parse(ctx, many, &t), MILORI_OK);
    milori_clear(ctx);
}

/* D(x) = 0.10 + 1.40 / (1 + exp(-k (x - x0))): the exposure scale between ISO 6846:1992's
 * points in closed form (computed; REFERENCES.md): at 90 % of Dmax absolute, and net of
 * the base. count steps over 6 log units show both its ends. */
static void closed_forms_come_out(void **state) {
    (void)state;
    static const double cases[3][3] = {
        {3, 1.8822, 1.9079}, {5, 1.1293, 1.1447}, {8, 0.7058, 0.7154}};
    for (int i = 0; i < 3; i++)
        for (double apart = 0.1; apart < 0.16; apart += 0.05) {
            mil_tablet t = {.count = 0};
            double density[MIL_TABLET_MOST], sigma[MIL_TABLET_MOST];
            for (; t.count < 61 && (double)t.count * apart <= 6; t.count++) {
                t.density[t.count] = (double)t.count * apart;
                double x = -t.density[t.count] + 2.83;
                density[t.count] = 0.10 + 1.40 / (1 + exp(-cases[i][0] * x));
                sigma[t.count] = 0.002;
            }
            mil_scale_curve c;
            assert_true(mil_scale_fit(&t, density, sigma, &c));
            assert_true(fabs(c.scale - cases[i][1]) < 0.008);
            assert_true(fabs(c.scale_net - cases[i][2]) < 0.008);
            assert_true(fabs(c.T[1] - 0.14) < 1e-3 && fabs(c.S[1] - 1.35) < 1e-3);
            assert_true(c.sigma > 0.001 && c.sigma < 0.1);
        }
}

/* ISO range R = 100 LER in tens (seen; the rounding from memory). */
static void ranges_are_in_tens(void **state) {
    (void)state;
    assert_int_equal(mil_scale_iso_range(1.8822), 190);
    assert_int_equal(mil_scale_iso_range(1.1293), 110);
    assert_int_equal(mil_scale_iso_range(0.7058), 70);
}

/* Uncertain steps that fall a little are pooled; the stated uncertainty is that of the
 * scale, over 400 draws of noise (computed). */
static void uncertainty_holds(void **state) {
    (void)state;
    mil_tablet t;
    double sum = 0, squares = 0, stated = 0;
    enum { DRAWS = 400 };
    assert_int_equal(mil_tablet_parse(ctx, "31x0.1", &t), MILORI_OK);
    uint64_t seed = 88172645463325252u;
    for (int n = 0; n < DRAWS; n++) {
        double density[MIL_TABLET_MOST], sigma[MIL_TABLET_MOST];
        for (size_t i = 0; i < t.count; i++) {
            double noise = -6; /* of twelve even draws: nearly Gaussian, variance 1 */
            for (int k = 0; k < 12; k++) {
                seed ^= seed << 13;
                seed ^= seed >> 7;
                seed ^= seed << 17;
                noise += (double)(seed >> 11) / 9007199254740992.0;
            }
            density[i] = 0.10 + 1.40 / (1 + exp(6 * (t.density[i] - 1.4))) + 0.004 * noise;
            sigma[i] = 0.004;
        }
        mil_scale_curve c;
        assert_true(mil_scale_fit(&t, density, sigma, &c));
        for (size_t i = 1; i < c.count; i++)
            assert_true(c.point[i][1] >= c.point[i - 1][1]);
        sum += c.scale;
        squares += c.scale * c.scale;
        stated += c.sigma / DRAWS;
    }
    double spread = sqrt(squares / DRAWS - sum / DRAWS * (sum / DRAWS));
    assert_true(spread < 1.3 * stated && spread > 0.5 * stated);
}

static void a_print_of_one_tone_has_no_scale(void **state) {
    (void)state;
    mil_tablet t;
    double density[21], sigma[21];
    assert_int_equal(mil_tablet_parse(ctx, "21x0.15", &t), MILORI_OK);
    for (int i = 0; i < 21; i++) {
        density[i] = 0.2 + 0.0005 * (21 - i);
        sigma[i] = 0.003;
    }
    mil_scale_curve c;
    assert_false(mil_scale_fit(&t, density, sigma, &c));
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(even_tablets_are_made),
                                       cmocka_unit_test(lists_and_files_are_read),
                                       cmocka_unit_test(no_tablets_are_refused),
                                       cmocka_unit_test(closed_forms_come_out),
                                       cmocka_unit_test(ranges_are_in_tens),
                                       cmocka_unit_test(uncertainty_holds),
                                       cmocka_unit_test(a_print_of_one_tone_has_no_scale)};
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
