/* What is said about a scan while the sheet can still be scanned again. The limits asserted are
 * judge.c's own; common practice, no source. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

#include "sheet/coated_sheet.h"
#include "sheet/judge.h"

/* A good scan: 16 bits, most of the codes, no pixel at either end. */
static mil_grid good_scan(void) {
    static float none;
    mil_grid g = {.nx = 1,
                  .ny = 1,
                  .clip_low = {&none, &none, &none},
                  .clip_high = {&none, &none, &none},
                  .channels = 3,
                  .bits = 16,
                  .mm_known = true};
    for (int c = 0; c < 3; c++) {
        g.code_low[c] = 2000;
        g.code_high[c] = 61000;
        g.codes_used[c] = 50000;
    }
    return g;
}

/* 8 bits as delivered: codes times 257. */
static mil_grid eight_bits(uint32_t low, uint32_t high, uint32_t used) {
    mil_grid g = good_scan();
    g.bits = 8;
    for (int c = 0; c < 3; c++) {
        g.code_low[c] = low * 257;
        g.code_high[c] = high * 257;
        g.codes_used[c] = used;
    }
    return g;
}

/* The codes of all notes, in order, each with a blank after it. */
static const char *codes(const milori_notes *notes) {
    static char text[256];
    text[0] = 0;
    for (size_t i = 0; i < notes->count; i++) {
        strcat(text, notes->note[i].code);
        strcat(text, " ");
    }
    return text;
}

static void scan_is(const mil_grid *grid, bool lossy, const char *want) {
    mil_source_info info = {.lossy = lossy};
    milori_notes notes = {0};
    mil_judge_scan(&info, grid, &notes);
    assert_string_equal(codes(&notes), want);
    mil_notes_free(&notes);
}

static void a_good_scan_is_left_alone(void **state) {
    (void)state;
    mil_grid g = good_scan();
    scan_is(&g, false, "");
    g.channels = 1;
    scan_is(&g, false, "");
}

static void bits_loss_and_resolution_are_said(void **state) {
    (void)state;
    mil_grid g = eight_bits(10, 240, 231);
    scan_is(&g, false, "bits ");
    scan_is(&g, true, "bits lossy ");
    g = good_scan();
    scan_is(&g, true, "lossy ");
    g.mm_known = false;
    scan_is(&g, false, "dpi ");
}

static void stretched_codes_are_said(void **state) {
    (void)state;
    /* A third of the codes between 10 and 240 left out; a tenth may be. */
    mil_grid g = eight_bits(10, 240, 154);
    scan_is(&g, false, "bits levels ");
    g = eight_bits(10, 240, 208);
    scan_is(&g, false, "bits ");
    /* One channel with gaps is no stretching of all; nor are few codes in a small picture. */
    g = eight_bits(10, 240, 231);
    g.codes_used[1] = 120;
    scan_is(&g, false, "bits ");
    g = eight_bits(100, 160, 30);
    scan_is(&g, false, "bits ");
    /* A little cut off at both ends of every channel. */
    float low[3] = {0.001f, 0.001f, 0.001f}, high[3] = {0.002f, 0.002f, 0.002f};
    g = good_scan();
    g.nx = g.ny = 1;
    for (int c = 0; c < 3; c++) {
        g.clip_low[c] = &low[c];
        g.clip_high[c] = &high[c];
    }
    scan_is(&g, false, "levels ");
    low[2] = 0.0001f; /* dust */
    scan_is(&g, false, "");
    low[2] = 0.001f;
    high[0] = 0;
    scan_is(&g, false, "");
    /* Grey has one channel only. */
    g.channels = 1;
    scan_is(&g, false, "");
    high[0] = 0.001f;
    scan_is(&g, false, "levels ");
}

/* ---- one sheet ---- */

static coated_scan empty_sheet(int channels, double w, double h) {
    coated_scan scan;
    coated_sheet s = {.w = w, .h = h, .margin = 6, .channels = channels};
    coated_bed(&scan, &s);
    return scan;
}

