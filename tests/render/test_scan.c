/* The public face, from a painted scan to positives in every format. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <dirent.h>
#include <sys/stat.h>

#include "render_help.h"
#include "scan/packet.h"

/* A sheet on a white lid at 100 dpi: bare paper, coated margin, and in the frame a bright sky over
 * dark beds of beans. */
enum { BED_W = 460, BED_H = 420 };
static const mil_rect paper = {232, 209, 330, 290, 0.012};
static const mil_rect gate = {231, 210, 224, 224, 0.012};

static double picture(double u, double v) {
    double sky = v < -0.1 ? 0.8 : 0.1, beds = v > 0 ? 0.12 * sin(u * 14) * sin(u * 14) : 0;
    return sky + beds + (hypot(u + 0.5, v - 0.4) < 0.2 ? 0.5 : 0);
}

static double grain(unsigned *state) {
    double sum = -2;
    for (int i = 0; i < 4; i++) {
        *state = *state * 1664525u + 1013904223u;
        sum += (double)(*state >> 8) / (1 << 24);
    }
    return sum;
}

static void light_at(double x, double y, double light[3]) {
    double u, v;
    light[0] = light[1] = light[2] = 0.93;
    mil_rect_local(&paper, x, y, &u, &v);
    if (fabs(u) > 1 || fabs(v) > 1)
        return;
    const double bare[3] = {0.84, 0.82, 0.76}, coat[3] = {0.74, 0.72, 0.36};
    bool coated = fabs(u) < 0.93 && fabs(v) < 0.92;
    mil_rect_local(&gate, x, y, &u, &v);
    double dye = fabs(u) < 1 && fabs(v) < 1 ? picture(u, v) : 0;
    const double absorbs[3] = {1, 0.55, 0.2};
    for (int c = 0; c < 3; c++)
        light[c] = (coated ? coat[c] : bare[c]) * exp(-0.9 * absorbs[c] * dye);
}

/* IEC 61966-2-1. */
static double srgb(double light) {
    return light <= 0.0031308 ? 12.92 * light : 1.055 * pow(light, 1 / 2.4) - 0.055;
}

static const char *place(const char *name) {
    static char paths[4][256];
    static int turn;
    char *path = paths[turn++ % 4];
    snprintf(path, sizeof paths[0], "%s/%s", folder, name);
    return path;
}

static int make_scan(void **state) {
    static uint16_t codes[BED_H * BED_W * 3];
    unsigned seed = 3;
    if (make_folder(state))
        return -1;
    for (int i = 0; i < BED_H * BED_W; i++) {
        double light[3];
        light_at(i % BED_W + 0.5, i / BED_W + 0.5, light);
        for (int c = 0; c < 3; c++) {
            double code = srgb(light[c] * (1 + 0.01 * grain(&seed)));
            codes[3 * i + c] = (uint16_t)lround(65535 * fmin(fmax(code, 0), 1));
        }
    }
    milori_context *ctx = milori_context_new();
    mil_sink *sink = NULL;
    const mil_sink_options options = {.format = MILORI_TIFF,
                                      .width = BED_W,
                                      .height = BED_H,
                                      .channels = 3,
                                      .bits = 16,
                                      .dpi = 100};
    int failed = mil_sink_open(ctx, place("glasshouse.tif"), &options, &sink) != MILORI_OK ||
                 mil_sink_write(sink, BED_H, codes) != MILORI_OK ||
                 mil_sink_commit(sink) != MILORI_OK;
    milori_context_free(ctx);
    return failed;
}

typedef struct job {
    milori_context *ctx;
    milori_scan *scan;
    milori_choices choices;
} job;

/* Measured once for all tests: that takes the most time. */
static job shared;

static int measure_scan(void **state) {
    if (make_scan(state))
        return -1;
    shared.ctx = milori_context_new();
    if (milori_scan_open(shared.ctx, place("glasshouse.tif"), &shared.scan) != MILORI_OK ||
        milori_scan_facts_of(shared.scan)->sheets != 0 ||
        milori_scan_measure(shared.scan, NULL) != MILORI_OK) {
        print_error("%s\n", milori_message(shared.ctx));
        return -1;
    }
    return 0;
}

static int end(void **state) {
    milori_scan_close(shared.scan);
    milori_context_free(shared.ctx);
    return remove_folder(state);
}

static void begin(job *j) {
    *j = shared;
    milori_choices_default(&j->choices);
}

