/* Code values to linear light, against standards and profiles read by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdlib.h>

#include "colour/decode.h"
#include "colour/lab.h"
#include "icc_by_hand.h"

#define near(a, b, tolerance) assert_true(fabs((a) - (b)) <= (tolerance))

static mil_decode *decode_of(const mil_source_info *info, milori_notes *notes) {
    milori_context *ctx = milori_context_new();
    mil_decode *decode;
    milori_status status = mil_decode_new(ctx, info, notes, &decode);
    if (status != MILORI_OK)
        print_message("%s\n", milori_message(ctx));
    assert_int_equal(status, MILORI_OK);
    milori_context_free(ctx);
    return decode;
}

/* Fails with MILORI_ERR_PROFILE and a line that names the file and holds words. */
static void refused(const mil_source_info *info, const char *words) {
    milori_context *ctx = milori_context_new();
    milori_notes notes = {0};
    mil_decode *decode;
    assert_int_equal(mil_decode_new(ctx, info, &notes, &decode), MILORI_ERR_PROFILE);
    assert_null(decode);
    assert_non_null(strstr(milori_message(ctx), info->path));
    if (!strstr(milori_message(ctx), words))
        print_message("\"%s\" not in \"%s\"\n", words, milori_message(ctx));
    assert_non_null(strstr(milori_message(ctx), words));
    mil_notes_free(&notes);
    milori_context_free(ctx);
}

static mil_source_info scan_of(int channels, const hand_icc *icc) {
    mil_source_info info = {.path = "beans.tif", .channels = channels, .space = MIL_SPACE_NONE};
    if (icc) {
        info.space = MIL_SPACE_ICC;
        info.icc = icc->bytes;
        info.icc_size = icc->size;
    }
    return info;
}

/* IEC 61966-2-1: linear values of 8 bit codes (REFERENCES; computed). */
static void srgb_codes(void **state) {
    (void)state;
    static const int code[6] = {10, 11, 64, 128, 188, 254};
    static const double light[6] = {.0030353, .0033465, .0512695, .2158605, .5028865, .9911021};
    for (int channels = 1; channels <= 3; channels += 2) {
        mil_source_info info = scan_of(channels, NULL);
        milori_notes notes = {0};
        mil_decode *decode = decode_of(&info, &notes);
        assert_true(decode->assumed);
        assert_string_equal(decode->name, "sRGB (assumed)");
        assert_int_equal(notes.count, 1);
        assert_string_equal(notes.note[0].code, "profile");
        for (int i = 0; i < 6; i++) {
            uint16_t pixel[3] = {(uint16_t)(257 * code[i]), (uint16_t)(257 * code[i]), 65535};
            float out[3];
            mil_decode_row(decode, pixel, 1, out);
            near(out[0], light[i], 1e-7);
            if (channels == 3) {
                near(out[1], light[i], 1e-7);
                near(out[2], 1, 1e-7);
            }
        }
        mil_notes_free(&notes);
        mil_decode_free(decode);
    }
}

/* sRGB's primaries adapted to D50 by Bradford (Lindbloom's table, from memory;
 * his D50 is .96422 1 .82521, which is why the tolerance is no smaller). */
static const double srgb_d50[3][3] = {
    {.4360747, .3850649, .1430804}, {.2225045, .7168786, .0606169}, {.0139322, .0971045, .7141733}};

