/* Uneven coat and light taken off: levels and surface are known here. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "print/target_view.h"

static const mil_target CHART = {
    .kind = MIL_TARGET_TONE, .columns = 12, .rows = 17, .levels = 29, .seed = 2};

static double level_of(double ink) {
    return 20 + 65 / (1 + exp(-9 * (ink - 0.45)));
}

/* How far light moves a tone: most where the curve is steepest. */
static double moved(double ink) {
    return 0.2 + 1.2 * exp(-12 * (ink - 0.45) * (ink - 0.45));
}

static double surface(double x, double y) {
    double u = x / 60 - 1, v = y / 85 - 1;
    /* of mean nought: what is even over the sheet is the exposure, and stays */
    return 2.2 * u - 1.5 * v - 1.2 * (u * u + v * v - 2. / 3);
}

/* A sum of twelve even ones less six: about normal, of deviation 1. */
static double noise(uint64_t *random) {
    double sum = -6;
    for (int i = 0; i < 12; i++)
        sum += (double)(mil_target_random(random) >> 11) / 9007199254740992.0;
    return sum;
}

static mil_patches made(double spread, size_t *spoiled) {
    mil_patches p = {.count = (size_t)CHART.columns * (size_t)CHART.rows, .levels = CHART.levels};
    uint64_t random = 77;
    p.patch = calloc(p.count, sizeof *p.patch);
    assert_non_null(p.patch);
    *spoiled = 0;
    for (size_t i = 0; i < p.count; i++) {
        int column = (int)i % CHART.columns, row = (int)i / CHART.columns;
        mil_target_cell cell = mil_target_cell_at(&CHART, column, row);
        mil_patch *q = &p.patch[i];
        *q = (mil_patch){.ink = cell.ink,
                         .group = cell.group,
                         .x_mm = column * 10 + 5,
                         .y_mm = row * 10 + 5,
                         .used = true};
        q->L =
            level_of(q->ink) + moved(q->ink) * surface(q->x_mm, q->y_mm) + spread * noise(&random);
        if (i % 41 == 7) { /* stains, lighter and darker */
            q->L += i % 2 ? 9 : -9;
            (*spoiled)++;
        }
    }
    return p;
}

static void surface_and_stains_are_taken_off(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    size_t spoiled, left_out = 0, n = 0;
    mil_patches p = made(0.4, &spoiled);
    double squares = 0, before = 0;
    for (size_t i = 0; i < p.count; i++)
        before += pow(p.patch[i].L - level_of(p.patch[i].ink), 2) / (double)p.count;
    assert_int_equal(mil_patches_even(ctx, &CHART, &p), MILORI_OK);
    for (size_t i = 0; i < p.count; i++) {
        left_out += !p.patch[i].used;
        if (!p.patch[i].used) {
            assert_string_equal(p.patch[i].why, "unlike its repeats");
            continue;
        }
        squares += pow(p.patch[i].L - level_of(p.patch[i].ink), 2);
        n++;
    }
    assert_true(before > 4); /* 2 L* and stains */
    assert_true(left_out >= spoiled && left_out <= spoiled + 3);
    assert_true(sqrt(squares / (double)n) < 0.75); /* noise of 0.4, levels of 7 */
    assert_true(fabs(p.repeat_sigma - 0.4) < 0.15);
    assert_true(p.uneven > 3 && p.uneven < 12);
    mil_patches_free(&p);
    milori_context_free(ctx);
}

/* The stated uncertainty of a patch is about the noise that was put in. */
static void sigma_tells_the_noise(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    for (int k = 1; k <= 3; k++) {
        size_t spoiled;
        mil_patches p = made(0.4 * k, &spoiled);
        double mean = 0;
        assert_int_equal(mil_patches_even(ctx, &CHART, &p), MILORI_OK);
        for (size_t i = 0; i < p.count; i++)
            mean += p.patch[i].sigma / (double)p.count;
        assert_true(mean > 0.7 * 0.4 * k && mean < 1.4 * 0.4 * k);
        mil_patches_free(&p);
    }
    milori_context_free(ctx);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(surface_and_stains_are_taken_off),
                                       cmocka_unit_test(sigma_tells_the_noise)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