static void facts_and_sheet(void **state) {
    (void)state;
    job j;
    begin(&j);
    const milori_scan_facts *facts = milori_scan_facts_of(j.scan);
    assert_int_equal(facts->width, BED_W);
    assert_int_equal(facts->height, BED_H);
    assert_int_equal(facts->bits, 16);
    assert_int_equal(facts->channels, 3);
    assert_float_equal(facts->dpi, 100, 0.01);
    assert_int_equal(facts->sheets, 1);
    assert_null(milori_scan_sheet(j.scan, 1));
    assert_null(milori_scan_notes(j.scan, 1));
    assert_non_null(milori_scan_notes(j.scan, -1));
    const milori_sheet *sheet = milori_scan_sheet(j.scan, 0);
    double corners[4][2];
    mil_rect_corners(&gate, corners);
    for (int i = 0; i < 4; i++)
        assert_true(hypot(sheet->frame_px[i][0] - corners[i][0],
                          sheet->frame_px[i][1] - corners[i][1]) < 3);
    assert_true(sheet->grade >= -2 && sheet->grade <= 8 && isfinite(sheet->stops));
    char *json = NULL;
    assert_int_equal(milori_scan_sheet_json(j.scan, 0, &json), MILORI_OK);
    assert_non_null(strstr(json, "glasshouse.tif\",\"sheet\":1,"));
    free(json);
    assert_int_equal(milori_scan_sheet_json(j.scan, 1, &json), MILORI_ERR_ARGUMENT);
    assert_null(json);
}

/* All codes of a file just written, to free(). */
static uint16_t *read_back(const char *path, mil_source_info *info) {
    milori_context *ctx = milori_context_new();
    milori_notes notes = {0};
    mil_source *source = NULL;
    if (mil_source_open(ctx, path, &notes, &source) != MILORI_OK)
        fail_msg("%s", milori_message(ctx));
    *info = *mil_source_info_of(source);
    size_t row = (size_t)info->width * (size_t)info->channels;
    uint16_t *codes = malloc(row * info->height * sizeof *codes);
    assert_int_equal(mil_source_read(source, info->height, codes), MILORI_OK);
    mil_source_close(source);
    mil_notes_free(&notes);
    milori_context_free(ctx);
    return codes;
}

/* Mean code of a block of the positive, in shares of its sides. */
static double block(const char *path, double x, double y, mil_source_info *info) {
    uint16_t *codes = read_back(path, info);
    size_t row = (size_t)info->width * (size_t)info->channels;
    double sum = 0;
    for (int i = 0; i < 100; i++) {
        size_t py = (size_t)(y * info->height) + (size_t)(i / 10);
        size_t px = (size_t)(x * info->width) + (size_t)(i % 10);
        sum += codes[py * row + px * (size_t)info->channels];
    }
    free(codes);
    return sum / 100 / 65535;
}

static void positives_read_right(void **state) {
    (void)state;
    const struct {
        const char *name;
        milori_format format;
        int depth, bits;
    } kinds[] = {{"a.tif", MILORI_TIFF, 0, 16},
                 {"b.tif", MILORI_TIFF, 8, 8},
                 {"c.png", MILORI_PNG, 16, 16},
                 {"d.jpg", MILORI_JPEG, 0, 8}};
    job j;
    begin(&j);
    double first = 0;
    for (int i = 0; i < 4; i++) {
        uint32_t width, height;
        mil_source_info info;
        j.choices.format = kinds[i].format;
        j.choices.depth = kinds[i].depth;
        const char *path = place(kinds[i].name);
        if (milori_scan_positive(j.scan, 0, &j.choices, path, false) != MILORI_OK)
            fail_msg("%s", milori_message(j.ctx));
        assert_int_equal(milori_scan_positive_size(j.scan, 0, &j.choices, &width, &height),
                         MILORI_OK);
        /* The bright sun-flower lies left of the middle on the scan, right of it on the positive.
         */
        double sky = block(path, 0.3, 0.2, &info), flower = block(path, 0.73, 0.68, &info);
        double beds = block(path, 0.25, 0.68, &info);
        assert_int_equal(info.width, width);
        assert_int_equal(info.height, height);
        assert_int_equal(info.bits, kinds[i].bits);
        assert_true(sky > beds + 0.2);
        assert_true(flower > beds + 0.15);
        if (i == 0)
            first = sky;
        assert_float_equal(sky, first, 0.01);
    }
}

static void eight_bits_are_rounded(void **state) {
    (void)state;
    job j;
    uint16_t *codes[2];
    mil_source_info info;
    begin(&j);
    for (int i = 0; i < 2; i++) {
        const char *path = place(i ? "eight.tif" : "sixteen.tif");
        j.choices.depth = i ? 8 : 16;
        assert_int_equal(milori_scan_positive(j.scan, 0, &j.choices, path, false), MILORI_OK);
        codes[i] = read_back(path, &info);
    }
    for (size_t i = 0; i < (size_t)info.width * info.height * 3; i++)
        assert_int_equal(codes[1][i], 257 * lround(codes[0][i] / 257.0));
    free(codes[0]);
    free(codes[1]);
}

