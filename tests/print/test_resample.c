/* Resampling in linear light and sharpening of lightness, against closed forms. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "colour/lab.h"
#include "draw/canvas.h"
#include "print/resample.h"
#include "print/sharpen.h"
#include "tone/test_context.h"

static const double PI = 3.14159265358979323846;

/* Rows gathered into one picture. */
typedef struct gathered {
    uint32_t width, height, rows;
    uint16_t *words;
} gathered;

static milori_status gather(void *data, uint32_t count, const uint16_t *rows) {
    gathered *g = data;
    assert_true(g->rows + count <= g->height);
    memcpy(g->words + (size_t)g->rows * g->width, rows, (size_t)count * g->width * 2);
    g->rows += count;
    return MILORI_OK;
}

static gathered room_for(uint32_t width, uint32_t height) {
    gathered g = {width, height, 0, malloc((size_t)width * height * 2)};
    assert_non_null(g.words);
    return g;
}

static mil_canvas *drawn(uint32_t width, uint32_t height, double (*f)(double x, double y)) {
    static const uint16_t dark = 0;
    mil_canvas *canvas;
    assert_int_equal(mil_canvas_new(ctx, width, height, 1, &dark, &canvas), MILORI_OK);
    uint16_t *row = malloc(width * sizeof *row);
    for (uint32_t y = 0; y < height; y++) {
        for (uint32_t x = 0; x < width; x++)
            row[x] = (uint16_t)(65535 * f(x + 0.5, y + 0.5) + 0.5);
        mil_canvas_put(canvas, 0, y, width, 1, row);
    }
    free(row);
    return canvas;
}

static gathered resampled(mil_canvas *canvas, const mil_part_rect *part, uint32_t width,
                          uint32_t height) {
    gathered g = room_for(width, height);
    const mil_taker taker = {gather, &g};
    milori_status status = mil_print_resample(ctx, canvas, part, width, height, &taker);
    if (status != MILORI_OK)
        fail_msg("%s", milori_message(ctx));
    assert_int_equal(g.rows, height);
    return g;
}

/* ---- resampling ----------------------------------------------------------------- */

static double checker(double x, double y) {
    return ((int)x + (int)y) & 1;
}

/* A chessboard of single px, half its area white, has Y 0.5 from afar: L* 76.07 (ISO/CIE
 * 11664-4), whatever the ratio. Averaged in codes it would come out near L* 53. */
static void test_checker(void **state) {
    (void)state;
    static const uint32_t sizes[][2] = {{50, 40}, {57, 43}, {111, 97}, {16, 9}};
    mil_canvas *canvas = drawn(400, 320, checker);
    for (size_t k = 0; k < sizeof sizes / sizeof *sizes; k++) {
        gathered g = resampled(canvas, NULL, sizes[k][0], sizes[k][1]);
        for (uint32_t y = 1; y + 1 < g.height; y++)
            for (uint32_t x = 1; x + 1 < g.width; x++) {
                double L = mil_lightness(g.words[y * g.width + x] / 65535.);
                if (fabs(L - 76.069) > 0.3)
                    fail_msg("%u x %u: L* %.3f at %u %u", g.width, g.height, L, x, y);
            }
        free(g.words);
    }
    mil_canvas_free(canvas);
}

static double even(double x, double y) {
    (void)x;
    (void)y;
    return 0.7;
}

static double paper(double x, double y) {
    (void)x;
    (void)y;
    return 1;
}

/* What is even stays so to the word, bare paper too. */
static void test_even(void **state) {
    (void)state;
    static const uint32_t sizes[][2] = {{300, 200}, {301, 199}, {77, 33}, {711, 505}};
    for (int k = 0; k < 8; k++) {
        mil_canvas *canvas = drawn(300, 200, k < 4 ? even : paper);
        gathered g = resampled(canvas, NULL, sizes[k % 4][0], sizes[k % 4][1]);
        uint16_t word = k < 4 ? 45875 : 65535; /* 0.7 x 65535 = 45874.5 */
        for (size_t i = 0; i < (size_t)g.width * g.height; i++)
            assert_int_equal(g.words[i], word);
        free(g.words);
        mil_canvas_free(canvas);
    }
}

/* Waves of 24 and 30 px: the print's px at u is the wave there, to 0.3 %, larger and smaller. */
static double waves(double x, double y) {
    return 0.5 + 0.2 * cos(2 * PI * x / 24) + 0.2 * sin(2 * PI * y / 30);
}

static void test_waves(void **state) {
    (void)state;
    static const uint32_t sizes[][2] = {{411, 274}, {1000, 530}, {300, 201}, {240, 100}};
    mil_canvas *canvas = drawn(300, 200, waves);
    for (size_t k = 0; k < sizeof sizes / sizeof *sizes; k++) {
        gathered g = resampled(canvas, NULL, sizes[k][0], sizes[k][1]);
        double sx = 300. / g.width, sy = 200. / g.height;
        for (uint32_t y = 0; y < g.height; y++)
            for (uint32_t x = 0; x < g.width; x++) {
                double u = (x + 0.5) * sx, v = (y + 0.5) * sy;
                if (u < 8 || v < 8 || u > 292 || v > 192)
                    continue; /* beyond the edge nothing is known */
                double got = g.words[(size_t)y * g.width + x] / 65535.;
                if (fabs(got - waves(u, v)) > 0.003)
                    fail_msg("%u x %u: %.4f, not %.4f at %u %u", g.width, g.height, got,
                             waves(u, v), x, y);
            }
        free(g.words);
    }
    mil_canvas_free(canvas);
}