static void png_gamma(void **state) {
    (void)state;
    milori_notes notes = {0};
    mil_source_info info = scan_of(3, NULL);
    info.space = MIL_SPACE_GAMMA;
    info.gamma = .45455;
    for (int pass = 0; pass < 2; pass++) {
        const double chrm[8] = {.3127, .3290, .64, .33, .30, .60, .15, .06};
        info.has_chrm = pass == 1;
        memcpy(info.chrm, chrm, sizeof chrm);
        mil_decode *decode = decode_of(&info, &notes);
        for (int i = 0; i < 3; i++)
            for (int j = 0; j < 3; j++)
                near(decode->to_xyz[i][j], srgb_d50[i][j], 3e-4);
        /* A pure power, not sRGB's curve (PNG 1.2, 4.2.2.1 gAMA). */
        for (int code = 0; code < 65536; code += 257)
            near(decode->table[1][code], pow(code / 65535., 1 / .45455), 1e-6);
        assert_string_equal(decode->name, "PNG gamma 0.45455");
        mil_decode_free(decode);
    }
    info.channels = 1;
    info.gamma = 1;
    mil_decode *linear = decode_of(&info, &notes);
    near(linear->table[0][16384], 16384 / 65535., 1e-7);
    mil_decode_free(linear);
    assert_int_equal(notes.count, 0);
    info.gamma = 0;
    refused(&info, "gAMA");
    info.gamma = .45455;
    info.channels = 3;
    info.chrm[3] = 0;
    refused(&info, "cHRM");
}

static void compare_table(const float *table, const uint8_t *curve) {
    double worst = 0;
    for (uint32_t code = 0; code < 65536; code++) {
        double x = code / 65535., want = fmin(fmax(hand_curve(curve, x), 0), 1);
        worst = fmax(worst, fabs(table[code] - want));
    }
    near(worst, 0, 3e-7);
}

/* Profiles of Debian's icc-profiles-free, colord-data and argyll-ref, version 2
 * and 4, gamma, table and parametric curves: the tags read by hand. */
static void matrix_profiles(void **state) {
    (void)state;
    static const char *const paths[] = {"/usr/share/color/icc/sRGB.icc",
                                        "/usr/share/color/icc/LStar-RGB.icc",
                                        "/usr/share/color/icc/compatibleWithAdobeRGB1998.icc",
                                        "/usr/share/color/icc/colord/AdobeRGB1998.icc",
                                        "/usr/share/color/icc/colord/ProPhotoRGB.icc",
                                        "/usr/share/color/icc/colord/ECI-RGBv2.icc",
                                        "/usr/share/color/icc/colord/sRGB.icc",
                                        "/usr/share/color/argyll/ref/ClayRGB1998.icm",
                                        "/usr/share/color/argyll/ref/ProPhotoLin.icm",
                                        "/usr/share/color/argyll/ref/Rec2020.icm"};
    int versions = 0;
    for (size_t p = 0; p < sizeof paths / sizeof *paths; p++) {
        static const char *const xyz[3] = {"rXYZ", "gXYZ", "bXYZ"};
        static const char *const trc[3] = {"rTRC", "gTRC", "bTRC"};
        static const double d50[3] = {.9642, 1, .8249};
        hand_icc icc = hand_read(paths[p]);
        assert_non_null(icc.bytes);
        versions |= 1 << icc.bytes[8];
        mil_source_info info = scan_of(3, &icc);
        milori_notes notes = {0};
        mil_decode *decode = decode_of(&info, &notes);
        assert_int_equal(decode->kind, MIL_DECODE_TABLES);
        assert_false(decode->assumed);
        for (int c = 0; c < 3; c++) {
            double sum = 0;
            for (int i = 0; i < 3; i++)
                near(decode->to_xyz[i][c], hand_fixed(hand_tag(&icc, xyz[c]) + 8 + 4 * i), 1e-12);
            for (int j = 0; j < 3; j++)
                sum += decode->to_xyz[c][j];
            near(sum, d50[c], 4e-4); /* ICC.1: R = G = B = 1 is the white, D50 */
            compare_table(decode->table[c], hand_tag(&icc, trc[c]));
        }
        assert_int_equal(notes.count, 0);
        mil_decode_free(decode);
        free(icc.bytes);
    }
    assert_int_equal(versions, 1 << 2 | 1 << 4);
}

/* Grey profiles of icc-profiles-free: kTRC by hand; a Lab connection space's
 * curve is L* (ICC.1, monochrome input profiles). */