static void packet_tells(void **state) {
    (void)state;
    job j;
    begin(&j);
    char *choices = NULL, digest[33];
    mil_packet packet = {0};
    j.choices.stops = 0.5;
    const char *path = place("told.tif");
    assert_int_equal(milori_scan_positive(j.scan, 0, &j.choices, path, false), MILORI_OK);
    assert_int_equal(mil_packet_of_file(j.ctx, path, &packet), MILORI_OK);
    assert_int_equal(milori_choices_to_json(j.ctx, &j.choices, &choices), MILORI_OK);
    assert_int_equal(mil_file_digest(j.ctx, place("glasshouse.tif"), digest), MILORI_OK);
    assert_string_equal(packet.source, "glasshouse.tif");
    assert_string_equal(packet.digest, digest);
    assert_string_equal(packet.choices, choices);
    assert_string_equal(packet.version, "milori " MILORI_VERSION);
    assert_int_equal(packet.number, 1);
    assert_non_null(strstr(packet.sheet, "\"file\":\"glasshouse.tif\""));
    free(choices);
    mil_packet_free(&packet);
}

static int files_now(void) {
    int n = 0;
    DIR *list = opendir(folder);
    for (struct dirent *e; (e = readdir(list));)
        n += strcmp(e->d_name, ".") != 0 && strcmp(e->d_name, "..") != 0;
    closedir(list);
    return n;
}

static bool always(void *data) {
    (void)data;
    return true;
}

static void refusals_leave_nothing(void **state) {
    (void)state;
    job j;
    begin(&j);
    const char *scan = place("glasshouse.tif"), *kept_file = place("kept.tif");
    struct stat before, after;
    assert_int_equal(milori_scan_positive(j.scan, 0, &j.choices, kept_file, false), MILORI_OK);
    assert_int_equal(stat(scan, &before), 0);
    int files = files_now();
    assert_int_equal(milori_scan_positive(j.scan, 0, &j.choices, scan, true), MILORI_ERR_EXISTS);
    milori_clear(j.ctx);
    assert_int_equal(milori_scan_positive(j.scan, 0, &j.choices, kept_file, false),
                     MILORI_ERR_EXISTS);
    milori_clear(j.ctx);
    assert_int_equal(milori_scan_positive(j.scan, 7, &j.choices, place("7.tif"), false),
                     MILORI_ERR_ARGUMENT);
    milori_clear(j.ctx);
    j.choices.turn = 90;
    milori_set_cancel(j.ctx, always, NULL);
    assert_int_equal(milori_scan_positive(j.scan, 0, &j.choices, place("stopped.tif"), false),
                     MILORI_ERR_CANCELLED);
    milori_set_cancel(j.ctx, NULL, NULL);
    milori_clear(j.ctx);
    assert_int_equal(files_now(), files);
    assert_int_equal(stat(scan, &after), 0);
    assert_true(before.st_size == after.st_size && before.st_mtim.tv_nsec == after.st_mtim.tv_nsec);
    assert_int_equal(milori_scan_positive(j.scan, 0, &j.choices, kept_file, true), MILORI_OK);
}

/* Made again, the file is the same to the byte. */
static void the_same_again(void **state) {
    (void)state;
    job j;
    uint8_t *bytes[2];
    size_t size[2];
    begin(&j);
    for (int i = 0; i < 2; i++) {
        milori_set_threads(j.ctx, i ? 5 : 1);
        const char *path = place(i ? "again.tif" : "once.tif");
        assert_int_equal(milori_scan_positive(j.scan, 0, &j.choices, path, false), MILORI_OK);
        assert_int_equal(mil_read_file(j.ctx, path, 1 << 28, &bytes[i], &size[i]), MILORI_OK);
    }
    assert_int_equal(size[0], size[1]);
    assert_memory_equal(bytes[0], bytes[1], size[0]);
    free(bytes[0]);
    free(bytes[1]);
}

static void unmeasured_is_said(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    milori_scan *scan = NULL;
    milori_choices choices;
    milori_choices_default(&choices);
    assert_int_equal(milori_scan_open(ctx, place("glasshouse.tif"), &scan), MILORI_OK);
    assert_int_equal(milori_scan_positive(scan, 0, &choices, place("early.tif"), false),
                     MILORI_ERR_ARGUMENT);
    assert_non_null(strstr(milori_message(ctx), "measure"));
    milori_clear(ctx);
    milori_scan_close(scan);
    assert_int_equal(milori_scan_open(ctx, place("no such scan.tif"), &scan), MILORI_ERR_OPEN);
    assert_null(scan);
    milori_scan_close(NULL);
    milori_context_free(ctx);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(facts_and_sheet),        cmocka_unit_test(positives_read_right),
        cmocka_unit_test(eight_bits_are_rounded), cmocka_unit_test(packet_tells),
        cmocka_unit_test(refusals_leave_nothing), cmocka_unit_test(the_same_again),
        cmocka_unit_test(unmeasured_is_said)};
    return cmocka_run_group_tests(tests, measure_scan, end);
}
