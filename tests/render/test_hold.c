/* Held amounts: the picture they give is the render's, to the bit. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "render/hold.h"
#include "render_help.h"

static double hills(double x, double y) {
    return 0.5 + 0.4 * sin(x * 0.11) * cos(y * 0.17) + 0.05 * sin(x * 2.1 + y);
}

enum { WIDTH = 120, HEIGHT = 90 };
static const mil_rect tilted = {61.3, 47.8, 90, 60, 0.05};
static const mil_rect upright = {62, 47, 90, 60, 0};

/* All channels of the render. */
typedef struct whole {
    size_t row, rows;
    uint16_t *codes;
} whole;

static milori_status take(void *data, uint32_t count, const uint16_t *codes) {
    whole *w = data;
    memcpy(w->codes + w->rows * w->row, codes, count * w->row * sizeof *codes);
    w->rows += count;
    return MILORI_OK;
}

static void compare(bed *b, const mil_held *held, const mil_plan *plan, const mil_part_rect *part,
                    double scale) {
    uint32_t width, height, held_width, held_height;
    mil_render_size(plan, part, scale, &width, &height);
    mil_held_size(held, &held_width, &held_height);
    assert_int_equal(width, held_width);
    assert_int_equal(height, held_height);
    size_t count = (size_t)width * height * (size_t)plan->channels;
    whole w = {.row = (size_t)width * (size_t)plan->channels,
               .codes = malloc(count * sizeof(uint16_t))};
    uint16_t *codes = malloc(count * sizeof *codes);
    const mil_taker taker = {take, &w};
    assert_int_equal(mil_render(b->ctx, plan, b->measured.source, part, scale, &taker), MILORI_OK);
    assert_int_equal(w.rows, height);
    assert_int_equal(mil_held_render(b->ctx, held, plan, codes), MILORI_OK);
    assert_memory_equal(w.codes, codes, count * sizeof *codes);
    free(w.codes);
    free(codes);
}

/* Every turn and both ways about, at full scale and below, whole and in part; then other tones and
 * colours on what is held. */
static void test_like_the_render(void **state) {
    (void)state;
    const mil_rect *frames[] = {&upright, &tilted};
    const double scales[] = {1, 0.37};
    for (int f = 0; f < 2; f++)
        for (int k = 0; k < 16; k++) {
            bed b;
            bed_make(&b, WIDTH, HEIGHT, *frames[f], hills);
            milori_choices choices;
            milori_choices_default(&choices);
            choices.turn = 90 * (k % 4);
            choices.as_scanned = k & 4;
            const mil_part_rect some = {7, 5, 31, 22}, *part = k & 8 ? &some : NULL;
            mil_plan *plan = bed_plan(&b, &choices);
            for (int i = 0; i < 2; i++) {
                mil_held *held = NULL;
                assert_int_equal(mil_hold(b.ctx, plan, b.measured.source, part, scales[i], &held),
                                 MILORI_OK);
                assert_true(mil_held_fits(held, plan));
                compare(&b, held, plan, part, scales[i]);
                choices.stops = i ? -0.4 : 0.7;
                choices.palette = i ? MILORI_AMBER : MILORI_BLUE;
                assert_int_equal(mil_plan_change(b.ctx, plan, &choices), MILORI_OK);
                assert_true(mil_held_fits(held, plan));
                compare(&b, held, plan, part, scales[i]);
                mil_held_free(held);
            }
            mil_plan_free(plan);
            bed_free(&b);
        }
}

/* A plan changed is the plan made anew, and what lies elsewhere is not taken for the same. */
static void test_changed(void **state) {
    (void)state;
    bed b;
    bed_make(&b, WIDTH, HEIGHT, tilted, hills);
    milori_choices choices;
    milori_choices_default(&choices);
    mil_plan *plan = bed_plan(&b, &choices);
    mil_held *held = NULL;
    assert_int_equal(mil_hold(b.ctx, plan, b.measured.source, NULL, 1, &held), MILORI_OK);
    choices.grade = 4;
    choices.palette = MILORI_BLUE;
    assert_int_equal(mil_plan_change(b.ctx, plan, &choices), MILORI_OK);
    mil_plan *fresh = bed_plan(&b, &choices);
    assert_memory_equal(plan->codes, fresh->codes,
                        (size_t)65536 * (size_t)plan->channels * sizeof *plan->codes);
    kept a = bed_render(&b, plan, NULL, 1), c = bed_render(&b, fresh, NULL, 1);
    assert_memory_equal(a.code, c.code, (size_t)a.width * a.height * sizeof *a.code);
    free(a.code);
    free(c.code);
    choices.turn = 90;
    assert_int_equal(mil_plan_change(b.ctx, plan, &choices), MILORI_OK);
    assert_false(mil_held_fits(held, plan));
    mil_plan_free(plan);
    mil_plan_free(fresh);
    mil_held_free(held);
    bed_free(&b);
}

/* Memory is charged before it is taken, and given back. */
static void test_limit(void **state) {
    (void)state;
    bed b;
    bed_make(&b, WIDTH, HEIGHT, upright, hills);
    milori_choices choices;
    milori_choices_default(&choices);
    mil_plan *plan = bed_plan(&b, &choices);
    mil_held *held = NULL;
    milori_set_memory_limit(b.ctx, 90 * 60 * 4 - 1);
    assert_int_equal(mil_hold(b.ctx, plan, b.measured.source, NULL, 1, &held), MILORI_ERR_LIMIT);
    assert_null(held);
    milori_clear(b.ctx);
    milori_set_memory_limit(b.ctx, 1 << 20);
    for (int i = 0; i < 50; i++) {
        assert_int_equal(mil_hold(b.ctx, plan, b.measured.source, NULL, 1, &held), MILORI_OK);
        mil_held_free(held);
    }
    mil_plan_free(plan);
    bed_free(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_like_the_render),
                                       cmocka_unit_test(test_changed),
                                       cmocka_unit_test(test_limit)};
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