static void grey_profiles(void **state) {
    (void)state;
    static const char *const paths[] = {"/usr/share/color/icc/Gray.icc",
                                        "/usr/share/color/icc/Gray-CIE_L.icc"};
    for (int p = 0; p < 2; p++) {
        hand_icc icc = hand_read(paths[p]);
        assert_non_null(icc.bytes);
        mil_source_info info = scan_of(1, &icc);
        milori_notes notes = {0};
        mil_decode *decode = decode_of(&info, &notes);
        bool lab = memcmp(icc.bytes + 20, "Lab ", 4) == 0;
        const uint8_t *curve = hand_tag(&icc, "kTRC");
        for (uint32_t code = 0; code < 65536; code += 5) {
            double want = hand_curve(curve, code / 65535.);
            near(decode->table[0][code], lab ? mil_luminance(100 * want) : want, 3e-7);
        }
        near(decode->to_xyz[0][0], .9642, 1e-4);
        near(decode->to_xyz[0][1], 1, 1e-4);
        near(decode->to_xyz[0][2], .8249, 1e-4);
        mil_decode_free(decode);
        info.channels = 3;
        refused(&info, "is for grey, the picture is RGB");
        free(icc.bytes);
    }
}

static void wrong_kinds_are_refused(void **state) {
    (void)state;
    static const char *const cases[][2] = {{"/usr/share/color/icc/ITULab.icc", "Lab"},
                                           {"/usr/share/color/icc/colord/x11-colors.icc", "named"},
                                           {"/usr/share/color/icc/FOGRA39L.ti3", "cut off"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        hand_icc icc = hand_read(cases[i][0]);
        assert_non_null(icc.bytes);
        mil_source_info info = scan_of(3, &icc);
        refused(&info, cases[i][1]);
        free(icc.bytes);
    }
    hand_icc icc = hand_read("/usr/share/color/icc/sRGB.icc");
    mil_source_info info = scan_of(1, &icc);
    refused(&info, "is for RGB, the picture is grey");
    memcpy(icc.bytes + 16, "CMYK", 4);
    refused(&info, "CMYK");
    memcpy(icc.bytes + 12, "link", 4);
    refused(&info, "links two devices");
    memcpy(icc.bytes + 12, "abst", 4);
    refused(&info, "describes no device");
    info.icc_size = 0;
    refused(&info, "cut off");
    free(icc.bytes);
}

/* A falling curve is refused, one with a dip of a rounding's size levelled. */
static void curves_rise(void **state) {
    (void)state;
    hand_icc icc = hand_read("/usr/share/color/icc/sRGB.icc");
    mil_source_info info = scan_of(3, &icc);
    uint8_t *curve = icc.bytes + (hand_tag(&icc, "gTRC") - icc.bytes);
    uint32_t n = hand_u32(curve + 8), middle = n / 2;
    assert_true(n > 100);
    uint8_t *e = curve + 12 + 2 * middle;
    unsigned before = (unsigned)(e[-2] << 8 | e[-1]);
    e[0] = (uint8_t)((before - 20) >> 8);
    e[1] = (uint8_t)(before - 20);
    milori_notes notes = {0};
    mil_decode *decode = decode_of(&info, &notes);
    for (int code = 1; code < 65536; code++)
        assert_true(decode->table[1][code] >= decode->table[1][code - 1]);
    mil_decode_free(decode);
    e[0] = e[1] = 0;
    refused(&info, "falls");
    for (uint32_t i = 0; i < 2 * n; i++)
        curve[12 + i] = 0x80;
    refused(&info, "flat");
    free(icc.bytes);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(srgb_codes),
                                       cmocka_unit_test(png_gamma),
                                       cmocka_unit_test(matrix_profiles),
                                       cmocka_unit_test(grey_profiles),
                                       cmocka_unit_test(wrong_kinds_are_refused),
                                       cmocka_unit_test(curves_rise)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
