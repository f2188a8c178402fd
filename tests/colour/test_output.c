/* CIELAB to the output profile. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdlib.h>
#include <unistd.h>

#include "colour/lab.h"
#include "colour/output.h"
#include "made_profiles.h"

#define near(a, b, tolerance) assert_true(fabs((a) - (b)) <= (tolerance))

static mil_output *output_to(const char *profile, milori_intent intent, bool black_point) {
    milori_context *ctx = milori_context_new();
    mil_output *output;
    milori_status status = mil_output_new(ctx, profile, intent, black_point, &output);
    if (status != MILORI_OK)
        print_message("%s\n", milori_message(ctx));
    assert_int_equal(status, MILORI_OK);
    milori_context_free(ctx);
    return output;
}

static void save(const hand_icc *icc, char path[]) {
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, icc->bytes, icc->size), (ssize_t)icc->size);
    close(fd);
}

static void refused(const char *path, milori_status status, const char *words) {
    milori_context *ctx = milori_context_new();
    mil_output *output;
    assert_int_equal(mil_output_new(ctx, path, MILORI_RELATIVE, true, &output), status);
    assert_null(output);
    assert_non_null(strstr(milori_message(ctx), path));
    if (!strstr(milori_message(ctx), words))
        print_message("\"%s\" not in \"%s\"\n", words, milori_message(ctx));
    assert_non_null(strstr(milori_message(ctx), words));
    milori_context_free(ctx);
}

/* ICC.1: date at byte 24, profile ID at 84, "desc" is a multiLocalizedUnicode. */
static void srgb_is_the_same_always(void **state) {
    (void)state;
    mil_output *one = output_to("", MILORI_RELATIVE, true);
    mil_output *two = output_to("", MILORI_PERCEPTUAL, false);
    size_t size, again;
    hand_icc icc;
    const uint8_t *bytes = mil_output_icc(one, &size), *other = mil_output_icc(two, &again);
    assert_int_equal(size, again);
    assert_memory_equal(bytes, other, size);
    static const uint8_t date[12] = {0x07, 0xcf, 0, 1, 0, 1};
    static const uint8_t zero[16] = {0};
    assert_memory_equal(bytes + 24, date, 12);
    assert_memory_equal(bytes + 84, zero, 16);
    assert_int_equal(hand_u32(bytes), size);
    icc.bytes = (uint8_t *)(uintptr_t)bytes;
    icc.size = size;
    const uint8_t *desc = hand_tag(&icc, "desc");
    assert_memory_equal(desc, "mluc", 4);
    assert_int_equal(hand_u32(desc + 20), 8);
    assert_memory_equal(desc + hand_u32(desc + 24), "\0s\0R\0G\0B", 8);
    mil_output_free(one);
    mil_output_free(two);
}

/* IEC 61966-2-1: codes of neutral light (REFERENCES; computed). */
static void srgb_codes(void **state) {
    (void)state;
    static const int code[6] = {10, 11, 64, 128, 188, 254};
    static const double light[6] = {.0030353, .0033465, .0512695, .2158605, .5028865, .9911021};
    mil_output *output = output_to("", MILORI_RELATIVE, true);
    assert_int_equal(mil_output_channels(output), 3);
    for (int i = 0; i < 6; i++) {
        const double lab[1][3] = {{mil_lightness(light[i]), 0, 0}};
        uint16_t out[3];
        mil_output_line(output, lab, 1, out);
        for (int c = 0; c < 3; c++)
            assert_in_range(out[c], 257 * code[i] - 1, 257 * code[i] + 1);
    }
    mil_output_free(output);
}

/* A colour by arithmetic: CIELAB to XYZ by its formula, to linear light by the
 * inverse of sRGB's D50 matrix (Lindbloom, from memory), by sRGB's curve. */
static void srgb_colours(void **state) {
    (void)state;
    static const double inverse[3][3] = {{3.1338561, -1.6168667, -.4906146},
                                         {-.9787684, 1.9161415, .0334540},
                                         {.0719453, -.2289914, 1.4052427}};
    static const double lab[4][3] = {{50, 10, -30}, {20, -1, -24}, {80, -10, -15}, {60, 15, 50}};
    mil_output *output = output_to("", MILORI_RELATIVE, true);
    uint16_t out[12];
    mil_output_line(output, lab, 4, out);
    for (int i = 0; i < 4; i++) {
        double y = (lab[i][0] + 16) / 116, f[3] = {y + lab[i][1] / 500, y, y - lab[i][2] / 200};
        const double white[3] = {.96422, 1, .82521}; /* his D50 */
        double xyz[3];
        for (int c = 0; c < 3; c++)
            xyz[c] =
                white[c] * (f[c] > 6. / 29 ? f[c] * f[c] * f[c] : (116 * f[c] - 16) * 27 / 24389);
        for (int c = 0; c < 3; c++) {
            double v = inverse[c][0] * xyz[0] + inverse[c][1] * xyz[1] + inverse[c][2] * xyz[2];
            double code = v <= .0031308 ? 12.92 * v : 1.055 * pow(v, 1 / 2.4) - .055;
            near(out[3 * i + c] / 257., code * 255, .1);
            assert_true(mil_output_holds(output, lab[i]));
        }
    }
    mil_output_free(output);
}

