/* Print files: CMYK as TIFF, and PDF of every kind, read by programs that are
 * not milori's (print_reader.py says which). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "test_sink_help.h"

#define RGB_PROFILE "/usr/share/color/icc/colord/sRGB.icc"
#define WIDE_PROFILE "/usr/share/color/icc/colord/AdobeRGB1998.icc"
#define GREY_PROFILE "/usr/share/color/icc/Gray.icc"

/* Debian has no profile for four inks: argyll makes one from FOGRA's data for
 * uncoated paper. */
static int make_profile(void **state) {
    if (make_folder(state) != 0)
        return -1;
    said_by("cd '%s' && cp /usr/share/color/icc/FOGRA29L.ti3 inks.ti3 && "
            "colprof -ql -b -D 'bean poles, uncoated' inks 2>&1",
            folder);
    return 0;
}

static const char xmp[] = "<?xpacket begin='' id='W5M0MpCehiHzreSzNTczkc9d'?>"
                          "<x:xmpmeta xmlns:x='adobe:ns:meta/'/><?xpacket end='r'?>";

typedef struct print_case {
    const char *name;
    milori_format format;
    int channels, bits;
    const char *icc, *output_icc, *output_name; /* icc "inks": the one made */
    double dpi;
} print_case;

static const print_case cases[] = {
    {"cmyk8.tif", MILORI_TIFF, 4, 8, "inks", NULL, NULL, 360},
    {"cmyk16.tif", MILORI_TIFF, 4, 16, "inks", NULL, NULL, 720},
    {"grey8.pdf", MILORI_PDF, 1, 8, GREY_PROFILE, GREY_PROFILE,
     "gew\xc3\xa4"
     "chshaus",
     300},
    {"grey16.pdf", MILORI_PDF, 1, 16, NULL, NULL, NULL, 0},
    {"rgb8.pdf", MILORI_PDF, 3, 8, RGB_PROFILE, "inks", "bean poles, uncoated", 300},
    {"rgb16.pdf", MILORI_PDF, 3, 16, RGB_PROFILE, WIDE_PROFILE, "\xf0\x9f\xab\x98 rag", 719.5},
    {"srgb16.pdf", MILORI_PDF, 3, 16, RGB_PROFILE, NULL, NULL, 600},
    {"bare16.pdf", MILORI_PDF, 3, 16, NULL, NULL, NULL, 100},
    {"cmyk8.pdf", MILORI_PDF, 4, 8, "inks", NULL, NULL, 254},
    {"cmyk16.pdf", MILORI_PDF, 4, 16, "inks", "inks", "", 1440}};

static uint8_t *profile(const char *name, size_t *size) {
    *size = 0;
    if (!name)
        return NULL;
    return slurp(strcmp(name, "inks") == 0 ? in_folder("inks.icc") : name, size);
}

/* Writes a case twice: the same bytes both times. */
static void write_case(milori_context *ctx, const print_case *c, FILE *jobs) {
    mil_sink_options o = {.format = c->format,
                          .width = 203,
                          .height = 331,
                          .channels = c->channels,
                          .bits = c->bits,
                          .dpi = c->dpi,
                          .xmp = c->icc ? xmp : NULL,
                          .xmp_size = sizeof xmp - 1,
                          .output_name = c->output_name,
                          .quality = 90,
                          .replace = true};
    uint8_t *icc = profile(c->icc, &o.icc_size);
    uint8_t *output = profile(c->output_icc, &o.output_icc_size);
    o.icc = icc;
    o.output_icc = output;
    uint8_t *picture = make_picture(&o);
    const char *path = in_folder(c->name);
    size_t size, again;
    assert_ok(ctx, write_picture(ctx, path, &o, picture));
    uint8_t *first = slurp(path, &size);
    assert_ok(ctx, write_picture(ctx, path, &o, picture));
    uint8_t *second = slurp(path, &again);
    assert_int_equal(size, again);
    assert_memory_equal(first, second, size);
    char raw[600], data[64];
    snprintf(raw, sizeof raw, "%s.raw", path);
    spill(raw, picture, picture_size(&o));
    snprintf(data, sizeof data, "%u %u %d %d %.17g", o.width, o.height, o.channels, o.bits, c->dpi);
    fprintf(jobs, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", c->format == MILORI_PDF ? "pdf" : "tiff", path,
            data, c->icc ? c->icc : "", c->output_icc ? c->output_icc : "",
            c->output_name ? c->output_name : "", c->icc ? xmp : "");
    free(picture), free(first), free(second), free(icc), free(output);
}

static void print_files_are_read_by_others(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    FILE *jobs = fopen(in_folder("jobs"), "w");
    assert_non_null(jobs);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        write_case(ctx, &cases[i], jobs);
    assert_int_equal(fclose(jobs), 0);
    assert_string_equal(said_by("/usr/bin/python3 '" TESTS_DIR "/scan/print_reader.py' '%s' 2>&1",
                                in_folder("jobs")),
                        "10 files read");
    assert_int_equal(count_files(true), 0);
    milori_context_free(ctx);
}

static long peak_kib(void) {
    long kib = 0;
    char line[256];
    FILE *file = fopen("/proc/self/status", "r");
    assert_non_null(file);
    while (fgets(line, sizeof line, file))
        sscanf(line, "VmHWM: %ld", &kib);
    fclose(file);
    return kib;
}

/* 96 MB of picture, its compressed bytes many times the memory it may cost. */
static void large_pictures_are_not_held(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_sink_options few = {.width = 4000, .height = 40, .channels = 3, .bits = 16};
    mil_sink_options o = {
        .format = MILORI_PDF, .width = 4000, .height = 4000, .channels = 3, .bits = 16, .dpi = 720};
    uint8_t *band = make_picture(&few);
    long before = peak_kib();
    mil_sink *sink;
    assert_ok(ctx, mil_sink_open(ctx, in_folder("large.pdf"), &o, &sink));
    for (uint32_t y = 0; y < o.height; y += few.height)
        assert_ok(ctx, mil_sink_write(sink, few.height, band));
    assert_ok(ctx, mil_sink_commit(sink));
    long grown = peak_kib() - before;
    size_t size = (size_t)atol(said_by("stat -c %%s '%s'", in_folder("large.pdf")));
    assert_true(size > (size_t)64 << 20);
    if (grown > 16 << 10)
        fail_msg("%ld KiB were taken to write %zu bytes", grown, size);
    said_by("qpdf --check '%s' 2>&1 | grep -q 'No syntax or stream encoding errors'",
            in_folder("large.pdf"));
    free(band);
    milori_context_free(ctx);
}

/* ISO 32000-1, annex C: 14,400 points, here 200 in of one pixel each. */
static void longest_page(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_sink_options o = {
        .format = MILORI_PDF, .width = 200, .height = 1, .channels = 1, .bits = 8, .dpi = 1};
    const uint8_t row[201] = {7};
    assert_ok(ctx, write_picture(ctx, in_folder("wall.pdf"), &o, row));
    o.width = 201;
    assert_int_equal(write_picture(ctx, in_folder("house.pdf"), &o, row), MILORI_ERR_LIMIT);
    assert_non_null(strstr(milori_message(ctx), "house.pdf: a side of 5.11 m is longer"));
    assert_int_equal(count_files(true), 0);
    milori_context_free(ctx);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(print_files_are_read_by_others),
                                       cmocka_unit_test(large_pictures_are_not_held),
                                       cmocka_unit_test(longest_page)};
    return cmocka_run_group_tests(tests, make_profile, remove_folder);
}
