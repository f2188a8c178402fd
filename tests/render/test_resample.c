/* The kernel's contrast, measured, and the running code against plain sums. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>

#include "render/resample.h"

enum { WIDTH = 400 };
static const double PI = 3.14159265358979323846;

/* Amplitude that a wave of f cycles a px keeps through mil_resample_row at a shift, by projection
 * on sine and cosine of the place that was asked for; *lag its error of place in px. */
static double contrast(const mil_kernel *kernel, double f, double shift, double *lag) {
    float line[WIDTH], out[WIDTH];
    for (int i = 0; i < WIDTH; i++)
        line[i] = (float)cos(2 * PI * f * i);
    enum { FIRST = 20, COUNT = 320 };
    mil_resample_row(kernel, line, mil_fixed(FIRST + shift), mil_fixed(1), COUNT, out);
    double a = 0, b = 0, aa = 0, bb = 0, ab = 0;
    for (int i = 0; i < COUNT; i++) {
        double c = cos(2 * PI * f * (FIRST + shift + i)), s = sin(2 * PI * f * (FIRST + shift + i));
        a += out[i] * c;
        b += out[i] * s;
        aa += c * c;
        bb += s * s;
        ab += c * s;
    }
    double det = aa * bb - ab * ab, kc = (a * bb - b * ab) / det, ks = (b * aa - a * ab) / det;
    *lag = atan2(-ks, kc) / (2 * PI * f);
    return hypot(kc, ks);
}

static void detail_is_kept(void **state) {
    (void)state;
    static mil_kernel kernel;
    mil_kernel_make(&kernel);
    double least[3] = {9, 9, 9}, lags[3] = {0}, most = 0, lag;
    const double f[3] = {0.2, 0.3, 0.4}; /* 0.4, 0.6 and 0.8 of the Nyquist frequency */
    for (int p = 0; p <= 64; p++)
        for (int k = 0; k < 3; k++) {
            double kept = contrast(&kernel, f[k] + 1e-4, p / 64.0, &lag);
            least[k] = fmin(least[k], kept);
            most = fmax(most, kept);
            lags[k] = fmax(lags[k], fabs(lag));
        }
    print_message("at 0.4 0.6 0.8 Nyquist: least contrast %.4f %.4f %.4f, lag %.4f %.4f %.4f px; "
                  "most contrast %.4f\n",
                  least[0], least[1], least[2], lags[0], lags[1], lags[2], most);
    assert_true(least[0] > 0.998);
    assert_true(least[1] > 0.998);
    assert_true(least[2] > 0.92);
    assert_true(most < 1.007);
    assert_true(lags[0] < 0.002 && lags[1] < 0.003 && lags[2] < 0.02);
}

static void whole_shifts_are_copies(void **state) {
    (void)state;
    static mil_kernel kernel;
    mil_kernel_make(&kernel);
    float line[WIDTH], out[300];
    for (int i = 0; i < WIDTH; i++)
        line[i] = (float)((i * 7919) % 1000) / 999;
    mil_resample_row(&kernel, line, mil_fixed(33), mil_fixed(1), 300, out);
    for (int i = 0; i < 300; i++)
        assert_true(out[i] == line[33 + i]);
}

static void columns_follow_rows(void **state) {
    (void)state;
    static mil_kernel kernel;
    mil_kernel_make(&kernel);
    enum { W = 150, H = 60 };
    static float picture[W * H];
    for (int i = 0; i < W * H; i++)
        picture[i] = (float)((i * 7919u) % 1000u) / 999;
    const mil_ring ring = {picture, H, W, 0, H - 1};
    const double slopes[] = {0, 0.01, -0.013, 0.1, -0.24, 0.9 / W};
    for (size_t s = 0; s < sizeof slopes / sizeof *slopes; s++) {
        float out[W], column[H + 24], one[1];
        int64_t first = mil_fixed(slopes[s] < 0 ? 44.3 : 12.3), slope = mil_fixed(slopes[s]);
        mil_resample_columns(&kernel, &ring, first, slope, out);
        for (int i = 0; i < W; i++) {
            for (int y = 0; y < H; y++)
                column[y] = picture[y * W + i];
            mil_resample_row(&kernel, column, first + i * slope, 0, 1, one);
            assert_float_equal(out[i], one[0], 1e-6);
        }
    }
}

/* Mean of a stretch of a line, in double and px by px. */
static double mean(const float *line, int stride, double from, double to) {
    double sum = 0;
    for (int k = (int)floor(from); k < to; k++)
        sum += line[k * stride] * (fmin(to, k + 1) - fmax(from, k));
    return sum / (to - from);
}

static void averages_are_areas(void **state) {
    (void)state;
    enum { W = 150, H = 90 };
    static float picture[W * H];
    for (int i = 0; i < W * H; i++)
        picture[i] = (float)((i * 7919u) % 1000u) / 999;
    float out[W];
    const double steps[] = {1.0, 1.37, 4, 10.5};
    for (size_t s = 0; s < 4; s++) {
        uint32_t count = (uint32_t)(140 / steps[s]);
        mil_average_row(picture, mil_fixed(2.3), mil_fixed(steps[s]), count, out);
        for (uint32_t i = 0; i < count; i++)
            assert_float_equal(
                out[i], mean(picture, 1, 2.3 + i * steps[s], 2.3 + (i + 1) * steps[s]), 2e-6);
    }
    const mil_ring ring = {picture, H, W, 0, H - 1};
    const double slopes[] = {0, 0.02, -0.1, 0.37};
    for (size_t s = 0; s < 4; s++) {
        double first = slopes[s] < 0 ? 40.25 : 3.25;
        mil_average_columns(&ring, mil_fixed(first), mil_fixed(slopes[s]), mil_fixed(6.5), out);
        for (int i = 0; i < W; i++) {
            double y = first + i * slopes[s];
            assert_float_equal(out[i], mean(picture + i, W, y, y + 6.5), 2e-6);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(detail_is_kept), cmocka_unit_test(whole_shifts_are_copies),
        cmocka_unit_test(columns_follow_rows), cmocka_unit_test(averages_are_areas)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
