/* Monotone interpolation and curve files. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "tone/tone.h"

/* RPN 14 data (seen in a GSL example); values between from SciPy 1.10's
 * PchipInterpolator, which has the Fritsch-Butland mean (computed). */
static void rpn14_data_come_out_as_scipy(void **state) {
    (void)state;
    const double points[9][2] = {{7.99, 0},       {8.09, 2.76429e-5}, {8.19, 4.37498e-2},
                                 {8.7, 0.169183}, {9.2, 0.469428},    {10, 0.943740},
                                 {12, 0.998636},  {15, 0.999919},     {20, 0.999994}};
    const double between[5][2] = {{8.14, 0.0176971674},
                                  {8.45, 0.1065895378},
                                  {9.0, 0.3375343268},
                                  {9.6, 0.7602476393},
                                  {11, 0.9860433625}};
    double slopes[9];
    mil_monotone_slopes(points, 9, slopes);
    for (int i = 0; i < 5; i++) {
        double y = mil_monotone_at(points, slopes, 9, between[i][0]);
        assert_true(fabs(y - between[i][1]) < 1e-10);
    }
    for (int i = 0; i < 9; i++)
        assert_true(fabs(mil_monotone_at(points, slopes, 9, points[i][0]) - points[i][1]) < 1e-15);
}

/* SciPy 1.10 PchipInterpolator on data that turn, with both end rules at work (computed):
 * x 0 1 3 4 6, y 0 2 1 1 5. */
static void turning_data_come_out_as_scipy(void **state) {
    (void)state;
    const double points[5][2] = {{0, 0}, {1, 2}, {3, 1}, {4, 1}, {6, 5}};
    const double between[6][2] = {{0.25, 0.7109375000000001},
                                  {0.5, 1.3541666666666667},
                                  {2.0, 1.5},
                                  {3.5, 1.0},
                                  {4.5, 1.3125},
                                  {5.5, 3.4375}};
    double slopes[5];
    mil_monotone_slopes(points, 5, slopes);
    for (int i = 0; i < 6; i++)
        assert_true(fabs(mil_monotone_at(points, slopes, 5, between[i][0]) - between[i][1]) <
                    1e-12);
}

/* The same, where the end rule's limit of three chords is met: x 0 1 2 3 4, y 0 0.1 -4.9 -5 1. */
static void sharp_ends_come_out_as_scipy(void **state) {
    (void)state;
    const double points[5][2] = {{0, 0}, {1, 0.1}, {2, -4.9}, {3, -5}, {4, 1}};
    const double between[6][2] = {
        {0.25, 0.05781250000000001}, {0.5, 0.08750000000000002}, {2.0, -4.9},
        {2.5, -4.974509803921569},   {3.25, -4.48671875},        {3.75, -1.2101562499999998}};
    double slopes[5];
    mil_monotone_slopes(points, 5, slopes);
    assert_true(fabs(slopes[0] - 0.3) < 1e-15);
    for (int i = 0; i < 6; i++)
        assert_true(fabs(mil_monotone_at(points, slopes, 5, between[i][0]) - between[i][1]) <
                    1e-12);
}

static void few_points_and_outside(void **state) {
    (void)state;
    const double points[2][2] = {{0.2, 0.1}, {0.8, 0.9}};
    double slopes[2];
    mil_monotone_slopes(points, 2, slopes);
    assert_true(fabs(mil_monotone_at(points, slopes, 2, 0.5) - 0.5) < 1e-15);
    assert_true(mil_monotone_at(points, slopes, 2, -5) == 0.1);
    assert_true(mil_monotone_at(points, slopes, 2, 5) == 0.9);
    assert_true(mil_monotone_at(points, slopes, 2, NAN) == 0.1);
    mil_monotone_slopes(points, 1, slopes);
    assert_true(mil_monotone_at(points, slopes, 1, 0.5) == 0.1);
}

static milori_status read_curve(const char *text, milori_choices *choices, char *message,
                                size_t size) {
    char path[] = "/tmp/milori-curve-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, text, strlen(text)), strlen(text));
    close(fd);
    milori_context *ctx = milori_context_new();
    milori_status status = mil_curve_read(ctx, path, choices);
    snprintf(message, size, "%s", milori_message(ctx));
    if (status)
        assert_non_null(strstr(message, path));
    milori_context_free(ctx);
    unlink(path);
    return status;
}

static void curve_files_are_read(void **state) {
    (void)state;
    milori_choices choices;
    char message[512];
    milori_choices_default(&choices);
    assert_int_equal(read_curve("# the water butt\n0 0.1\r\n\n25% 30%\n 1\t0.95 # paper\n",
                                &choices, message, sizeof message),
                     MILORI_OK);
    assert_int_equal(choices.curve_points, 3);
    assert_true(choices.curve[1][0] == 0.25 && choices.curve[1][1] == 0.3);
    assert_true(choices.curve[2][1] == 0.95);
}

static void curve_files_are_refused_by_line(void **state) {
    (void)state;
    const char *cases[][2] = {{"0 0\n0.5\n1 1\n", "line 2"},
                              {"0 0\n0.5 1.5\n", "line 2"},
                              {"0 0\n0.5 0.5 0.5\n", "line 2"},
                              {"0 0\n0.5 nan\n", "line 2"},
                              {"0 0\n0 1\n", "line 2"},
                              {"0 0\n", "two or more"},
                              {"", "two or more"},
                              {"0 0\n50%% 1\n", "line 2"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        milori_choices choices, before;
        char message[512];
        milori_choices_default(&choices);
        before = choices;
        assert_int_equal(read_curve(cases[i][0], &choices, message, sizeof message),
                         MILORI_ERR_FORMAT);
        assert_non_null(strstr(message, cases[i][1]));
        assert_memory_equal(&choices, &before, sizeof before);
    }
}

static void curve_of_too_many_points_is_refused(void **state) {
    (void)state;
    char text[2048] = "", message[512];
    milori_choices choices;
    milori_choices_default(&choices);
    for (int i = 0; i <= MILORI_CURVE_MAX; i++)
        snprintf(text + strlen(text), sizeof text - strlen(text), "%.3f 0.5\n", i / 100.0);
    assert_int_equal(read_curve(text, &choices, message, sizeof message), MILORI_ERR_FORMAT);
    assert_non_null(strstr(message, "64"));
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(rpn14_data_come_out_as_scipy),
                                       cmocka_unit_test(turning_data_come_out_as_scipy),
                                       cmocka_unit_test(sharp_ends_come_out_as_scipy),
                                       cmocka_unit_test(few_points_and_outside),
                                       cmocka_unit_test(curve_files_are_read),
                                       cmocka_unit_test(curve_files_are_refused_by_line),
                                       cmocka_unit_test(curve_of_too_many_points_is_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
