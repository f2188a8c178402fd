/* What JPEG files keep in their segments, written segment by segment. */
#include "scan/source_help.h"

#include <math.h>

#include <jpeglib.h>

#include "scan/app_segments.h"
#include "scan/exif.h"

typedef struct piece {
    int marker;
    const char *bytes;
    unsigned size;
} piece;

enum { APP1 = JPEG_APP0 + 1, APP2 = JPEG_APP0 + 2, SIDE = 8 };

static void write_file(const char *path, int unit, const piece *pieces, size_t count) {
    struct jpeg_compress_struct j;
    struct jpeg_error_mgr errors;
    j.err = jpeg_std_error(&errors);
    jpeg_create_compress(&j);
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    jpeg_stdio_dest(&j, f);
    j.image_width = j.image_height = SIDE;
    j.input_components = 1;
    j.in_color_space = JCS_GRAYSCALE;
    jpeg_set_defaults(&j);
    j.density_unit = (UINT8)unit;
    j.X_density = 120;
    j.Y_density = 60;
    jpeg_start_compress(&j, TRUE);
    for (size_t i = 0; i < count; i++)
        jpeg_write_marker(&j, pieces[i].marker, (const JOCTET *)pieces[i].bytes, pieces[i].size);
    JSAMPLE row[SIDE] = {0};
    JSAMPROW rows = row;
    for (int y = 0; y < SIDE; y++)
        jpeg_write_scanlines(&j, &rows, 1);
    jpeg_finish_compress(&j);
    jpeg_destroy_compress(&j);
    fclose(f);
}

#define ICC(number, of, text)                                                                      \
    { APP2, "ICC_PROFILE\0" number of text, sizeof("ICC_PROFILE\0" number of text) - 1 }

static void profile_parts_are_joined_in_order(void **state) {
    help *h = *state;
    const char *path = help_path(h, "parts.jpg");
    const piece pieces[] = {ICC("\3", "\3", "shed"),
                            {APP2, "FPXR", 4},
                            ICC("\1", "\3", "bean "),
                            ICC("\2", "\3", "pole ")};
    write_file(path, 1, pieces, 4);
    mil_source *s = help_open(h, path);
    const mil_source_info *i = mil_source_info_of(s);
    assert_int_equal(i->space, MIL_SPACE_ICC);
    assert_int_equal(i->icc_size, 14);
    assert_memory_equal(i->icc, "bean pole shed", 14);
    mil_source_close(s);
}

static void broken_profiles_are_refused(void **state) {
    help *h = *state;
    const char *path = help_path(h, "broken.jpg");
    const piece missing[] = {ICC("\1", "\3", "a"), ICC("\3", "\3", "c")};
    const piece first_missing[] = {ICC("\2", "\2", "b")};
    const piece doubled[] = {ICC("\1", "\2", "a"), ICC("\2", "\2", "b"), ICC("\1", "\2", "a")};
    const piece disagree[] = {ICC("\1", "\2", "a"), ICC("\2", "\3", "b")};
    const piece past[] = {ICC("\2", "\1", "b")};
    const piece zero[] = {ICC("\0", "\1", "b")};
    const piece none[] = {{APP2, "ICC_PROFILE\0", 12}};
    write_file(path, 1, missing, 2);
    help_refused(h, path, MILORI_ERR_PROFILE, "missing");
    write_file(path, 1, first_missing, 1);
    help_refused(h, path, MILORI_ERR_PROFILE, "missing");
    write_file(path, 1, doubled, 3);
    help_refused(h, path, MILORI_ERR_PROFILE, "twice");
    write_file(path, 1, disagree, 2);
    help_refused(h, path, MILORI_ERR_PROFILE, "disagree");
    write_file(path, 1, past, 1);
    help_refused(h, path, MILORI_ERR_PROFILE, "number");
    write_file(path, 1, zero, 1);
    help_refused(h, path, MILORI_ERR_PROFILE, "number");
    write_file(path, 1, none, 1);
    help_refused(h, path, MILORI_ERR_PROFILE, "number");
}

/* CIPA DC-008: orientation 5, 300 x 150 an inch, software, ColorSpace 1; in both
 * byte orders. */
static const char little[] = "II*\0\x08\0\0\0" /* directory at 8 */
                             "\6\0"
                             "\x12\1\3\0\1\0\0\0\5\0\0\0"
                             "\x1a\1\5\0\1\0\0\0\x70\0\0\0"
                             "\x1b\1\5\0\1\0\0\0\x78\0\0\0"
                             "\x28\1\3\0\1\0\0\0\2\0\0\0"
                             "\x31\1\2\0\5\0\0\0\x80\0\0\0"
                             "\x69\x87\4\0\1\0\0\0\x56\0\0\0"
                             "\0\0\0\0" /* 82..86 */
                             "\1\0"
                             "\1\xa0\3\0\1\0\0\0\1\0\0\0"
                             "\0\0\0\0"
                             "\0\0\0\0\0\0\0\0" /* 104..112 */
                             "\x2c\1\0\0\1\0\0\0"
                             "\x2c\1\0\0\2\0\0\0"
                             "rake";