/* A part has what the whole has there: bands and parts cannot be told in the print. */
static void test_parts(void **state) {
    (void)state;
    mil_canvas *canvas = drawn(300, 900, waves);
    gathered whole = resampled(canvas, NULL, 600, 1800);
    const mil_part_rect part = {100, 250, 120, 400};
    gathered g = resampled(canvas, &part, 240, 800);
    for (uint32_t y = 0; y < g.height; y++)
        for (uint32_t x = 0; x < g.width; x++) {
            int there = whole.words[(size_t)(y + 500) * 600 + x + 200];
            int here = g.words[(size_t)y * 240 + x];
            if (abs(there - here) > 3)
                fail_msg("%d, not %d at %u %u", here, there, x, y);
        }
    free(g.words);
    free(whole.words);
    const mil_part_rect outside = {200, 0, 120, 10};
    const mil_taker taker = {gather, NULL};
    assert_int_equal(mil_print_resample(ctx, canvas, &outside, 10, 10, &taker),
                     MILORI_ERR_ARGUMENT);
    milori_clear(ctx);
    mil_canvas_free(canvas);
}

/* Same size, nothing to do: the very words, also in rows of an odd number of bytes. */
static void test_unchanged(void **state) {
    (void)state;
    mil_canvas *canvas = drawn(37, 61, waves);
    gathered g = resampled(canvas, NULL, 37, 61);
    uint16_t row[37];
    for (uint32_t y = 0; y < 61; y++) {
        assert_int_equal(mil_canvas_get(canvas, y, 1, row), MILORI_OK);
        assert_memory_equal(row, g.words + 37 * y, sizeof row);
    }
    free(g.words);
    mil_canvas_free(canvas);
}

/* ---- sharpening ------------------------------------------------------------------ */

static gathered sharpened(const uint16_t *words, uint32_t width, uint32_t height, double sigma) {
    gathered g = room_for(width, height);
    const mil_taker to = {gather, &g};
    mil_sharpen *sharpen;
    assert_int_equal(mil_sharpen_new(ctx, width, height, sigma, &to, &sharpen), MILORI_OK);
    mil_taker taker = mil_sharpen_taker(sharpen);
    for (uint32_t y = 0; y < height; y += 3) {
        uint32_t n = height - y < 3 ? height - y : 3;
        assert_int_equal(taker.rows(taker.data, n, words + (size_t)y * width), MILORI_OK);
    }
    mil_sharpen_free(sharpen);
    assert_int_equal(g.rows, height);
    return g;
}

/* A step from L* 40 to 60, upright or lying: the blur of a step is the normal distribution, so d =
 * L - blur is known, and what is added is d / (1 + |d| / 8). */
static void step_across(uint32_t width, uint32_t height, bool lying) {
    const double sigma = 4;
    uint16_t *words = malloc((size_t)width * height * 2);
    uint32_t half = (lying ? height : width) / 2;
    for (uint32_t i = 0; i < width * height; i++)
        words[i] =
            (uint16_t)(65535 * mil_luminance((lying ? i / width : i % width) < half ? 40 : 60) +
                       .5);
    gathered g = sharpened(words, width, height, sigma);
    for (uint32_t i = 0; i < width * height; i++) {
        double at = (lying ? i / width : i % width) + 0.5 - half, L = at < 0 ? 40 : 60;
        double d = L - (50 + 10 * erf(at / sigma / sqrt(2)));
        double wanted = L + d / (1 + fabs(d) / 8);
        double got = mil_lightness(g.words[i] / 65535.);
        if (fabs(got - wanted) > 0.1)
            fail_msg("L* %.3f, not %.3f at %g", got, wanted, at);
    }
    free(words);
    free(g.words);
}

static void test_sharpened_step(void **state) {
    (void)state;
    step_across(80, 40, false);
    step_across(40, 80, true);
    step_across(90, 5, false); /* fewer rows than the blur reaches */
    step_across(5, 90, true);
}

/* What is even is not touched, to the word; black and white stay in their bounds. */
static void test_sharpened_even(void **state) {
    (void)state;
    static const uint16_t levels[] = {0, 1, 77, 3000, 45000, 65534, 65535};
    uint16_t words[20 * 30];
    for (size_t k = 0; k < sizeof levels / sizeof *levels; k++) {
        for (int i = 0; i < 600; i++)
            words[i] = levels[k];
        gathered g = sharpened(words, 20, 30, 2.5);
        assert_memory_equal(g.words, words, sizeof words);
        free(g.words);
    }
    for (int i = 0; i < 600; i++)
        words[i] = i % 20 < 10 ? 0 : 65535;
    gathered g = sharpened(words, 20, 30, 2.5);
    assert_memory_equal(g.words, words, sizeof words);
    free(g.words);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_checker),        cmocka_unit_test(test_even),
        cmocka_unit_test(test_waves),          cmocka_unit_test(test_parts),
        cmocka_unit_test(test_unchanged),      cmocka_unit_test(test_sharpened_step),
        cmocka_unit_test(test_sharpened_even),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
