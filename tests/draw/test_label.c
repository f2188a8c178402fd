/* Words and marks as masks. What letters look like is known from the letters themselves. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "draw/label.h"

static milori_context *ctx;
static mil_font *font;

static int start(void **state) {
    (void)state;
    ctx = milori_context_new();
    return mil_font_open(ctx, &font) == MILORI_OK ? 0 : -1;
}

static int end(void **state) {
    (void)state;
    mil_font_free(font);
    milori_context_free(ctx);
    return 0;
}

static mil_mask label(const char *words, uint32_t height, uint32_t most) {
    mil_mask mask;
    assert_int_equal(mil_label(ctx, font, words, height, most, &mask), MILORI_OK);
    assert_int_equal(mask.height, height);
    return mask;
}

static uint32_t width_of(const char *words, uint32_t height) {
    uint32_t width;
    assert_int_equal(mil_label_width(ctx, font, words, height, &width), MILORI_OK);
    return width;
}

/* Cover of a part of a mask, in px. */
static double ink(const mil_mask *mask, uint32_t x0, uint32_t x1, uint32_t y0, uint32_t y1) {
    double sum = 0;
    for (uint32_t y = y0; y < y1; y++)
        for (uint32_t x = x0; x < x1; x++)
            sum += mask->cover[(size_t)y * mask->width + x] / 255.;
    return sum;
}

/* An L is upright on the left and lies at the foot; p reaches below it, and a capital with an
 * accent is not cut off at the top. */
static void test_letters(void **state) {
    (void)state;
    mil_mask l = label("L", 100, 0);
    uint32_t w = l.width, base = 0;
    assert_in_range(w, 30, 80);
    for (uint32_t y = 0; y < 100; y++)
        if (ink(&l, 0, w, y, y + 1) > 0.5)
            base = y + 1;
    assert_in_range(base, 70, 90);
    assert_true(ink(&l, 0, w / 2, 0, base / 2) > 20 * (ink(&l, w / 2, w, 0, base / 2) + 1));
    assert_true(ink(&l, w / 2, w, base - 12, base) > 20);
    mil_mask p = label("p", 100, 0), a = label("\xc3\x85", 100, 0);
    assert_true(ink(&p, 0, p.width, base + 2, 100) > 20);
    assert_true(ink(&a, 0, a.width, 0, 1) < 5);
    assert_true(ink(&a, 0, a.width, 1, 22) > 20);
    mil_mask_free(&l);
    mil_mask_free(&p);
    mil_mask_free(&a);
}

static void test_width(void **state) {
    (void)state;
    assert_int_equal(width_of("", 30), 0);
    assert_true(width_of("WW", 30) > width_of("ii", 30) + 10);
    mil_mask mask = label("glasshouse", 30, 0);
    assert_int_equal(mask.width, width_of("glasshouse", 30));
    mil_mask_free(&mask);
    /* twice as high is twice as wide, to the rounding of the ends */
    assert_in_range(width_of("glasshouse", 60), 2 * width_of("glasshouse", 30) - 3,
                    2 * width_of("glasshouse", 30) + 3);
}

static void test_too_long(void **state) {
    (void)state;
    mil_mask whole = label("bean poles", 40, 0), cut = label("bean poles", 40, 120);
    assert_true(whole.width > 150);
    assert_in_range(cut.width, 90, 120);
    /* begins as the whole does, and ends in three dots on the line */
    assert_true(ink(&cut, 0, 20, 0, 40) > 10);
    assert_true(ink(&cut, cut.width - 30, cut.width, 0, 24) < 1);
    assert_true(ink(&cut, cut.width - 30, cut.width, 24, 40) > 5);
    mil_mask_free(&whole);
    mil_mask_free(&cut);
    mil_mask fits = label("bean", 40, 400);
    assert_int_equal(fits.width, width_of("bean", 40));
    mil_mask_free(&fits);
    mil_mask none = label("bean", 40, 1);
    assert_int_equal(none.width, 1);
    mil_mask_free(&none);
}

/* A name whose bytes are no UTF-8 stands as messages show it. */
static void test_bytes(void **state) {
    (void)state;
    assert_int_equal(width_of("a\xff", 30), width_of("a\\xff", 30));
    assert_int_equal(width_of("\xe2\x82\xac", 30), width_of("\xe2\x82\xac", 30));
    assert_true(width_of("\xc3\xa9", 30) < width_of("\\xc3\\xa9", 30));
    assert_int_equal(mil_label_width(ctx, font, "a", 0, &(uint32_t){0}), MILORI_ERR_ARGUMENT);
    milori_clear(ctx);
}

static void test_mask(void **state) {
    (void)state;
    mil_mask mask;
    assert_int_equal(mil_mask_new(ctx, 3, 2, &mask), MILORI_OK);
    memcpy(mask.cover, "\1\2\3\4\5\6", 6);
    mil_mask_mirror(&mask);
    assert_memory_equal(mask.cover, "\3\2\1\6\5\4", 6);
    assert_int_equal(mil_mask_turn(ctx, &mask), MILORI_OK);
    assert_int_equal(mask.width, 2);
    assert_int_equal(mask.height, 3);
    assert_memory_equal(mask.cover, "\6\3\5\2\4\1", 6);
    mil_mask_free(&mask);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_letters), cmocka_unit_test(test_width),
                                       cmocka_unit_test(test_too_long),
                                       cmocka_unit_test(test_bytes), cmocka_unit_test(test_mask)};
    return cmocka_run_group_tests(tests, start, end);
}