static const char big[] = "MM\0*\0\0\0\x08"
                          "\0\2"
                          "\1\x12\0\3\0\0\0\1\0\5\0\0"
                          "\1\x31\0\2\0\0\0\3\x68\x6f\x65\0" /* "hoe", in the entry */
                          "\0\0\0\0";

static void exif_is_read_in_both_orders(void **state) {
    (void)state;
    mil_exif e;
    mil_exif_parse((const uint8_t *)little, sizeof little, &e);
    assert_int_equal(e.orientation, 5);
    assert_true(e.dpi[0] == 300 && e.dpi[1] == 150 && e.srgb);
    assert_int_equal(e.software_size, 4);
    assert_memory_equal(e.software, "rake", 4);
    mil_exif_parse((const uint8_t *)big, sizeof big, &e);
    assert_int_equal(e.orientation, 5);
    assert_memory_equal(e.software, "hoe", 3);
    assert_true(e.dpi[0] == 0 && !e.srgb);
}

/* Cut anywhere and with any byte changed: parsed inside its bytes (ASan), and
 * what it says stays in range. */
static void broken_exif_counts_as_absent(void **state) {
    (void)state;
    for (size_t size = 0; size < sizeof little; size++) {
        uint8_t *cut = malloc(size ? size : 1);
        memcpy(cut, little, size);
        mil_exif e;
        mil_exif_parse(cut, size, &e);
        assert_true(e.orientation == (size < 22 ? 1 : 5));
        free(cut);
    }
    for (size_t at = 0; at < sizeof little; at++)
        for (int v = 0; v < 256; v++) {
            uint8_t *changed = malloc(sizeof little);
            memcpy(changed, little, sizeof little);
            changed[at] = (uint8_t)v;
            mil_exif e;
            mil_exif_parse(changed, sizeof little, &e);
            assert_true(e.orientation >= 1 && e.orientation <= 8);
            assert_true(isfinite(e.dpi[0]) && e.dpi[0] >= 0);
            assert_true(!e.software || e.software + e.software_size <= changed + sizeof little);
            free(changed);
        }
}

/* JFIF's density comes before Exif's; its unit 0 says nothing. */
static void resolution_xmp_and_software(void **state) {
    help *h = *state;
    const char *path = help_path(h, "segments.jpg");
    char exif[6 + sizeof little] = "Exif\0";
    memcpy(exif + 6, little, sizeof little);
    static const char xmp[] = "http://ns.adobe.com/xap/1.0/\0<x/>";
    const piece pieces[] = {{APP1, exif, sizeof exif}, {APP1, xmp, sizeof xmp - 1}};
    const double dpi[3][2] = {{300, 150}, {120, 60}, {120 * 2.54, 60 * 2.54}};
    for (int unit = 0; unit < 3; unit++) {
        write_file(path, unit, pieces, 2);
        mil_source *s = help_open(h, path);
        const mil_source_info *i = mil_source_info_of(s);
        assert_true(fabs(i->dpi[0] - dpi[unit][0]) < 1e-9);
        assert_true(fabs(i->dpi[1] - dpi[unit][1]) < 1e-9);
        assert_int_equal(i->orientation, 5);
        assert_int_equal(i->space, MIL_SPACE_SRGB);
        assert_int_equal(i->xmp_size, 4);
        assert_string_equal(i->xmp, "<x/>");
        assert_string_equal(i->software, "rake");
        mil_source_close(s);
    }
    write_file(path, 0, NULL, 0);
    mil_source *s = help_open(h, path);
    const mil_source_info *i = mil_source_info_of(s);
    assert_true(i->dpi[0] == 0 && i->dpi[1] == 0);
    assert_int_equal(i->orientation, 1);
    assert_int_equal(i->space, MIL_SPACE_NONE);
    assert_null(i->xmp);
    assert_null(i->software);
    mil_source_close(s);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(profile_parts_are_joined_in_order),
                                       cmocka_unit_test(broken_profiles_are_refused),
                                       cmocka_unit_test(exif_is_read_in_both_orders),
                                       cmocka_unit_test(broken_exif_counts_as_absent),
                                       cmocka_unit_test(resolution_xmp_and_software)};
    return cmocka_run_group_tests(tests, help_setup, help_teardown);
}
