/* Scanner profiles with look-up tables: to ROMM light, by arithmetic and by
 * argyll's own reading of the same file. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdlib.h>
#include <unistd.h>

#include "colour/decode.h"
#include "colour/lab.h"
#include "made_profiles.h"

#define near(a, b, tolerance) assert_true(fabs((a) - (b)) <= (tolerance))

static mil_decode *decode_of(int channels, const hand_icc *icc) {
    mil_source_info info = {.path = "beans.tif",
                            .channels = channels,
                            .space = MIL_SPACE_ICC,
                            .icc = icc->bytes,
                            .icc_size = icc->size};
    milori_context *ctx = milori_context_new();
    milori_notes notes = {0};
    mil_decode *decode;
    assert_int_equal(mil_decode_new(ctx, &info, &notes, &decode), MILORI_OK);
    assert_int_equal(notes.count, 0);
    milori_context_free(ctx);
    return decode;
}

/* ROMM to XYZ for D50 (ISO 22028-2 as Lindbloom prints it, from memory; his D50
 * is .96422 1 .82521, ICC's .9642 1 .8249). */
static void romm_light(void **state) {
    (void)state;
    static const double romm[3][3] = {
        {.7976749, .1351917, .0313534}, {.2880402, .7118741, .0000857}, {0, 0, .8252100}};
    static const double d50[3] = {.9642, 1, .8249};
    hand_icc icc = made_profile(4.3, cmsSigInputClass, cmsSigRgbData, 2, made_scanner, NULL);
    mil_decode *decode = decode_of(3, &icc);
    assert_int_equal(decode->kind, MIL_DECODE_GRID);
    assert_string_equal(decode->name, "potting shed scanner");
    for (int i = 0; i < 3; i++) {
        double sum = 0;
        for (int j = 0; j < 3; j++) {
            near(decode->to_xyz[i][j], romm[i][j], 4e-4);
            sum += decode->to_xyz[i][j];
        }
        near(sum, d50[i], 1e-9);
    }
    mil_decode_free(decode);
    free(icc.bytes);
}

/* The pixel's colour in a scanner of squared codes, by arithmetic alone, in
 * XYZ; what ROMM cannot hold is left to the caller. */
static void scanner_xyz(const uint16_t code[3], double xyz[3]) {
    double rgb[3], lab[3];
    for (int c = 0; c < 3; c++)
        rgb[c] = code[c] / 65535. * (code[c] / 65535.);
    made_scanner(rgb, lab);
    mil_lab_to_xyz(lab, xyz);
}

enum { PIXELS = 4000 };

static void fill_codes(uint16_t (*codes)[3]) {
    uint32_t seed = 1;
    for (int i = 0; i < PIXELS; i++)
        for (int c = 0; c < 3; c++) {
            seed = seed * 1664525 + 1013904223;
            /* Every other pixel near grey, as scans are. */
            codes[i][c] = i % 2 && c ? (uint16_t)(codes[i][0] / 8 * 7 + (seed >> 19))
                                     : (uint16_t)(seed >> 16);
        }
}

static void grid_against_arithmetic(void **state) {
    (void)state;
    static uint16_t codes[PIXELS][3];
    static float light[PIXELS][3], again[PIXELS][3];
    fill_codes(codes);
    hand_icc icc = made_profile(4.3, cmsSigInputClass, cmsSigRgbData, 2, made_scanner, NULL);
    mil_decode *decode = decode_of(3, &icc);
    mil_decode_row(decode, codes[0], PIXELS, light[0]);
    int held = 0;
    double worst = 0;
    for (int i = 0; i < PIXELS; i++) {
        double xyz[3];
        scanner_xyz(codes[i], xyz);
        bool inside = true;
        for (int c = 0; c < 3; c++) {
            assert_true(light[i][c] >= 0 && light[i][c] < 2);
            inside = inside && light[i][c] > 0;
        }
        for (int r = 0; inside && r < 3; r++) {
            double got = 0;
            for (int c = 0; c < 3; c++)
                got += decode->to_xyz[r][c] * light[i][c];
            worst = fmax(worst, fabs(got - xyz[r]));
        }
        held += inside;
    }
    print_message("look-up table against arithmetic: XYZ off by %.1e at most\n", worst);
    assert_true(held > PIXELS / 2);
    near(worst, 0, 6e-5); /* the grid's 16 bit L*, a*, b* */
    /* Pixel by pixel gives the same to the bit as a row. */
    for (int i = 0; i < PIXELS; i++)
        mil_decode_row(decode, codes[i], 1, again[i]);
    assert_memory_equal(light, again, sizeof light);
    mil_decode_free(decode);
    free(icc.bytes);
}

