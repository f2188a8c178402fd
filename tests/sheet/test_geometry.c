/* Turned rectangles, corners and the orientation tag. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "sheet/geometry.h"

static const double PI = 3.14159265358979323846;

/* A stored picture of 3 x 2 px, and the upright one of each orientation written out by hand
 * from TIFF 6.0, tag 274 (from memory): "the 0th row is the visual top, the 0th column the
 * visual left" and so on. */
static const char *stored[2] = {"abc", "def"};
static const char *upright[9][3] = {{0},
                                    {"abc", "def", 0},
                                    {"cba", "fed", 0},
                                    {"fed", "cba", 0},
                                    {"def", "abc", 0},
                                    {"ad", "be", "cf"},
                                    {"da", "eb", "fc"},
                                    {"fc", "eb", "da"},
                                    {"cf", "be", "ad"}};

static void orientations_place_every_pixel(void **state) {
    (void)state;
    for (int o = 1; o <= 8; o++)
        for (int j = 0; j < 2; j++)
            for (int i = 0; i < 3; i++) {
                double x, y, bx, by;
                mil_orient(o, 3, 2, i + 0.25, j + 0.5, &x, &y);
                assert_true(x > 0 && y > 0 && x < (o < 5 ? 3 : 2) && y < (o < 5 ? 2 : 3));
                assert_int_equal(upright[o][(int)y][(int)x], stored[j][i]);
                mil_orient_back(o, 3, 2, x, y, &bx, &by);
                assert_true(bx == i + 0.25 && by == j + 0.5);
            }
}

static void orientations_compose(void **state) {
    (void)state;
    for (int a = 1; a <= 8; a++)
        for (int b = 1; b <= 8; b++) {
            double x, y, x2, y2, w = a < 5 ? 3 : 2, h = a < 5 ? 2 : 3;
            mil_orient(a, 3, 2, 0.5, 0.25, &x, &y);
            mil_orient(b, w, h, x, y, &x, &y);
            mil_orient(mil_orient_compose(a, b), 3, 2, 0.5, 0.25, &x2, &y2);
            assert_true(x == x2 && y == y2);
        }
    assert_int_equal(mil_orient_compose(6, 6), 3);
    assert_int_equal(mil_orient_compose(6, 8), 1);
}

static void corners_turn_clockwise(void **state) {
    (void)state;
    const mil_rect r = {.cx = 10, .cy = 20, .w = 8, .h = 2, .angle = PI / 6};
    double c[4][2], u, v;
    mil_rect_corners(&r, c);
    /* The top right corner went down. */
    assert_true(fabs(c[1][0] - (10 + 4 * cos(PI / 6) + 0.5)) < 1e-12);
    assert_true(fabs(c[1][1] - (20 + 2 - cos(PI / 6))) < 1e-12);
    const double local[4][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
    for (int k = 0; k < 4; k++) {
        mil_rect_local(&r, c[k][0], c[k][1], &u, &v);
        assert_true(fabs(u - local[k][0]) < 1e-12 && fabs(v - local[k][1]) < 1e-12);
    }
}

static void rectangles_come_back_at_any_angle(void **state) {
    (void)state;
    for (int degrees = -170; degrees <= 180; degrees += 10) {
        const mil_rect r = {.cx = 500, .cy = 300, .w = 200, .h = 90, .angle = degrees * PI / 180};
        double c[4][2], back[4][2];
        mil_rect f;
        mil_rect_corners(&r, c);
        assert_true(mil_rect_fit(c, &f));
        assert_true(f.angle > -PI / 4 - 1e-12 && f.angle <= PI / 4 + 1e-12);
        mil_rect_corners(&f, back);
        mil_corners_sort(c);
        mil_corners_sort(back);
        for (int k = 0; k < 4; k++)
            assert_true(hypot(c[k][0] - back[k][0], c[k][1] - back[k][1]) < 1e-9);
    }
}

static double misfit(const mil_rect *r, double p[4][2]) {
    double c[4][2], sum = 0;
    mil_rect_corners(r, c);
    for (int k = 0; k < 4; k++)
        sum +=
            (c[k][0] - p[k][0]) * (c[k][0] - p[k][0]) + (c[k][1] - p[k][1]) * (c[k][1] - p[k][1]);
    return sum;
}

/* The fit is the least-squares one: no small change of any of its five numbers is better. */
static void no_other_rectangle_fits_better(void **state) {
    (void)state;
    double p[4][2] = {{10, 12}, {110, 31}, {97, 80}, {-3, 66}};
    mil_rect r;
    assert_true(mil_rect_fit(p, &r));
    double best = misfit(&r, p);
    for (int k = 0; k < 10; k++) {
        mil_rect moved = r;
        double *part[5] = {&moved.cx, &moved.cy, &moved.w, &moved.h, &moved.angle};
        *part[k / 2] += k % 2 ? 1e-4 : -1e-4;
        assert_true(misfit(&moved, p) > best);
    }
}

static void what_is_no_quadrilateral_is_refused(void **state) {
    (void)state;
    double line[4][2] = {{0, 0}, {1, 1}, {2, 2}, {3, 3}};
    double crossed[4][2] = {{0, 0}, {1, 1}, {1, 0}, {0, 1}};
    double other_way[4][2] = {{0, 0}, {0, 1}, {1, 1}, {1, 0}};
    double nowhere[4][2] = {{NAN, 0}, {1, 0}, {1, 1}, {0, 1}};
    mil_rect r;
    assert_false(mil_rect_fit(line, &r));
    assert_false(mil_rect_fit(crossed, &r));
    assert_false(mil_rect_fit(other_way, &r));
    assert_false(mil_rect_fit(nowhere, &r));
    mil_corners_sort(other_way);
    assert_true(mil_rect_fit(other_way, &r));
}

static void corners_are_sorted_from_the_top_left(void **state) {
    (void)state;
    const double want[4][2] = {{1, 2}, {9, 3}, {8, 7}, {0.5, 6}};
    const int orders[5][4] = {{0, 1, 2, 3}, {2, 0, 3, 1}, {3, 2, 1, 0}, {1, 3, 0, 2}, {2, 3, 0, 1}};
    for (int o = 0; o < 5; o++) {
        double c[4][2];
        for (int k = 0; k < 4; k++)
            memcpy(c[k], want[orders[o][k]], sizeof c[k]);
        mil_corners_sort(c);
        assert_memory_equal(c, want, sizeof c);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(orientations_place_every_pixel),
                                       cmocka_unit_test(orientations_compose),
                                       cmocka_unit_test(corners_turn_clockwise),
                                       cmocka_unit_test(rectangles_come_back_at_any_angle),
                                       cmocka_unit_test(no_other_rectangle_fits_better),
                                       cmocka_unit_test(what_is_no_quadrilateral_is_refused),
                                       cmocka_unit_test(corners_are_sorted_from_the_top_left)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
