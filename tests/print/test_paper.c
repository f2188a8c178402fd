/* Lengths, sheets and places on them. Sheets against the formula of ISO 216: the sides of size n
 * of series A are 1000 x 2^(-n/2 -/+ 1/4) mm, of series B 1000 x 2^(-n/2) and 2^(1/2) of that, to
 * within its rounding of 1 mm. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "print/layout.h"
#include "print/paper.h"
#include "tone/test_context.h"

static void assert_near(double value, double wanted, double most) {
    if (!(fabs(value - wanted) <= most))
        fail_msg("%.9g is not %.9g to %g", value, wanted, most);
}

static void paper(const char *text, double width, double height, double most) {
    double mm[2];
    assert_int_equal(mil_paper_size(ctx, text, mm), MILORI_OK);
    assert_near(mm[0], width, most);
    assert_near(mm[1], height, most);
}

static void test_iso_216(void **state) {
    (void)state;
    for (int n = 0; n <= 6; n++) {
        char name[8];
        double a = 1000 * pow(2, -n / 2.0 - 0.25), b = 1000 * pow(2, -n / 2.0 - 0.5);
        snprintf(name, sizeof name, "a%d", n);
        paper(name, a, a * sqrt(2), 1);
        snprintf(name, sizeof name, "B%d", n);
        paper(name, b * sqrt(2), b * 2, 1);
    }
    paper("a4", 210, 297, 0);
    paper("a3", 297, 420, 0);
}

/* Letter and tabloid: ANSI/ASME Y14.1; 13 x 19 in for A3+: common practice, no source. */
static void test_other_papers(void **state) {
    (void)state;
    paper("letter", 8.5 * 25.4, 11 * 25.4, 1e-9);
    paper("tabloid", 11 * 25.4, 17 * 25.4, 1e-9);
    paper("A3+", 13 * 25.4, 19 * 25.4, 1.5);
    paper("8x10in", 203.2, 254, 1e-9);
    paper("10x8in", 203.2, 254, 1e-9);
    paper("30x40cm", 300, 400, 1e-9);
    paper("210x297mm", 210, 297, 0);
    paper("210x297", 210, 297, 0);
    paper("a4-across", 297, 210, 0);
    paper("a4 across", 297, 210, 0);
    paper("10x8in-upright", 203.2, 254, 1e-9);
    assert_true(mil_paper_lies("a4-across") && mil_paper_lies("a4 upright"));
    assert_false(mil_paper_lies("a4") || mil_paper_lies("across"));
    assert_string_equal(mil_paper_for((const double[2]){300, 210}), "a3");
    assert_string_equal(mil_paper_for((const double[2]){1300, 900}), "b0");
    assert_string_equal(mil_paper_for((const double[2]){297, 210}), "a4");
    assert_null(mil_paper_for((const double[2]){1500, 300}));
}

static void test_no_paper(void **state) {
    (void)state;
    static const char *const none[] = {"",      "a",       "a7x", "4x",      "x5in",   "0x10in",
                                       "nanx5", "1e9x1e9", "a4-", "-across", "8x10ft", "5x7x9in"};
    for (size_t i = 0; i < sizeof none / sizeof *none; i++) {
        double mm[2];
        assert_int_equal(mil_paper_size(ctx, none[i], mm), MILORI_ERR_ARGUMENT);
        assert_non_null(strstr(milori_message(ctx), "a4"));
        milori_clear(ctx);
    }
}

static void test_lengths(void **state) {
    (void)state;
    double mm;
    assert_true(mil_length_mm("180mm", &mm) && mm == 180);
    assert_true(mil_length_mm("180", &mm) && mm == 180);
    assert_true(mil_length_mm("1.8cm", &mm) && fabs(mm - 18) < 1e-12);
    assert_true(mil_length_mm("7IN", &mm) && fabs(mm - 177.8) < 1e-12);
    assert_false(mil_length_mm("mm", &mm) || mil_length_mm("", &mm) || mil_length_mm("1ft", &mm) ||
                 mil_length_mm("inf", &mm) || mil_length_mm("1,5mm", &mm));
    assert_int_equal(mil_px_of_mm(25.4, 360), 360);
    assert_int_equal(mil_px_of_mm(210, 360), 2976); /* 2976.38 */
    assert_int_equal(mil_px_of_mm(297, 360), 4209); /* 4209.45 */
    assert_int_equal(mil_px_of_mm(-1, 360), 0);
}