/* Every neutral of a long line has equal codes, and they rise, in sRGB and in
 * Debian's own matrix profiles; black and white are the ends. */
static void neutral_stays_neutral(void **state) {
    (void)state;
    static const char *const profiles[] = {
        "", "/usr/share/color/icc/sRGB.icc", "/usr/share/color/icc/colord/AdobeRGB1998.icc",
        "/usr/share/color/icc/colord/ProPhotoRGB.icc", "/usr/share/color/argyll/ref/DisplayP3.icm"};
    enum { COUNT = 16384 };
    static double lab[COUNT][3];
    static uint16_t codes[COUNT][3];
    for (int i = 0; i < COUNT; i++)
        lab[i][0] = 100. * i / (COUNT - 1);
    for (size_t p = 0; p < sizeof profiles / sizeof *profiles; p++) {
        mil_output *output = output_to(profiles[p], MILORI_RELATIVE, true);
        mil_output_line(output, lab, COUNT, codes[0]);
        for (int i = 0; i < COUNT; i++) {
            assert_int_equal(codes[i][0], codes[i][1]);
            assert_int_equal(codes[i][1], codes[i][2]);
            assert_true(i == 0 || codes[i][0] >= codes[i - 1][0]);
        }
        assert_in_range(codes[0][0], 0, 4);
        assert_int_equal(codes[COUNT - 1][0], 65535);
        mil_output_free(output);
    }
}

/* Against argyll's own reading of a version 2 profile. */
static void colours_against_argyll(void **state) {
    (void)state;
    static const char profile[] = "/usr/share/color/argyll/ref/ClayRGB1998.icm";
    static const double lab[4][3] = {{50, 20, -30}, {12, 1, -15}, {70, -20, 40}, {90, 0, 0}};
    char command[300], line[256];
    snprintf(command, sizeof command,
             "printf '50 20 -30\\n12 1 -15\\n70 -20 40\\n90 0 0\\n' | "
             "icclu -v0 -fb -ir -pl %s",
             profile);
    FILE *argyll = popen(command, "r");
    assert_non_null(argyll);
    mil_output *output = output_to(profile, MILORI_RELATIVE, false);
    uint16_t codes[12];
    mil_output_line(output, lab, 4, codes);
    for (int i = 0; i < 4; i++) {
        double rgb[3];
        assert_non_null(fgets(line, sizeof line, argyll));
        assert_int_equal(sscanf(line, "%lf %lf %lf", rgb, rgb + 1, rgb + 2), 3);
        for (int c = 0; c < 3; c++)
            near(codes[3 * i + c] / 65535., rgb[c], 2e-4);
    }
    pclose(argyll);
    mil_output_free(output);
}

static void grey_output(void **state) {
    (void)state;
    static const char path[] = "/usr/share/color/icc/Gray.icc";
    hand_icc icc = hand_read(path);
    mil_output *output = output_to(path, MILORI_RELATIVE, true);
    assert_int_equal(mil_output_channels(output), 1);
    size_t size;
    const uint8_t *embedded = mil_output_icc(output, &size);
    assert_int_equal(size, icc.size);
    assert_memory_equal(embedded, icc.bytes, size);
    const uint8_t *curve = hand_tag(&icc, "kTRC");
    bool is_lab = memcmp(icc.bytes + 20, "Lab ", 4) == 0;
    for (int L = 2; L <= 100; L += 7) {
        const double lab[1][3] = {{L, 0, 0}};
        uint16_t code;
        mil_output_line(output, lab, 1, &code);
        double light = hand_curve(curve, code / 65535.);
        near(is_lab ? 100 * light : mil_lightness(light), L, .02);
        assert_true(mil_output_holds(output, lab[0]));
    }
    static const double coloured[3] = {50, 0, -10};
    assert_false(mil_output_holds(output, coloured));
    mil_output_free(output);
    free(icc.bytes);
}

static void gamut(void **state) {
    (void)state;
    mil_output *output = output_to("", MILORI_RELATIVE, true);
    /* The primaries and white of sRGB in CIELAB D50 (Lindbloom, from memory) lie
     * at its edge; a little less is inside, a good deal more is not. */
    static const double primaries[3][3] = {
        {54.29, 80.81, 69.89}, {87.82, -79.29, 80.99}, {29.57, 68.30, -112.03}};
    for (int i = 0; i < 3; i++) {
        const double *p = primaries[i];
        const double less[3] = {p[0], .97 * p[1], .97 * p[2]};
        const double more[3] = {p[0], 1.15 * p[1], 1.15 * p[2]};
        assert_true(mil_output_holds(output, less));
        assert_false(mil_output_holds(output, more));
    }
    mil_output_free(output);
}

