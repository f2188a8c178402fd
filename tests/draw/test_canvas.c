/* The page: small in memory, large in a file, the same in both. Computed: what each pixel must be
 * follows from the order of drawing. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include <cmocka.h>

#include "draw/canvas.h"

static const uint16_t paper[3] = {65535, 60000, 17}, red[3] = {40000, 1, 65535};

static mil_canvas *canvas_of(milori_context *ctx, uint32_t width, uint32_t height) {
    mil_canvas *canvas;
    assert_int_equal(mil_canvas_new(ctx, width, height, 3, paper, &canvas), MILORI_OK);
    return canvas;
}

static void pixel(mil_canvas *canvas, uint32_t x, uint32_t y, uint16_t code[3]) {
    uint16_t *row = malloc((size_t)mil_canvas_width(canvas) * 3 * sizeof *row);
    assert_int_equal(mil_canvas_get(canvas, y, 1, row), MILORI_OK);
    memcpy(code, row + (size_t)3 * x, 3 * sizeof *code);
    free(row);
}

static void assert_pixel(mil_canvas *canvas, uint32_t x, uint32_t y, const uint16_t wanted[3]) {
    uint16_t code[3];
    pixel(canvas, x, y, code);
    assert_memory_equal(code, wanted, sizeof code);
}

/* Drawn at all four edges and beyond; 4000 x 900 x 3 codes are more than is held in memory. */
static void draws(uint32_t width, uint32_t height) {
    milori_context *ctx = milori_context_new();
    mil_canvas *canvas = canvas_of(ctx, width, height);
    uint16_t codes[5 * 4 * 3];
    for (uint16_t i = 0; i < 60; i++)
        codes[i] = (uint16_t)(1000 * i);
    mil_canvas_put(canvas, -2, -1, 5, 4, codes);
    mil_canvas_put(canvas, (int64_t)width - 2, (int64_t)height - 1, 5, 4, codes);
    mil_canvas_put(canvas, INT32_MIN, 0, 5, 4, codes);
    mil_canvas_put(canvas, 0, (int64_t)height, 5, 4, codes);
    mil_canvas_fill(canvas, 10, 5, 3, 2, red);
    mil_canvas_put(canvas, 11, 5, 1, 1, codes);
    assert_pixel(canvas, 0, 0, codes + (5 + 2) * 3);
    assert_pixel(canvas, 2, 2, codes + (3 * 5 + 4) * 3);
    assert_pixel(canvas, 3, 2, paper);
    assert_pixel(canvas, width - 2, height - 1, codes);
    assert_pixel(canvas, width - 1, height - 1, codes + 3);
    assert_pixel(canvas, width - 3, height - 1, paper);
    assert_pixel(canvas, 10, 6, red);
    assert_pixel(canvas, 11, 5, codes);
    assert_pixel(canvas, 12, 6, red);
    assert_pixel(canvas, 13, 6, paper);
    assert_pixel(canvas, 0, height - 1, paper);
    mil_canvas_free(canvas);
    milori_context_free(ctx);
}

static void test_small(void **state) {
    (void)state;
    draws(40, 9);
    draws(300, 400);
}

static void test_large(void **state) {
    (void)state;
    draws(4000, 900);
}

/* Cover c of 255 takes c / 255 of the way, to the nearest code. */
static void test_ink(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_canvas *canvas = canvas_of(ctx, 6, 2);
    mil_mask mask;
    assert_int_equal(mil_mask_new(ctx, 3, 1, &mask), MILORI_OK);
    mask.cover[1] = 255;
    mask.cover[2] = 51;
    mil_canvas_ink(canvas, 4, 1, &mask, red); /* its last px falls off the page */
    mil_canvas_ink(canvas, 1, 0, &mask, red);
    assert_pixel(canvas, 4, 1, paper);
    assert_pixel(canvas, 5, 1, red);
    assert_pixel(canvas, 1, 0, paper);
    assert_pixel(canvas, 2, 0, red);
    /* 51 is a fifth: 65535 - 25535 / 5, 60000 - 59999 / 5 rounded, 17 + 65518 / 5 rounded */
    const uint16_t fifth[3] = {60428, 48000, 13121};
    assert_pixel(canvas, 3, 0, fifth);
    mil_mask_free(&mask);
    mil_canvas_free(canvas);
    milori_context_free(ctx);
}

static void test_refusals(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_canvas *canvas;
    uint16_t row[3];
    assert_int_equal(mil_canvas_new(ctx, 0, 5, 3, paper, &canvas), MILORI_ERR_ARGUMENT);
    milori_clear(ctx);
    assert_int_equal(mil_canvas_new(ctx, UINT32_MAX, UINT32_MAX, 3, paper, &canvas),
                     MILORI_ERR_LIMIT);
    assert_non_null(strstr(milori_message(ctx), "--pixels"));
    milori_clear(ctx);
    canvas = canvas_of(ctx, 1, 5);
    assert_int_equal(mil_canvas_get(canvas, 5, 1, row), MILORI_ERR_ARGUMENT);
    mil_canvas_free(canvas);
    milori_clear(ctx);
    setenv("TMPDIR", "/nowhere/at/all", 1);
    assert_int_equal(mil_canvas_new(ctx, 4000, 4000, 3, paper, &canvas), MILORI_ERR_WRITE);
    assert_non_null(strstr(milori_message(ctx), "TMPDIR"));
    unsetenv("TMPDIR");
    milori_context_free(ctx);
}

/* A disk that fills up while drawing is told when the rows are read. */
static void test_full_disk(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_canvas *canvas = canvas_of(ctx, 4000, 900);
    struct rlimit before, small = {1 << 16, 0};
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    small.rlim_max = before.rlim_max;
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
    mil_canvas_fill(canvas, 0, 800, 4000, 1, red);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    uint16_t *row = malloc(4000 * 3 * sizeof *row);
    assert_int_equal(mil_canvas_get(canvas, 0, 1, row), MILORI_ERR_WRITE);
    free(row);
    mil_canvas_free(canvas);
    milori_context_free(ctx);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_small), cmocka_unit_test(test_large),
                                       cmocka_unit_test(test_ink), cmocka_unit_test(test_refusals),
                                       cmocka_unit_test(test_full_disk)};
    signal(SIGXFSZ, SIG_IGN);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