/* ---- layout ------------------------------------------------------------------- */

static mil_layout made(const mil_layout_wish *wish, uint32_t width, uint32_t height) {
    mil_layout layout;
    milori_status status = mil_layout_make(ctx, wish, width, height, &layout);
    if (status != MILORI_OK)
        fail_msg("%s", milori_message(ctx));
    return layout;
}

static void refused(const mil_layout_wish *wish, uint32_t width, uint32_t height,
                    const char *words) {
    mil_layout layout;
    assert_int_equal(mil_layout_make(ctx, wish, width, height, &layout), MILORI_ERR_ARGUMENT);
    if (!strstr(milori_message(ctx), words))
        fail_msg("\"%s\" does not say \"%s\"", milori_message(ctx), words);
    milori_clear(ctx);
}

/* 180 x 267 mm within 15 mm of A4: a square is 180 mm, 2551.18 px at 360 dpi. */
static void test_fitted_and_centred(void **state) {
    (void)state;
    mil_layout_wish wish;
    mil_layout_default(&wish);
    mil_layout l = made(&wish, 1000, 1000);
    assert_int_equal(l.page[0], 2976);
    assert_int_equal(l.page[1], 4209);
    assert_int_equal(l.picture[0], 2551);
    assert_int_equal(l.picture[1], 2551);
    assert_int_equal(l.at[0], 213); /* 15 mm: 212.6 */
    assert_int_equal(l.at[1], 829); /* 58.5 mm: 829.13 */
    /* a wide one turns the paper, unless it was said how it lies */
    l = made(&wish, 1500, 1000);
    assert_int_equal(l.page[0], 4209);
    assert_near(l.picture_mm[0], 267, 1e-9);
    assert_near(l.picture_mm[1], 178, 1e-9);
    wish.paper_lies = true;
    l = made(&wish, 1500, 1000);
    assert_int_equal(l.page[0], 2976);
    assert_near(l.picture_mm[0], 180, 1e-9);
}

static void test_sizes(void **state) {
    (void)state;
    static const struct {
        const char *text;
        double mm[2];
    } sizes[] = {{"150mm", {150, 100}},
                 {"long=15cm", {150, 100}},
                 {"short=100", {150, 100}},
                 {"height=10cm", {150, 100}},
                 {"width=6in", {152.4, 101.6}}};
    mil_layout_wish wish;
    mil_layout_default(&wish);
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        assert_int_equal(mil_layout_size(ctx, sizes[i].text, &wish), MILORI_OK);
        mil_layout l = made(&wish, 3000, 2000);
        assert_near(l.picture_mm[0], sizes[i].mm[0], 1e-9);
        assert_near(l.picture_mm[1], sizes[i].mm[1], 1e-9);
        assert_int_equal(l.picture[0], mil_px_of_mm(sizes[i].mm[0], 360));
    }
    assert_int_equal(mil_layout_size(ctx, "pixels", &wish), MILORI_OK);
    mil_layout l = made(&wish, 3000, 2000);
    assert_int_equal(l.picture[0], 3000);
    assert_int_equal(l.picture[1], 2000);
    assert_near(l.picture_mm[0], 3000 * 25.4 / 360, 1e-9);
    assert_int_equal(mil_layout_size(ctx, "broad", &wish), MILORI_ERR_ARGUMENT);
    milori_clear(ctx);
}

