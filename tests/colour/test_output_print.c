/* Outputs for prints: CMYK, blacks that lcms2 does not find, what is asked and
 * what is given. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "colour/lab.h"
#include "colour/output.h"
#include "icc_by_hand.h"
#include "print_profiles.h"

#define near(a, b, tolerance) assert_true(fabs((a) - (b)) <= (tolerance))

static mil_output *print_to(const char *profile, milori_intent intent, bool black_point) {
    milori_context *ctx = milori_context_new();
    mil_output *output;
    if (mil_output_new_print(ctx, profile, intent, black_point, &output) != MILORI_OK)
        fail_msg("%s", milori_message(ctx));
    milori_context_free(ctx);
    return output;
}

static int make_profiles(void **state) {
    return make_folder(state) != 0 || make_fogra(29) != 0 || make_fogra(39) != 0 || make_rag() != 0;
}

/* What argyll's own reading of a profile says to lines of input. */
static void argyll_says(const char *options, const char *profile, const char *input, int count,
                        int numbers, double *values) {
    char command[600], line[256];
    snprintf(command, sizeof command, "printf '%s' | icclu -v0 %s '%s'", input, options, profile);
    FILE *argyll = popen(command, "r");
    assert_non_null(argyll);
    for (int i = 0; i < count; i++) {
        char *at = line;
        assert_non_null(fgets(line, sizeof line, argyll));
        for (int n = 0; n < numbers; n++)
            *values++ = strtod(at, &at);
    }
    assert_int_equal(pclose(argyll), 0);
}

static void inks_against_argyll(void **state) {
    (void)state;
    static const double lab[5][3] = {
        {50, 20, -30}, {40, -10, -25}, {70, -20, 40}, {90, 0, 0}, {35, 2, -15}};
    double inks[20];
    argyll_says("-fb -ir -pl", made_path("29.icc"),
                "50 20 -30\\n40 -10 -25\\n70 -20 40\\n90 0 0\\n35 2 -15\\n", 5, 4, inks);
    mil_output *output = print_to(made_path("29.icc"), MILORI_RELATIVE, false);
    assert_int_equal(mil_output_channels(output), 4);
    char name[64], cut[5];
    mil_output_name(output, name, sizeof name);
    assert_string_equal(name, "FOGRA29 by argyll");
    mil_output_name(output, cut, sizeof cut);
    assert_string_equal(cut, "FOGR");
    uint16_t codes[20];
    mil_output_line(output, lab, 5, codes);
    for (int i = 0; i < 20; i++)
        near(codes[i] / 65535., inks[i], 5e-3);
    mil_output_free(output);
}

/* Every patch that FOGRA measured: seen as measured, and inside the gamut. Left
 * out of the latter are those with more ink than 280 %, which argyll's table
 * towards the inks does not use. */
static void patches_are_as_measured(void **state) {
    (void)state;
    static fogra_patch patch[2000];
    int count = read_fogra(29, patch, 2000), inside = 0, tried = 0;
    assert_int_equal(count, 1485);
    double sum = 0, worst = 0;
    mil_output *output = print_to(made_path("29.icc"), MILORI_ABSOLUTE, false);
    for (int i = 0; i < count; i++) {
        uint16_t codes[4];
        double lab[3], total = 0;
        for (int c = 0; c < 4; c++) {
            codes[c] = (uint16_t)(patch[i].inks[c] * 655.35 + .5);
            total += patch[i].inks[c];
        }
        mil_output_given(output, codes, true, lab);
        double away = mil_ciede2000(lab, patch[i].lab);
        sum += away;
        worst = fmax(worst, away);
        if (total > 280)
            continue;
        tried++;
        inside += mil_output_beyond(output, patch[i].lab) < 1;
    }
    print_message("%d patches: %.2f away in the mean, %.2f worst; %d of %d inside\n", count,
                  sum / count, worst, inside, tried);
    assert_true(sum / count < .5 && worst < 2.5);
    assert_true(inside > .96 * tried);
    double paper[3];
    mil_output_paper(output, paper);
    for (int c = 0; c < 3; c++)
        near(paper[c], patch[0].lab[c], .15);
    mil_output_free(output);
}

/* FOGRA39's solid cyan, coated (XYZ 15.02 22.93 52.85): far outside of FOGRA29,
 * uncoated, whose own is Lab 59 -27 -43. */