/* A printer whose black is L* 15. */
static void printer_lab(const double *rgb, double *lab) {
    lab[0] = 15 + 85 * (.3 * rgb[0] + .6 * rgb[1] + .1 * rgb[2]);
    lab[1] = 60 * (rgb[0] - rgb[1]);
    lab[2] = 60 * (rgb[1] - rgb[2]);
}

static void printer_rgb(const double *lab, double *rgb) {
    double y = (lab[0] - 15) / 85, p = lab[1] / 60, q = lab[2] / 60;
    rgb[1] = y - .3 * p + .1 * q;
    rgb[0] = rgb[1] + p;
    rgb[2] = rgb[1] - q;
}

static void black_point_keeps_shadows_apart(void **state) {
    (void)state;
    hand_icc icc = made_profile(4.3, cmsSigOutputClass, cmsSigRgbData, 1, printer_lab, printer_rgb);
    char path[] = "/tmp/milori-printer-XXXXXX";
    save(&icc, path);
    static const double lab[5][3] = {{0, 0, 0}, {6, 0, 0}, {12, 0, 0}, {30, 0, 0}, {100, 0, 0}};
    uint16_t fitted[5][3], clipped[5][3];
    mil_output *on = output_to(path, MILORI_RELATIVE, true);
    mil_output *off = output_to(path, MILORI_RELATIVE, false);
    mil_output_line(on, lab, 5, fitted[0]);
    mil_output_line(off, lab, 5, clipped[0]);
    /* Fitted: L* 0 is the black, and a shadow above it is well above. Y is fitted
     * along a line, so that L* 12 becomes L* 21.2: by hand, from Y. */
    double black = mil_luminance(15);
    for (int i = 0; i < 5; i++) {
        double want = mil_lightness(black + mil_luminance(lab[i][0]) * (1 - black));
        near(15 + 85 * (fitted[i][1] / 65535.), want, .7);
    }
    assert_true(fitted[1][1] > fitted[0][1] + 400 && fitted[2][1] > fitted[1][1] + 1000);
    /* Clipped: everything below that black is it. */
    for (int i = 0; i < 3; i++)
        assert_in_range(clipped[i][1], 0, 400);
    near(15 + 85 * (clipped[3][1] / 65535.), 30, .1);
    assert_true(fitted[4][1] > 65200 && clipped[4][1] > 65200);
    /* The gamut asks about the colour that will be printed. */
    assert_true(mil_output_holds(on, lab[1]));
    assert_false(mil_output_holds(off, lab[1]));
    assert_true(mil_output_holds(off, lab[3]));
    mil_output_free(on);
    mil_output_free(off);
    unlink(path);
    free(icc.bytes);
}

static void four_inks(const double *cmyk, double *lab) {
    lab[0] = 100 - 25 * (cmyk[0] + cmyk[1] + cmyk[2] + cmyk[3]);
    lab[1] = lab[2] = 0;
}

static void what_is_refused(void **state) {
    (void)state;
    hand_icc icc = made_profile(4.3, cmsSigOutputClass, cmsSigCmykData, 1, four_inks, NULL);
    char path[] = "/tmp/milori-inks-XXXXXX";
    save(&icc, path);
    refused(path, MILORI_ERR_PROFILE, "it is for CMYK, and RGB or grey is needed");
    free(icc.bytes);
    unlink(path);
    /* Tables into Lab only: a scanner's profile is no printer's. */
    icc = made_profile(4.3, cmsSigInputClass, cmsSigRgbData, 1, made_scanner, NULL);
    char scanner[] = "/tmp/milori-scanner-XXXXXX";
    save(&icc, scanner);
    refused(scanner, MILORI_ERR_PROFILE, "does not serve for output");
    free(icc.bytes);
    unlink(scanner);
    refused("/usr/share/color/icc/FOGRA39L.ti3", MILORI_ERR_PROFILE, "cut off");
    refused("/usr/share/color/icc/ITULab.icc", MILORI_ERR_PROFILE, "Lab");
    refused("/nowhere/shed.icc", MILORI_ERR_OPEN, "cannot be opened");
    milori_context *ctx = milori_context_new();
    mil_output *output;
    assert_int_equal(mil_output_new(ctx, "", (milori_intent)9, true, &output), MILORI_ERR_ARGUMENT);
    milori_context_free(ctx);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(srgb_is_the_same_always),
                                       cmocka_unit_test(srgb_codes),
                                       cmocka_unit_test(srgb_colours),
                                       cmocka_unit_test(neutral_stays_neutral),
                                       cmocka_unit_test(colours_against_argyll),
                                       cmocka_unit_test(grey_output),
                                       cmocka_unit_test(gamut),
                                       cmocka_unit_test(black_point_keeps_shadows_apart),
                                       cmocka_unit_test(what_is_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