static void test_places(void **state) {
    (void)state;
    mil_layout_wish wish;
    mil_layout_default(&wish);
    assert_int_equal(mil_layout_size(ctx, "short=100mm", &wish), MILORI_OK);
    assert_int_equal(mil_layout_margin(ctx, "10mm,20mm,30mm,1in", &wish), MILORI_OK);
    assert_int_equal(mil_layout_place(ctx, "top-left", &wish), MILORI_OK);
    mil_layout l = made(&wish, 2000, 3000);
    assert_int_equal(l.at[0], 360);
    assert_int_equal(l.at[1], mil_px_of_mm(10, 360));
    assert_int_equal(mil_layout_place(ctx, "bottom-right", &wish), MILORI_OK);
    l = made(&wish, 2000, 3000);
    assert_int_equal(l.at[0], mil_px_of_mm(210 - 20 - 100, 360));
    assert_int_equal(l.at[1], mil_px_of_mm(297 - 30 - 150, 360));
    assert_int_equal(mil_layout_place(ctx, "5mm,1in", &wish), MILORI_OK);
    l = made(&wish, 2000, 3000);
    assert_int_equal(l.at[0], mil_px_of_mm(5, 360));
    assert_int_equal(l.at[1], 360);
    assert_int_equal(mil_layout_place(ctx, "150mm,0", &wish), MILORI_OK);
    refused(&wish, 2000, 3000, "--place");
    static const char *const none[] = {"middle", "5mm", "-5mm,0", "1,2,3", "top-"};
    for (size_t i = 0; i < sizeof none / sizeof *none; i++) {
        assert_int_equal(mil_layout_place(ctx, none[i], &wish), MILORI_ERR_ARGUMENT);
        milori_clear(ctx);
    }
    static const char *const margins[] = {"", "1,2,3", "-1mm", "x", "1,,2", "1,2,3,4,5"};
    for (size_t i = 0; i < sizeof margins / sizeof *margins; i++) {
        assert_int_equal(mil_layout_margin(ctx, margins[i], &wish), MILORI_ERR_ARGUMENT);
        milori_clear(ctx);
    }
}

/* What does not fit is refused with what would: 330 mm long with 15 mm of margin needs A3. */
static void test_refusals(void **state) {
    (void)state;
    mil_layout_wish wish;
    mil_layout_default(&wish);
    assert_int_equal(mil_layout_size(ctx, "330mm", &wish), MILORI_OK);
    refused(&wish, 2000, 3000, "--paper a3");
    refused(&wish, 2000, 3000, "--size 267mm");
    assert_int_equal(mil_layout_margin(ctx, "110mm", &wish), MILORI_OK);
    refused(&wish, 2000, 3000, "--margin");
    mil_layout_default(&wish);
    wish.no_paper = true;
    refused(&wish, 2000, 3000, "--size");
    assert_int_equal(mil_layout_size(ctx, "short=4in", &wish), MILORI_OK);
    mil_layout l = made(&wish, 2000, 3000);
    assert_int_equal(l.page[0], 1440);
    assert_int_equal(l.page[1], 2160);
    assert_int_equal(l.at[0] + l.at[1], 0);
}

/* Without margins a picture of the paper's own shape covers it to the last px, at any dpi. */
static void test_to_the_edge(void **state) {
    (void)state;
    mil_layout_wish wish;
    mil_layout_default(&wish);
    assert_int_equal(mil_layout_margin(ctx, "0", &wish), MILORI_OK);
    for (double dpi = 72; dpi < 2880; dpi *= 1.13) {
        wish.dpi = dpi;
        mil_layout l = made(&wish, 2100, 2970);
        assert_int_equal(l.picture[0], l.page[0]);
        assert_int_equal(l.picture[1], l.page[1]);
        assert_int_equal(l.at[0] + l.at[1], 0);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_iso_216),
                                       cmocka_unit_test(test_other_papers),
                                       cmocka_unit_test(test_no_paper),
                                       cmocka_unit_test(test_lengths),
                                       cmocka_unit_test(test_fitted_and_centred),
                                       cmocka_unit_test(test_sizes),
                                       cmocka_unit_test(test_places),
                                       cmocka_unit_test(test_refusals),
                                       cmocka_unit_test(test_to_the_edge)};
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
