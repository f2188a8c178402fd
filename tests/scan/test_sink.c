/* Picture files written, then read by programs and libraries that are not
 * milori's: samples, profile, resolution and packet are what was given. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "scan/packet.h"
#include "scan/source.h"
#include "test_sink_help.h"

/* Debian's colord-data and icc-profiles-free. */
#define RGB_PROFILE "/usr/share/color/icc/colord/sRGB.icc"
#define GREY_PROFILE "/usr/share/color/icc/Gray.icc"

static const char *const kinds[] = {"tiff", "png", "jpeg"};

static char *make_packet(milori_context *ctx, size_t *size) {
    mil_packet packet = {.source = "gew\xc3\xa4"
                                   "chshaus.tif",
                         .digest = "99aa06d3014798d86001c324468d497f",
                         .version = "milori 0.1.0",
                         .choices = "{\"stops\": 0.5}",
                         .sheet = "{\"number\": 2}",
                         .number = 2};
    char *xmp;
    assert_ok(ctx, mil_packet_write(ctx, &packet, &xmp, size));
    return xmp;
}

/* exiftool's view, the same for all three formats. */
static void check_with_exiftool(const char *path, const mil_sink_options *o) {
    spill(in_folder("icc"), o->icc, o->icc_size);
    said_by("exiftool -b -ICC_Profile '%s' | cmp - '%s' 2>&1", path, in_folder("icc"));
    spill(in_folder("xmp"), o->xmp, o->xmp_size);
    said_by("exiftool -b -XMP '%s' | cmp - '%s' 2>&1", path, in_folder("xmp"));
    /* No clock time but the file system's and the profile's own, no warning. */
    assert_string_equal(said_by("exiftool -G1 -s -time:all -Warning -Error -XMP-milori:Choices "
                                "'%s' | grep -v -E '^.(System|ICC-header). ' | tr -s ' '",
                                path),
                        "[XMP-milori] Choices : {\"stops\": 0.5}");
}

static void check_with_tools(const char *path, const mil_sink_options *o) {
    char command[1200];
    if (o->format == MILORI_TIFF) {
        assert_string_equal(
            said_by("tiffinfo '%s' 2>&1 | grep -c -i -E 'warning|error' || true", path), "0");
        snprintf(command, sizeof command, "tiffinfo '%s' | grep Resolution", path);
        assert_string_equal(said_by("%s", command), "  Resolution: 1200.5, 1200.5 pixels/inch");
        said_by("tiffdump '%s'", path);
    } else if (o->format == MILORI_PNG) {
        said_by("pngcheck -q '%s'", path);
        /* 1200.5 an inch is 47263.78 a metre; PNG holds whole numbers. */
        said_by("pngcheck -v '%s' | grep -q '47264x47264 pixels/meter'", path);
        said_by("pngcheck -v '%s' | grep -A1 iTXt | grep -q 'keyword: XML:com.adobe.xmp'", path);
    } else {
        said_by("djpeg -pnm -outfile '%s.pnm' '%s' 2>&1", path, path);
        /* JFIF holds whole numbers. */
        assert_string_equal(said_by("exiftool -s3 -JFIF:XResolution '%s'", path), "1201");
        assert_string_equal(said_by("exiftool -s3 -JFIF:ResolutionUnit '%s'", path), "inches");
    }
}

/* Back through milori's own reader. */
static void check_with_source(milori_context *ctx, const char *path, const mil_sink_options *o,
                              const void *picture) {
    milori_notes notes = {0};
    mil_source *source;
    assert_ok(ctx, mil_source_open(ctx, path, &notes, &source));
    const mil_source_info *info = mil_source_info_of(source);
    assert_int_equal(info->width, o->width);
    assert_int_equal(info->height, o->height);
    assert_int_equal(info->channels, o->channels);
    assert_int_equal(info->bits, o->bits);
    assert_int_equal(info->orientation, 1);
    assert_true(fabs(info->dpi[0] - o->dpi) < 0.6 && info->dpi[0] == info->dpi[1]);
    assert_int_equal(info->icc_size, o->icc_size);
    assert_memory_equal(info->icc, o->icc, o->icc_size);
    assert_int_equal(info->xmp_size, o->xmp_size);
    assert_memory_equal(info->xmp, o->xmp, o->xmp_size);
    size_t n = (size_t)o->width * o->height * (size_t)o->channels;
    uint16_t *got = calloc(n, 2);
    assert_ok(ctx, mil_source_read(source, o->height, got));
    const uint16_t *wide = picture;
    const uint8_t *narrow = picture;
    for (size_t i = 0; o->format != MILORI_JPEG && i < n; i++)
        assert_int_equal(got[i], o->bits == 16 ? wide[i] : narrow[i] * 257);
    free(got);
    mil_source_close(source);
    mil_notes_free(&notes);
    mil_packet packet;
    assert_ok(ctx, mil_packet_of_file(ctx, path, &packet));
    assert_string_equal(packet.choices, "{\"stops\": 0.5}");
    mil_packet_free(&packet);
}

