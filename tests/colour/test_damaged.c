/* Broken profiles: an error that names the file, or something usable; under
 * ASan and UBSan never more. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdlib.h>
#include <unistd.h>

#include "colour/decode.h"
#include "colour/output.h"
#include "made_profiles.h"

static bool decodes(const uint8_t *bytes, size_t size, int channels) {
    mil_source_info info = {.path = "beans.tif",
                            .channels = channels,
                            .space = MIL_SPACE_ICC,
                            .icc = bytes,
                            .icc_size = size};
    milori_context *ctx = milori_context_new();
    milori_notes notes = {0};
    mil_decode *decode;
    milori_status status = mil_decode_new(ctx, &info, &notes, &decode);
    if (status == MILORI_OK) {
        const uint16_t codes[12] = {0, 0, 0, 65535, 65535, 65535, 20000, 9, 60000, 1, 2, 3};
        float light[12];
        mil_decode_row(decode, codes, 12 / (uint32_t)channels, light);
        for (int i = 0; i < 12; i++)
            assert_true(light[i] >= 0 && isfinite(light[i]));
        mil_decode_free(decode);
    } else {
        assert_int_equal(status, MILORI_ERR_PROFILE);
        assert_null(decode);
        assert_non_null(strstr(milori_message(ctx), "beans.tif: "));
    }
    mil_notes_free(&notes);
    milori_context_free(ctx);
    return status == MILORI_OK;
}

/* As a printer's, with every question that is asked of it. */
static void inks(const char *path, milori_intent intent) {
    milori_context *ctx = milori_context_new();
    mil_output *output;
    milori_status status = mil_output_new_print(ctx, path, intent, true, &output);
    if (status == MILORI_OK) {
        const double lab[2][3] = {{50, 20, -30}, {0, 0, 0}};
        uint16_t codes[8];
        double seen[3];
        mil_output_line(output, lab, 2, codes);
        mil_output_paper(output, seen);
        assert_true(isfinite(seen[0]) && isfinite(seen[1]) && isfinite(seen[2]));
        mil_output_given(output, codes, true, seen);
        mil_output_given(output, codes, false, seen);
        mil_output_asked(output, lab[0], seen);
        assert_true(mil_output_beyond(output, seen) >= 0);
        mil_output_free(output);
    } else {
        assert_int_equal(status, MILORI_ERR_PROFILE);
    }
    milori_context_free(ctx);
}

static void prints(const uint8_t *bytes, size_t size) {
    char path[] = "/tmp/milori-damaged-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, bytes, size), (ssize_t)size);
    close(fd);
    milori_context *ctx = milori_context_new();
    mil_output *output;
    milori_status status = mil_output_new(ctx, path, MILORI_RELATIVE, true, &output);
    if (status == MILORI_OK) {
        const double lab[2][3] = {{50, 20, -30}, {0, 0, 0}};
        uint16_t codes[6];
        mil_output_line(output, lab, 2, codes);
        mil_output_holds(output, lab[0]);
        mil_output_free(output);
    } else {
        assert_int_equal(status, MILORI_ERR_PROFILE);
        assert_non_null(strstr(milori_message(ctx), path));
    }
    milori_context_free(ctx);
    inks(path, (milori_intent)(size % 4));
    inks(path, MILORI_RELATIVE);
    unlink(path);
}

static void harm(const hand_icc *icc, int channels) {
    uint8_t *copy = malloc(icc->size);
    assert_non_null(copy);
    assert_true(decodes(icc->bytes, icc->size, channels));
    /* Cut off at 32 places: always seen; with its header made to fit: survived. */
    for (size_t i = 0; i < 32; i++) {
        size_t size = icc->size * i / 32;
        uint8_t *cut = malloc(size ? size : 1); /* so that ASan sees its end */
        assert_non_null(cut);
        memcpy(cut, icc->bytes, size);
        assert_false(decodes(cut, size, channels));
        if (size >= 128) {
            hand_put_u32(cut, size);
            decodes(cut, size, channels);
            prints(cut, size);
        }
        free(cut);
    }
    /* Flipped bytes, most of them in header and tag table. */
    uint32_t seed = 7;
    int usable = 0;
    for (int i = 0; i < 120; i++) {
        memcpy(copy, icc->bytes, icc->size);
        for (int k = 0; k < 1 + i % 3; k++) {
            seed = seed * 1664525 + 1013904223;
            size_t reach = i % 4 ? 400 : icc->size;
            copy[(seed >> 8) % (reach < icc->size ? reach : icc->size)] ^=
                (uint8_t)(1u << (seed >> 4 & 7));
        }
        usable += decodes(copy, icc->size, channels);
        if (i % 3 == 0)
            prints(copy, icc->size);
    }
    assert_in_range(usable, 1, 119);
    free(copy);
}

static void damaged_matrix(void **state) {
    (void)state;
    hand_icc two = hand_read("/usr/share/color/icc/sRGB.icc");
    hand_icc four = hand_read("/usr/share/color/icc/colord/AdobeRGB1998.icc");
    harm(&two, 3);
    harm(&four, 3);
    free(two.bytes);
    free(four.bytes);
}

static void damaged_grey(void **state) {
    (void)state;
    hand_icc icc = hand_read("/usr/share/color/icc/Gray.icc");
    harm(&icc, 1);
    free(icc.bytes);
}

static void scanner_back(const double *lab, double *rgb) {
    double p = lab[1] / 60, q = lab[2] / 50;
    rgb[1] = lab[0] / 100 - .25 * p + .15 * q;
    rgb[0] = rgb[1] + p;
    rgb[2] = rgb[1] - q;
}

static void damaged_printer(void **state) {
    (void)state;
    hand_icc icc =
        made_profile(2.4, cmsSigOutputClass, cmsSigRgbData, 2, made_scanner, scanner_back);
    harm(&icc, 3);
    free(icc.bytes);
}

static void damaged_tables(void **state) {
    (void)state;
    hand_icc icc = made_profile(4.3, cmsSigInputClass, cmsSigRgbData, 2, made_scanner, NULL);
    harm(&icc, 3);
    free(icc.bytes);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(damaged_matrix), cmocka_unit_test(damaged_grey),
        cmocka_unit_test(damaged_tables), cmocka_unit_test(damaged_printer)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
