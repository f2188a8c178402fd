/* Surfaces against SciPy's B-splines, and spans against single places. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>

#include "sheet/surface.h"

static mil_surface make(int x0, int y0, int nx, int ny, uint32_t cell) {
    mil_surface s = {x0, y0, nx, ny, cell, malloc((size_t)nx * (size_t)ny * sizeof(float))};
    unsigned state = 7;
    for (int i = 0; i < nx * ny; i++) {
        state = state * 1664525u + 1013904223u;
        s.knot[i] = (float)(state >> 8) / (float)(1 << 24);
    }
    return s;
}

/* SciPy 1.10.1: BSpline(arange(-2, 10), [1 4 2 5 3 0 7 -2], 3), whose basis i is centred on i. */
static void values_are_scipys(void **state) {
    (void)state;
    const float knots[8] = {1, 4, 2, 5, 3, 0, 7, -2};
    const double places[][2] = {
        {1, 3.1666666666666665},   {1.25, 3.1614583333333335}, {2.5, 3.5},
        {3.9, 3.0776666666666666}, {4.7, 1.4671666666666667},  {5.125, 1.9863281249999998}};
    mil_surface across = make(3, 5, 8, 1, 10), down = make(3, 5, 1, 8, 10);
    for (int i = 0; i < 8; i++)
        across.knot[i] = down.knot[i] = knots[i];
    for (size_t i = 0; i < sizeof places / sizeof *places; i++) {
        float line[8];
        /* Knot k lies at the centre of cell 3 + k across, 5 + k down. */
        mil_surface_row(&across, 50, line);
        assert_float_equal(mil_surface_at(&across, line, (places[i][0] + 3.5) * 10), places[i][1],
                           2e-6);
        mil_surface_row(&down, (places[i][0] + 5.5) * 10, line);
        assert_float_equal(mil_surface_at(&down, line, 35), places[i][1], 2e-6);
    }
    mil_surface_free(&across);
    mil_surface_free(&down);
    assert_null(across.knot);
}

static void spans_are_their_places(void **state) {
    (void)state;
    const uint32_t cells[] = {1, 2, 3, 4, 7, 16, 127, 128, 129, 300};
    for (size_t c = 0; c < sizeof cells / sizeof *cells; c++) {
        mil_surface s = make(2, 1, 9, 6, cells[c]);
        uint32_t count = cells[c] * 14;
        float *out = malloc(count * sizeof *out), *part = malloc(count * sizeof *part);
        float line[9];
        mil_surface_row(&s, 3.3 * cells[c], line);
        mil_surface_span(&s, line, 0, count, out);
        for (uint32_t i = 0; i < count; i++)
            assert_float_equal(out[i], mil_surface_at(&s, line, i + 0.5), 1e-6);
        /* The same to the bit wherever a span starts and ends. */
        for (uint32_t first = 0; first < count; first += 1 + count / 5) {
            uint32_t n = (count - first) / 2 + 1;
            mil_surface_span(&s, line, first, n, part);
            for (uint32_t i = 0; i < n; i++)
                assert_true(part[i] == out[first + i]);
        }
        free(out);
        free(part);
        mil_surface_free(&s);
    }
}

static void ends_go_on(void **state) {
    (void)state;
    mil_surface s = make(4, 4, 5, 5, 8);
    float line[5], far_line[5];
    mil_surface_row(&s, -1e9, line);
    mil_surface_row(&s, -500, far_line);
    for (int i = 0; i < 5; i++) {
        assert_true(line[i] == far_line[i]);
        assert_float_equal(line[i], s.knot[i], 1e-6);
    }
    assert_float_equal(mil_surface_at(&s, line, 1e12), line[4], 1e-6);
    float out[3];
    mil_surface_span(&s, line, 100000, 3, out);
    assert_float_equal(out[2], line[4], 1e-6);
    mil_surface_free(&s);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(values_are_scipys),
                                       cmocka_unit_test(spans_are_their_places),
                                       cmocka_unit_test(ends_go_on)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
