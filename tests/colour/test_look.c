/* How a print will look, against arithmetic. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "colour/lab.h"
#include "colour/look.h"
#include "print_profiles.h"

enum { COUNT = 65 };

static double line[COUNT][3];
static uint16_t codes[COUNT][3];
static mil_output *output;
static mil_look *look;

/* A line of blue that leaves the made printer's gamut in its darks. */
static int make_look(void **state) {
    milori_context *ctx = milori_context_new();
    if (make_folder(state) != 0 || make_rag() != 0 ||
        mil_output_new_print(ctx, made_path("rag.icc"), MILORI_ABSOLUTE, false, &output) !=
            MILORI_OK)
        return -1;
    for (int i = 0; i < COUNT; i++) {
        line[i][0] = 8 + 84. * i / (COUNT - 1);
        line[i][1] = -4 * sin(M_PI * i / (COUNT - 1));
        line[i][2] = -25 * sin(M_PI * i / (COUNT - 1));
    }
    mil_output_line(output, (const double(*)[3])line, COUNT, codes[0]);
    int status = mil_look_new(ctx, output, (const double(*)[3])line, codes[0], COUNT, &look);
    milori_context_free(ctx);
    return status;
}

static int drop_look(void **state) {
    mil_look_free(look);
    mil_output_free(output);
    return remove_folder(state);
}

static double srgb_curve(double light) {
    return light <= .0031308 ? 12.92 * light : 1.055 * pow(light, 1 / 2.4) - .055;
}

/* CIELAB to sRGB: by the inverse of its D50 matrix (Lindbloom, from memory) and
 * IEC 61966-2-1's curve. */
static void srgb_by_hand(const double lab[3], double rgb[3]) {
    static const double inverse[3][3] = {{3.1338561, -1.6168667, -.4906146},
                                         {-.9787684, 1.9161415, .0334540},
                                         {.0719453, -.2289914, 1.4052427}};
    double xyz[3];
    mil_lab_to_xyz(lab, xyz);
    for (int i = 0; i < 3; i++) {
        double light = 0;
        for (int k = 0; k < 3; k++)
            light += inverse[i][k] * xyz[k];
        rgb[i] = srgb_curve(fmin(fmax(light, 0), 1));
    }
}

static double lightness_of(const uint16_t rgb[3]) {
    static const double weight[3] = {.2126, .7152, .0722};
    double Y = 0;
    for (int c = 0; c < 3; c++) {
        double v = rgb[c] / 65535.;
        Y += weight[c] * (v <= .04045 ? v / 12.92 : pow((v + .055) / 1.055, 2.4));
    }
    return mil_lightness(Y);
}

/* The made printer's own law says what its codes look like; argyll's fit of it is
 * within a few tenths. Its paper is no screen's white. */
static void seen_as_the_printer_prints(void **state) {
    (void)state;
    for (int i = 0; i < COUNT; i++) {
        double device[3], lab[3], rgb[3];
        for (int c = 0; c < 3; c++)
            device[c] = codes[i][c] / 65535.;
        rag_lab(device, lab);
        srgb_by_hand(lab, rgb);
        for (int c = 0; c < 3; c++)
            assert_true(fabs(look->seen[i][c] / 65535. - rgb[c]) < .015);
    }
    static const double white[3] = {1, 1, 1};
    double lab[3], rgb[3];
    rag_lab(white, lab);
    srgb_by_hand(lab, rgb);
    for (int c = 0; c < 3; c++)
        assert_true(fabs(look->paper[c] / 65535. - rgb[c]) < .005);
    assert_true(look->paper[2] < look->paper[0] && look->paper[0] < 63000);
}

static void losses_are_marked_in_grey_that_stands_out(void **state) {
    (void)state;
    int found[3] = {0, 0, 0};
    for (int i = 0; i < COUNT; i++) {
        double asked[3];
        mil_output_asked(output, line[i], asked);
        double beyond = mil_output_beyond(output, asked);
        assert_int_equal(look->lost[i], beyond >= 5 ? 2 : beyond >= 1 ? 1 : 0);
        found[look->lost[i]]++;
        const uint16_t *mark = look->mark[i];
        assert_true(mark[0] == mark[1] && mark[1] == mark[2]);
        assert_true(fabs(lightness_of(mark) - lightness_of(look->seen[i])) > 40);
    }
    /* No black below L* 20 and no blue there; the middle is held. */
    assert_int_equal(look->lost[0], 2);
    assert_int_equal(look->lost[COUNT / 2], 0);
    assert_true(found[0] > 10 && found[1] > 0 && found[2] > 3);
}

static bool stroke_at(uint32_t place, uint32_t x, uint32_t y, double dpi) {
    uint16_t rgb[3];
    mil_look_marked(look, place, x, y, dpi, rgb);
    if (memcmp(rgb, look->seen[place], sizeof rgb) == 0)
        return false;
    assert_memory_equal(rgb, look->mark[place], sizeof rgb);
    return true;
}

static uint32_t first_lost(int level) {
    uint32_t place = 0;
    while (look->lost[place] != level)
        place++;
    return place;
}

/* 300 dpi: 1.2 mm are 14 pixels, a stroke 2 of them. */
static void strokes_are_where_colours_were_lost(void **state) {
    (void)state;
    const double dpis[3] = {1, 300, 720};
    const uint32_t apart[3] = {6, 14, 34}, wide[3] = {2, 2, 6};
    for (int d = 0; d < 3; d++) {
        uint32_t n = 3 * apart[d], single = 0, crossed = 0;
        uint32_t out = first_lost(1), far = first_lost(2), kept = first_lost(0);
        for (uint32_t y = 0; y < n; y++)
            for (uint32_t x = 0; x < n; x++) {
                assert_false(stroke_at(kept, x, y, dpis[d]));
                bool one = stroke_at(out, x, y, dpis[d]);
                single += one;
                crossed += stroke_at(far, x, y, dpis[d]);
                /* Down to the right, and the same anywhere on the picture. */
                assert_true(one == stroke_at(out, x + 1, y + 1, dpis[d]));
                assert_true(one == stroke_at(out, x + 70 * apart[d], y, dpis[d]));
                assert_true(stroke_at(far, x, y, dpis[d]) || !one);
            }
        assert_int_equal(single, 9 * apart[d] * wide[d]);
        assert_int_equal(crossed, 9 * (2 * apart[d] * wide[d] - wide[d] * wide[d]));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(seen_as_the_printer_prints),
                                       cmocka_unit_test(losses_are_marked_in_grey_that_stands_out),
                                       cmocka_unit_test(strokes_are_where_colours_were_lost)};
    return cmocka_run_group_tests(tests, make_look, drop_look);
}