/* Clips a share of a channel's px in the frame's left third, or in the margin. */
static void clip(const coated_scan *scan, float *plane, bool frame, float share) {
    const mil_grid *g = &scan->grid;
    for (int j = 0; j < g->ny; j++)
        for (int i = 0; i < g->nx; i++) {
            double u, v;
            mil_rect_local(&scan->found.frame, (i + 0.5) * g->cell, (j + 0.5) * g->cell, &u, &v);
            bool in = fabs(u) < 1 && fabs(v) < 1;
            if (in == frame && (!in || u < -1.0 / 3))
                plane[(size_t)j * (size_t)g->nx + (size_t)i] = share;
        }
}

static milori_notes sheet_notes(const coated_scan *scan) {
    milori_notes notes = {0};
    mil_judge_sheet(&scan->grid, &scan->found, &notes);
    return notes;
}

static void a_clipped_channel_is_named_with_its_share(void **state) {
    (void)state;
    coated_scan scan = empty_sheet(3, 56, 56);
    milori_notes notes = sheet_notes(&scan);
    assert_string_equal(codes(&notes), "");
    mil_notes_free(&notes);
    clip(&scan, scan.grid.clip_low[0], true, 0.3f);
    clip(&scan, scan.grid.clip_high[2], true, 0.06f);
    notes = sheet_notes(&scan);
    assert_string_equal(codes(&notes), "clipped clipped ");
    assert_non_null(strstr(notes.note[0].text, "10.0 % of the frame"));
    assert_non_null(strstr(notes.note[0].text, "dark end (red)"));
    assert_non_null(strstr(notes.note[1].text, "2.0 % of the frame"));
    assert_non_null(strstr(notes.note[1].text, "light end (blue)"));
    mil_notes_free(&notes);
    coated_free(&scan);
}

static void little_clipping_or_elsewhere_is_not_said(void **state) {
    (void)state;
    coated_scan scan = empty_sheet(3, 56, 56);
    clip(&scan, scan.grid.clip_low[0], true, 0.005f); /* 0.17 % of the frame */
    clip(&scan, scan.grid.clip_high[1], false, 1);    /* all of what is not frame */
    milori_notes notes = sheet_notes(&scan);
    assert_string_equal(codes(&notes), "");
    mil_notes_free(&notes);
    clip(&scan, scan.grid.clip_low[0], true, 0.007f); /* 0.23 % */
    notes = sheet_notes(&scan);
    assert_string_equal(codes(&notes), "clipped ");
    mil_notes_free(&notes);
    coated_free(&scan);
}

static void grey_is_called_grey(void **state) {
    (void)state;
    coated_scan scan = empty_sheet(1, 56, 56);
    clip(&scan, scan.grid.clip_low[0], true, 0.3f);
    milori_notes notes = sheet_notes(&scan);
    assert_string_equal(codes(&notes), "clipped ");
    assert_non_null(strstr(notes.note[0].text, "(grey)"));
    mil_notes_free(&notes);
    coated_free(&scan);
}

static void too_few_pixels_are_said(void **state) {
    (void)state;
    /* At 300 dpi 600 px are 50.8 mm. */
    const double side[2] = {50.5, 51.1};
    for (int k = 0; k < 2; k++) {
        coated_scan scan = empty_sheet(3, 80, side[k]);
        milori_notes notes = sheet_notes(&scan);
        assert_string_equal(codes(&notes), k ? "" : "pixels ");
        if (!k)
            assert_non_null(strstr(notes.note[0].text, "only 596 pixels wide"));
        mil_notes_free(&notes);
        coated_free(&scan);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_good_scan_is_left_alone),
                                       cmocka_unit_test(bits_loss_and_resolution_are_said),
                                       cmocka_unit_test(stretched_codes_are_said),
                                       cmocka_unit_test(a_clipped_channel_is_named_with_its_share),
                                       cmocka_unit_test(little_clipping_or_elsewhere_is_not_said),
                                       cmocka_unit_test(grey_is_called_grey),
                                       cmocka_unit_test(too_few_pixels_are_said)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