/* argyll reads the same file by code of its own (version 2 profiles only). */
static void grid_against_argyll(void **state) {
    (void)state;
    hand_icc icc = made_profile(2.4, cmsSigInputClass, cmsSigRgbData, 1.8, made_scanner, NULL);
    char path[] = "/tmp/milori-grid-XXXXXX", command[200], line[256];
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, icc.bytes, icc.size), (ssize_t)icc.size);
    close(fd);
    snprintf(command, sizeof command,
             "printf '.9 .8 .7\\n.3 .5 .6\\n.2 .15 .1\\n.05 .06 .07\\n1 1 1\\n' | "
             "icclu -v0 -ff -ir -px %s",
             path);
    FILE *argyll = popen(command, "r");
    assert_non_null(argyll);
    static const double rgb[5][3] = {
        {.9, .8, .7}, {.3, .5, .6}, {.2, .15, .1}, {.05, .06, .07}, {1, 1, 1}};
    mil_decode *decode = decode_of(3, &icc);
    assert_int_equal(decode->kind, MIL_DECODE_GRID);
    for (int i = 0; i < 5; i++) {
        double xyz[3];
        uint16_t code[3];
        float light[3];
        assert_non_null(fgets(line, sizeof line, argyll));
        assert_int_equal(sscanf(line, "%lf %lf %lf", xyz, xyz + 1, xyz + 2), 3);
        for (int c = 0; c < 3; c++)
            code[c] = (uint16_t)(rgb[i][c] * 65535 + .5);
        mil_decode_row(decode, code, 1, light);
        for (int r = 0; r < 3; r++) {
            double got = 0;
            for (int c = 0; c < 3; c++)
                got += decode->to_xyz[r][c] * light[c];
            near(got, xyz[r], 1.2e-4);
        }
    }
    pclose(argyll);
    unlink(path);
    mil_decode_free(decode);
    free(icc.bytes);
}

/* A profile with tables and with matrix and curves: ICC.1 puts the tables first. */
static void tables_before_matrix(void **state) {
    (void)state;
    hand_icc icc = made_profile(4.3, cmsSigInputClass, cmsSigRgbData, 2, made_scanner, NULL);
    cmsHPROFILE both = cmsOpenProfileFromMem(icc.bytes, (cmsUInt32Number)icc.size);
    cmsHPROFILE srgb = cmsCreate_sRGBProfile();
    cmsHPROFILE made = cmsCreateProfilePlaceholder(NULL);
    static const cmsTagSignature tags[] = {cmsSigRedColorantTag,  cmsSigGreenColorantTag,
                                           cmsSigBlueColorantTag, cmsSigRedTRCTag,
                                           cmsSigGreenTRCTag,     cmsSigBlueTRCTag};
    cmsSetProfileVersion(made, 4.3);
    cmsSetDeviceClass(made, cmsSigInputClass);
    cmsSetColorSpace(made, cmsSigRgbData);
    cmsSetPCS(made, cmsSigLabData);
    for (int i = 0; i < 6; i++)
        cmsWriteTag(made, tags[i], cmsReadTag(srgb, tags[i]));
    cmsWriteTag(made, cmsSigAToB0Tag, cmsReadTag(both, cmsSigAToB0Tag));
    hand_icc file = {malloc(1 << 20), 0};
    cmsUInt32Number size = 1 << 20;
    assert_true(cmsSaveProfileToMem(made, file.bytes, &size));
    file.size = size;
    mil_decode *decode = decode_of(3, &file);
    assert_int_equal(decode->kind, MIL_DECODE_GRID);
    mil_decode_free(decode);
    cmsCloseProfile(both);
    cmsCloseProfile(srgb);
    cmsCloseProfile(made);
    free(file.bytes);
    free(icc.bytes);
}

static void grey_lightness(const double *grey, double *lab) {
    lab[0] = 100 * grey[0];
    lab[1] = lab[2] = 0;
}

static void grey_tables_are_one_table(void **state) {
    (void)state;
    hand_icc icc = made_profile(4.3, cmsSigInputClass, cmsSigGrayData, 1, grey_lightness, NULL);
    mil_decode *decode = decode_of(1, &icc);
    assert_int_equal(decode->kind, MIL_DECODE_TABLES);
    for (uint32_t code = 0; code < 65536; code += 17)
        near(decode->table[0][code], mil_luminance(code / 655.35), 3e-5);
    mil_decode_free(decode);
    free(icc.bytes);
}

static void upside_down(const double *rgb, double *lab) {
    const double turned[3] = {1 - rgb[0], 1 - rgb[1], 1 - rgb[2]};
    made_scanner(turned, lab);
}

static void a_negative_profile_is_refused(void **state) {
    (void)state;
    hand_icc icc = made_profile(4.3, cmsSigInputClass, cmsSigRgbData, 1, upside_down, NULL);
    mil_source_info info = {.path = "beans.tif",
                            .channels = 3,
                            .space = MIL_SPACE_ICC,
                            .icc = icc.bytes,
                            .icc_size = icc.size};
    milori_context *ctx = milori_context_new();
    milori_notes notes = {0};
    mil_decode *decode;
    assert_int_equal(mil_decode_new(ctx, &info, &notes, &decode), MILORI_ERR_PROFILE);
    assert_non_null(strstr(milori_message(ctx), "beans.tif"));
    assert_non_null(strstr(milori_message(ctx), "white is not lighter"));
    milori_context_free(ctx);
    free(icc.bytes);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(romm_light),
                                       cmocka_unit_test(grid_against_arithmetic),
                                       cmocka_unit_test(grid_against_argyll),
                                       cmocka_unit_test(tables_before_matrix),
                                       cmocka_unit_test(grey_tables_are_one_table),
                                       cmocka_unit_test(a_negative_profile_is_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