static void check_one(milori_context *ctx, mil_sink_options *o, FILE *jobs) {
    char path[200], raw[210];
    snprintf(path, sizeof path, "%s/poles-%d-%d.%s", folder, o->channels, o->bits,
             kinds[o->format]);
    snprintf(raw, sizeof raw, "%s.raw", path);
    uint8_t *icc = slurp(o->channels == 1 ? GREY_PROFILE : RGB_PROFILE, &o->icc_size);
    char *xmp = make_packet(ctx, &o->xmp_size);
    o->icc = icc;
    o->xmp = xmp;
    uint8_t *picture = make_picture(o);
    assert_ok(ctx, write_picture(ctx, path, o, picture));
    spill(raw, picture, picture_size(o));
    check_with_tools(path, o);
    /* Quality 95: 21 codes at most and 2.8 in the mean were measured for this
     * picture, whose grain is coloured, which JPEG likes least. */
    fprintf(jobs, "%s %s %s %u %u %d %d %d\n", kinds[o->format], path, raw, o->width, o->height,
            o->channels, o->bits, o->format == MILORI_JPEG ? 28 : 0);
    check_with_exiftool(path, o);
    check_with_source(ctx, path, o, picture);

    /* The same again gives the same bytes. */
    size_t size, size_again;
    uint8_t *bytes = slurp(path, &size);
    o->replace = true;
    assert_ok(ctx, write_picture(ctx, path, o, picture));
    uint8_t *again = slurp(path, &size_again);
    assert_int_equal(size, size_again);
    assert_memory_equal(bytes, again, size);
    free(bytes), free(again), free(picture), free(icc), free(xmp);
}

static mil_sink_options options(milori_format format, int channels, int bits) {
    return (mil_sink_options){.format = format,
                              .width = 301, /* no multiple of anything */
                              .height = 523,
                              .channels = channels,
                              .bits = bits,
                              .quality = 95,
                              .dpi = 1200.5};
}

static void every_kind_is_read_by_others(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    FILE *jobs = fopen(in_folder("jobs"), "w");
    assert_non_null(jobs);
    for (int channels = 1; channels <= 3; channels += 2) {
        for (int format = MILORI_TIFF; format <= MILORI_JPEG; format++) {
            mil_sink_options o = options((milori_format)format, channels, 8);
            check_one(ctx, &o, jobs);
        }
        for (int format = MILORI_TIFF; format <= MILORI_PNG; format++) {
            mil_sink_options o = options((milori_format)format, channels, 16);
            check_one(ctx, &o, jobs);
        }
    }
    assert_int_equal(fclose(jobs), 0);
    assert_string_equal(said_by("/usr/bin/python3 '" TESTS_DIR "/scan/sink_reader.py' '%s' 2>&1",
                                in_folder("jobs")),
                        "10 files read");
    assert_int_equal(count_files(true), 0);
    milori_context_free(ctx);
}

/* One pixel, and no profile, packet or resolution. */
static void bare_pictures_are_written(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    for (int format = MILORI_TIFF; format <= MILORI_JPEG; format++) {
        mil_sink_options o = {.format = (milori_format)format,
                              .width = 1,
                              .height = 1,
                              .channels = 3,
                              .bits = 8,
                              .quality = 100,
                              .replace = true};
        const uint8_t pixel[3] = {77, 77, 77};
        const char *path = in_folder("bare");
        assert_ok(ctx, write_picture(ctx, path, &o, pixel));
        said_by("/usr/bin/python3 -c \"from PIL import Image; i = Image.open('%s'); "
                "assert i.getpixel((0, 0)) == (77, 77, 77) and 'icc_profile' not in i.info\" 2>&1",
                path);
        assert_string_equal(said_by("exiftool -s3 -XResolution -PixelsPerUnitX -XMP '%s'", path),
                            format == MILORI_JPEG ? "1" : ""); /* JFIF's ratio 1:1 */
    }
    milori_context_free(ctx);
}

/* A profile of several JPEG segments (ICC.1 annex B.4), joined again by PIL. */
static void long_profiles_are_split(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_sink_options o = options(MILORI_JPEG, 3, 8);
    size_t own, size = 200000;
    uint8_t *icc = slurp(RGB_PROFILE, &own);
    icc = realloc(icc, size);
    for (size_t i = own; i < size; i++)
        icc[i] = (uint8_t)(i >> 8);
    const uint8_t declared[4] = {0, (uint8_t)(size >> 16), (uint8_t)(size >> 8), (uint8_t)size};
    memcpy(icc, declared, 4);
    o.icc = icc;
    o.icc_size = size;
    uint8_t *picture = make_picture(&o);
    assert_ok(ctx, write_picture(ctx, in_folder("long.jpg"), &o, picture));
    spill(in_folder("long.icc"), icc, size);
    said_by("/usr/bin/python3 -c \"from PIL import Image; assert "
            "Image.open('%s').info['icc_profile'] == open('%s', 'rb').read()\" 2>&1",
            in_folder("long.jpg"), in_folder("long.icc"));
    free(picture), free(icc);
    milori_context_free(ctx);
}

/* The first bytes of the temporary: TIFF 6.0 says 42 there, BigTIFF 43. */
static int tiff_version(milori_context *ctx, uint32_t height) {
    mil_sink_options o = {.format = MILORI_TIFF,
                          .width = 20000,
                          .height = height,
                          .channels = 3,
                          .bits = 16,
                          .replace = true};
    mil_sink *sink;
    assert_ok(ctx, mil_sink_open(ctx, in_folder("big.tif"), &o, &sink));
    mil_sink_options few = {.width = 20000, .height = 40, .channels = 3, .bits = 16};
    uint8_t *picture = make_picture(&few);
    assert_ok(ctx, mil_sink_write(sink, few.height, picture));
    free(picture);
    int version = atoi(said_by("od -A n -t u2 -j 2 -N 2 %s/.milori-*.part", folder));
    mil_sink_abort(sink);
    assert_int_equal(count_files(true), 0);
    return version;
}

static void large_tiffs_are_big(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    /* 120,000 bytes a row; 3.5 GiB are 31,317.3 rows. */
    assert_int_equal(tiff_version(ctx, 31317), 42);
    assert_int_equal(tiff_version(ctx, 31318), 43);
    milori_context_free(ctx);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_kind_is_read_by_others), cmocka_unit_test(bare_pictures_are_written),
        cmocka_unit_test(long_profiles_are_split), cmocka_unit_test(large_tiffs_are_big)};
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