static void coated_cyan_is_beyond_uncoated_paper(void **state) {
    (void)state;
    static const double cyan[3] = {55, -37, -50}, own[3] = {59, -26.7, -42.8};
    mil_output *coated = print_to(made_path("39.icc"), MILORI_ABSOLUTE, false);
    mil_output *uncoated = print_to(made_path("29.icc"), MILORI_ABSOLUTE, false);
    assert_true(mil_output_beyond(coated, cyan) < 1);
    assert_true(mil_output_beyond(uncoated, own) < 1);
    double beyond = mil_output_beyond(uncoated, cyan), solid = mil_ciede2000(cyan, own);
    print_message("coated cyan on uncoated paper: %.2f (its own solid: %.2f)\n", beyond, solid);
    assert_true(beyond > 3 && beyond <= solid + .3);
    mil_output_free(coated);
    mil_output_free(uncoated);
}

/* A copy of a profile in which only the tables that serve every intent are left. */
static void keep_first_tables(const char *name, const char *to) {
    hand_icc icc = hand_read(made_path(name));
    uint32_t count = hand_u32(icc.bytes + 128), kept = 0;
    for (uint32_t i = 0; i < count; i++) {
        uint8_t *entry = icc.bytes + 132 + 12 * i;
        bool table = memcmp(entry, "A2B", 3) == 0 || memcmp(entry, "B2A", 3) == 0;
        if (!table || entry[3] == '0')
            memmove(icc.bytes + 132 + 12 * kept++, entry, 12);
    }
    assert_int_equal(kept, count - 4);
    hand_put_u32(icc.bytes + 128, kept);
    FILE *file = fopen(made_path(to), "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(icc.bytes, 1, icc.size, file), icc.size);
    assert_int_equal(fclose(file), 0);
    free(icc.bytes);
}

static const double darks[5][3] = {{0, 0, 0}, {4, 0, 0}, {8, 0, 0}, {12, 0, 0}, {20, 0, 0}};

/* Blacks by argyll's own round trip of L* 0, whichever tables a profile has, and
 * shadows kept apart as those blacks ask for. */
static void check_black(const char *whole, const char *first, const char *from_argyll) {
    double trip[4], lab[3];
    char device[100];
    argyll_says("-fb -ir -pl", made_path(whole), "0 0 0\\n", 1, 4, trip);
    snprintf(device, sizeof device, from_argyll, trip[0], trip[1], trip[2], trip[3]);
    argyll_says("-ff -ir -pl", made_path(whole), device, 1, 3, lab);
    for (int intent = MILORI_PERCEPTUAL; intent <= MILORI_SATURATION; intent++) {
        mil_output *all = print_to(made_path(whole), (milori_intent)intent, true);
        mil_output *one = print_to(made_path(first), (milori_intent)intent, true);
        uint16_t codes[20], same[20];
        double black[3], other[3];
        mil_output_black(all, black);
        mil_output_black(one, other);
        near(black[0], lab[0], .5);
        near(other[0], black[0], 1e-6);
        mil_output_line(all, darks, 5, codes);
        mil_output_line(one, darks, 5, same);
        assert_memory_equal(codes, same, 5 * 2 * mil_output_channels(all));
        for (int i = 1; i < 5; i++) {
            double darker[3], lighter[3];
            mil_output_given(one, same + (i - 1) * mil_output_channels(one), false, darker);
            mil_output_given(one, same + i * mil_output_channels(one), false, lighter);
            assert_true(lighter[0] > darker[0] + .3);
        }
        mil_output_free(all);
        mil_output_free(one);
    }
}

static void blacks_are_found_in_the_only_tables(void **state) {
    (void)state;
    keep_first_tables("29.icc", "first-29.icc");
    keep_first_tables("rag.icc", "first-rag.icc");
    check_black("29.icc", "first-29.icc", "%g %g %g %g\\n");
    check_black("rag.icc", "first-rag.icc", "%g %g %g\\n");
    /* The made printer's black of L* 20 seen from its paper of L* 96: computed. */
    mil_output *output = print_to(made_path("first-rag.icc"), MILORI_RELATIVE, true);
    double black[3];
    mil_output_black(output, black);
    near(black[0], mil_lightness(mil_luminance(20) / mil_luminance(96)), .3);
    mil_output_free(output);
    /* Unfitted, or absolute, there is none. */
    output = print_to(made_path("first-rag.icc"), MILORI_RELATIVE, false);
    mil_output_black(output, black);
    near(black[0], 0, 1e-9);
    mil_output_free(output);
    output = print_to(made_path("first-rag.icc"), MILORI_ABSOLUTE, true);
    mil_output_black(output, black);
    near(black[0], 0, 1e-9);
    mil_output_free(output);
}

/* Fitted along a line of XYZ (ISO 18619, from memory): by hand, for one colour. */
static void what_is_asked(void **state) {
    (void)state;
    static const double lab[3] = {40, -3, -30}, white[3] = {.9642, 1, .8249};
    mil_output *output = print_to(made_path("rag.icc"), MILORI_RELATIVE, true);
    double black[3], dark[3], xyz[3], asked[3], want[3];
    mil_output_black(output, black);
    mil_lab_to_xyz(black, dark);
    mil_lab_to_xyz(lab, xyz);
    for (int i = 0; i < 3; i++)
        xyz[i] = dark[i] + xyz[i] * (1 - dark[i] / white[i]);
    mil_xyz_to_lab(xyz, want);
    mil_output_asked(output, lab, asked);
    for (int i = 0; i < 3; i++)
        near(asked[i], want[i], .02);
    mil_output_free(output);
    output = print_to(made_path("rag.icc"), MILORI_ABSOLUTE, true);
    mil_output_asked(output, lab, asked);
    for (int i = 0; i < 3; i++)
        near(asked[i], lab[i], 1e-9);
    mil_output_free(output);
}

/* The made printer's codes, seen on its paper and from its paper's white. */
static void what_is_given(void **state) {
    (void)state;
    mil_output *output = print_to(made_path("rag.icc"), MILORI_RELATIVE, true);
    for (int i = 0; i < 27; i++) {
        const double rgb[3] = {i / 9 / 2., i / 3 % 3 / 2., i % 3 / 2.};
        uint16_t codes[3];
        double want[3], seen[3], from_white[3];
        for (int c = 0; c < 3; c++)
            codes[c] = (uint16_t)(rgb[c] * 65535 + .5);
        rag_lab(rgb, want);
        mil_output_given(output, codes, true, seen);
        assert_true(mil_ciede2000(seen, want) < 1);
        mil_output_given(output, codes, false, from_white);
        double Y = mil_luminance(want[0]) / mil_luminance(96);
        near(from_white[0], mil_lightness(Y), 1);
    }
    mil_output_free(output);
}

/* An output that a positive could have too gives the same codes to the bit. */
static void other_outputs_are_the_same(void **state) {
    (void)state;
    static const char *const profiles[] = {"", "/usr/share/color/icc/Gray.icc",
                                           "/usr/share/color/argyll/ref/ClayRGB1998.icm"};
    double lab[101][3];
    for (int i = 0; i < 101; i++)
        lab[i][0] = i, lab[i][1] = -i / 10., lab[i][2] = i / 4. - 25;
    for (size_t p = 0; p < 3; p++) {
        milori_context *ctx = milori_context_new();
        mil_output *plain, *print = print_to(profiles[p], MILORI_RELATIVE, true);
        uint16_t codes[303] = {0}, same[303] = {0};
        assert_int_equal(mil_output_new(ctx, profiles[p], MILORI_RELATIVE, true, &plain),
                         MILORI_OK);
        mil_output_line(plain, (const double(*)[3])lab, 101, codes);
        mil_output_line(print, (const double(*)[3])lab, 101, same);
        assert_memory_equal(codes, same, sizeof codes);
        mil_output_free(plain);
        mil_output_free(print);
        milori_context_free(ctx);
    }
}

static void what_is_refused(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_output *output;
    assert_int_equal(mil_output_new(ctx, made_path("29.icc"), MILORI_RELATIVE, true, &output),
                     MILORI_ERR_PROFILE);
    assert_non_null(strstr(milori_message(ctx), "it is for CMYK, and RGB or grey is needed"));
    milori_clear(ctx);
    assert_int_equal(mil_output_new_print(ctx, "/usr/share/color/icc/ITULab.icc", MILORI_RELATIVE,
                                          true, &output),
                     MILORI_ERR_PROFILE);
    assert_non_null(strstr(milori_message(ctx), "RGB, CMYK or grey is needed"));
    milori_context_free(ctx);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(inks_against_argyll),
                                       cmocka_unit_test(patches_are_as_measured),
                                       cmocka_unit_test(coated_cyan_is_beyond_uncoated_paper),
                                       cmocka_unit_test(blacks_are_found_in_the_only_tables),
                                       cmocka_unit_test(what_is_asked),
                                       cmocka_unit_test(what_is_given),
                                       cmocka_unit_test(other_outputs_are_the_same),
                                       cmocka_unit_test(what_is_refused)};
    return cmocka_run_group_tests(tests, make_profiles, remove_folder);
}
