/* A scan measured again: what the first measuring said must not stay. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "scan/sink.h"

enum { WIDTH = 640, HEIGHT = 480 };

/* A coated sheet with a frame of eight steps of dye on a white bed; no dpi in the file, 8 bit. */
static void draw(milori_context *ctx, const char *path) {
    static uint8_t codes[WIDTH * HEIGHT * 3];
    for (int y = 0; y < HEIGHT; y++)
        for (int x = 0; x < WIDTH; x++) {
            uint8_t *p = &codes[3 * (y * WIDTH + x)];
            bool sheet = x >= 60 && x < 580 && y >= 40 && y < 440;
            bool frame = x >= 120 && x < 520 && y >= 100 && y < 380;
            int step = frame ? (x - 120) / 50 + 1 : 0, grain = (x * 7 + y * 13 + x * y) % 5;
            p[0] = (uint8_t)((sheet ? 214 - 16 * step : 245) + grain);
            p[1] = (uint8_t)((sheet ? 200 - 8 * step : 245) + grain);
            p[2] = (uint8_t)((sheet ? 120 + 2 * step : 245) + grain);
        }
    const mil_sink_options options = {
        .format = MILORI_PNG, .width = WIDTH, .height = HEIGHT, .channels = 3, .bits = 8};
    mil_sink *sink;
    assert_int_equal(mil_sink_open(ctx, path, &options, &sink), MILORI_OK);
    assert_int_equal(mil_sink_write(sink, HEIGHT, codes), MILORI_OK);
    assert_int_equal(mil_sink_commit(sink), MILORI_OK);
}

static size_t all(const milori_scan *scan) {
    return milori_scan_notes(scan, -1)->count;
}

static bool says(const milori_scan *scan, const char *code) {
    return mil_notes_have(milori_scan_notes(scan, -1), code);
}

static void a_resolution_that_is_given_is_not_assumed(void **state) {
    (void)state;
    char path[64];
    snprintf(path, sizeof path, "/tmp/milori-measured-%ld.png", (long)getpid());
    milori_context *ctx = milori_context_new();
    milori_scan *scan = NULL;
    milori_choices choices;
    milori_choices_default(&choices);
    draw(ctx, path);
    assert_int_equal(milori_scan_open(ctx, path, &scan), MILORI_OK);
    size_t of_the_file = all(scan); /* no profile */
    assert_true(of_the_file > 0);
    assert_int_equal(milori_scan_measure(scan, &choices), MILORI_OK);
    size_t first = all(scan);
    assert_true(says(scan, "dpi") && says(scan, "bits"));
    choices.dpi = 300;
    assert_int_equal(milori_scan_measure(scan, &choices), MILORI_OK);
    assert_false(says(scan, "dpi"));
    assert_true(says(scan, "bits"));
    assert_int_equal(all(scan), first - 1);
    choices.dpi = NAN;
    assert_int_equal(milori_scan_measure(scan, &choices), MILORI_OK);
    assert_true(says(scan, "dpi"));
    assert_int_equal(all(scan), first);
    /* A measuring that fails leaves what is known of the file. */
    choices.dpi = 300;
    choices.spots = 1;
    choices.spot_px[0][0] = choices.spot_px[0][1] = 5;
    assert_int_equal(milori_scan_measure(scan, &choices), MILORI_ERR_ARGUMENT);
    assert_int_equal(all(scan), of_the_file);
    milori_scan_close(scan);
    milori_context_free(ctx);
    unlink(path);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_resolution_that_is_given_is_not_assumed)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
