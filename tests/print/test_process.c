/* Process curves: what they say, their file, and what is refused of a print. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "print/fit.h"
#include "temp_folder.h"
#include "tone/test_context.h"

enum { LEVELS = 25, REPEATS = 4, COUNT = LEVELS * REPEATS };

/* Even draws -1 .. 1, the same every time. */
static double draw(uint64_t *seed) {
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    return (double)(*seed >> 11) / 4503599627370496.0 - 1;
}

/* A response of no real process: flat at both ends. */
static double response(double ink) {
    return 28 + 62 * ink * ink * (3 - 2 * ink);
}

static void make_patches(mil_patch patch[COUNT], mil_patches *patches, double (*of)(double),
                         double noise) {
    uint64_t seed = 2463534242u;
    *patches = (mil_patches){.count = COUNT, .patch = patch, .kind = MIL_TARGET_TONE};
    patches->ink_rgb[1] = 0.25;
    for (int i = 0; i < COUNT; i++) {
        double ink = (i % LEVELS) / (LEVELS - 1.0);
        patch[i] = (mil_patch){.ink = ink,
                               .group = i / LEVELS,
                               .L = of(ink) + noise * draw(&seed),
                               .a = -2,
                               .b = -30 * (1 - ink),
                               .sigma = 0.05,
                               .used = true};
    }
}

static void the_response_is_found(void **state) {
    (void)state;
    mil_patch patch[COUNT];
    mil_patches patches;
    mil_process p;
    mil_fit fit;
    milori_notes notes = {0};
    make_patches(patch, &patches, response, 0.5);
    patch[30].L += 9; /* a hair */
    patch[71].L -= 6; /* a stain */
    assert_int_equal(mil_fit_process(ctx, "a", &patches, NULL, &p, &fit, &notes), MILORI_OK);
    assert_int_equal(fit.spoiled, 2);
    assert_true(!patch[30].used && !patch[71].used && patch[30].why && patch[0].used);
    /* Even draws of +-0.5 spread by 0.5 / sqrt(3). */
    assert_true(fabs(fit.repeat_sigma - 0.2887) < 0.06);
    double worst = 0;
    for (int i = 0; i <= 100; i++)
        worst = fmax(worst, fabs(mil_process_lightness(&p, i / 100.0) - response(i / 100.0)));
    assert_true(worst < 0.5);
    assert_true(fabs(p.blue_lab[2] + 30) < 1e-9 && fabs(p.paper_lab[2]) < 1e-9);
    assert_true(p.round == 1 && isnan(p.coat_sigma) && p.ink_rgb[1] == 0.25);
    assert_true(fit.next_mean < 0.3 && fit.next_mean > 0.01 && fit.next_worst >= fit.next_mean);
    /* 3x^2 - 2x^3 lies up to 0.0962 from x (computed), of 62 L*. */
    assert_true(fabs(fit.missed_worst - 0.0962 * 62) < 0.4);
    mil_notes_free(&notes);
}

static void inks_undo_tones(void **state) {
    (void)state;
    mil_process p = {.count = 4, .ink = {0, 0.2, 0.6, 1}, .L = {30, 30, 70, 80}};
    double last = -1;
    for (int i = 0; i <= 1000; i++) {
        double tone = i / 1000.0, ink = mil_process_ink(&p, tone);
        assert_true(ink >= last && ink <= 1);
        assert_true(fabs(mil_process_lightness(&p, ink) - (30 + 50 * tone)) < 1e-9);
        assert_true(fabs(mil_process_tone(&p, ink) - tone) < 1e-12);
        last = ink;
    }
    assert_true(mil_process_ink(&p, 0) == 0 && mil_process_ink(&p, 1) == 1);
    assert_true(mil_process_ink(&p, -3) == 0 && mil_process_ink(&p, 7) == 1);
    assert_true(mil_process_ink(&p, NAN) == 0);
    assert_true(mil_process_ink(NULL, 0.3) == 0.3 && mil_process_tone(NULL, 0.3) == 0.3);
}

/* A print made with the true curve has even tones: nothing is missed, and the next
 * curve stays where it is. */
static void a_true_curve_stays(void **state) {
    (void)state;
    mil_patch patch[COUNT];
    mil_patches patches;
    mil_process first, second;
    mil_fit fit;
    milori_notes notes = {0};
    make_patches(patch, &patches, response, 0);
    assert_int_equal(mil_fit_process(ctx, "a", &patches, NULL, &first, &fit, &notes), MILORI_OK);
    strcpy(first.name, "bean poles");
    for (int i = 0; i < COUNT; i++) {
        patch[i].ink = mil_process_ink(&first, patch[i].ink);
        patch[i].L = response(patch[i].ink);
        patch[i].used = true;
    }
    assert_int_equal(mil_fit_process(ctx, "a", &patches, &first, &second, &fit, &notes), MILORI_OK);
    assert_true(fit.missed_mean < 0.2 && fit.missed_worst < 0.5 && fit.moved < 0.3);
    assert_true(second.round == 2 && second.coat_sigma < 0.3);
    assert_string_equal(second.name, "bean poles");
    for (int i = 0; i <= 50; i++)
        assert_true(fabs(mil_process_lightness(&second, i / 50.0) - response(i / 50.0)) < 0.3);
    mil_notes_free(&notes);
}

static double falling(double ink) {
    return 90 - 60 * ink;
}
static double turned_dark(double ink) {
    return response(ink) + (ink < 0.06 ? 5 : 0);
}
static double turned_light(double ink) {
    return response(ink) - (ink > 0.95 ? 7 : 0);
}
static double wavy(double ink) {
    return response(ink) + 12 * sin(18 * ink);
}
static double one_tone(double ink) {
    return 60 + 5 * ink;
}
/* Steep at once: clear film is far from the deepest blue. */
static double short_of_blue(double ink) {
    return 90 - 50 * exp(-4 * ink);
}

static void bad_prints_are_refused(void **state) {
    (void)state;
    static const struct {
        double (*of)(double);
        const char *words, *advice;
    } cases[] = {{falling, "reverse", "scan the blue print"},
                 {turned_dark, "dark end", "darken"},
                 {turned_light, "light end", "less"},
                 {wavy, "do not rise", "again"},
                 {one_tone, "only", "fresh"},
                 {short_of_blue, "too short", "longer"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        mil_patch patch[COUNT];
        mil_patches patches;
        mil_process p = {.round = 77};
        mil_fit fit;
        milori_notes notes = {0};
        make_patches(patch, &patches, cases[i].of, 0.4);
        assert_int_equal(mil_fit_process(ctx, "shed.tif", &patches, NULL, &p, &fit, &notes),
                         MILORI_ERR_SHEET);
        assert_non_null(strstr(milori_message(ctx), cases[i].words));
        assert_non_null(strstr(milori_message(ctx), cases[i].advice));
        assert_non_null(strstr(milori_message(ctx), "shed.tif: "));
        assert_int_equal(p.round, 77);
        milori_clear(ctx);
        mil_notes_free(&notes);
    }
}

static void lost_patches_are_refused(void **state) {
    (void)state;
    for (int lost = 0; lost < 4; lost++) {
        mil_patch patch[COUNT];
        mil_patches patches;
        mil_process p;
        mil_fit fit;
        milori_notes notes = {0};
        make_patches(patch, &patches, response, 0.4);
        uint64_t seed = 99;
        for (int i = 0; i < COUNT; i++) {
            int level = i % LEVELS;
            patch[i].used = lost == 0   ? level >= 4                    /* no clear film */
                            : lost == 1 ? level < 20                    /* no full ink */
                            : lost == 2 ? level % 4 == 0                /* seven inks */
                                        : level % 4 == 0 || i < LEVELS; /* enough */
            if (lost == 3 && i % 3 == 0)
                patch[i].L += 30 * draw(&seed);
        }
        assert_int_equal(mil_fit_process(ctx, "a", &patches, NULL, &p, &fit, &notes),
                         MILORI_ERR_SHEET);
        static const char *const words[4] = {"clear film", "most ink", "7 different", "far from"};
        assert_non_null(strstr(milori_message(ctx), words[lost]));
        milori_clear(ctx);
        mil_notes_free(&notes);
    }
}

static void inks_too_strong_or_weak_are_noted(void **state) {
    (void)state;
    for (int weak = 0; weak < 2; weak++) {
        mil_patch patch[COUNT];
        mil_patches patches;
        mil_process p;
        mil_fit fit;
        milori_notes notes = {0};
        make_patches(patch, &patches, response, 0.2);
        for (int i = 0; i < COUNT; i++)
            patch[i].L = response(weak ? 0.5 * patch[i].ink : fmin(2 * patch[i].ink, 1));
        assert_int_equal(mil_fit_process(ctx, "a", &patches, NULL, &p, &fit, &notes), MILORI_OK);
        const milori_note *last = &notes.note[notes.count - 1];
        assert_string_equal(last->code, "ink");
        assert_non_null(strstr(last->text, weak ? "not hold back" : "more than enough"));
        mil_notes_free(&notes);
    }
}

/* ---- the file ----------------------------------------------------------- */

static mil_process sample(void) {
    mil_process p = {.count = 3,
                     .ink = {0, 1 / 3.0, 1},
                     .L = {27.123456789012345, 60.1, 92.0 / 1.1},
                     .sigma = {0.1, 0.30000000000000004, 1e-9},
                     .blue_lab = {27, -1.5, -35.25},
                     .paper_lab = {93, 0.1, 4},
                     .ink_rgb = {0, 0.5, 1},
                     .repeat_sigma = 0.7,
                     .coat_sigma = NAN,
                     .round = 1};
    strcpy(p.name, "matt rag, two coats \xc3\xa4");
    return p;
}

static void files_read_back_to_the_bit(void **state) {
    (void)state;
    char path[80];
    snprintf(path, sizeof path, "%s/curve.json", folder);
    for (int coat = 0; coat < 2; coat++) {
        mil_process p = sample(), back;
        p.coat_sigma = coat ? 0.1 / 3 : NAN;
        assert_int_equal(mil_process_write(ctx, &p, path, coat == 1), MILORI_OK);
        assert_int_equal(mil_process_read(ctx, path, &back), MILORI_OK);
        assert_true(isnan(back.coat_sigma) == !coat);
        if (!coat)
            back.coat_sigma = p.coat_sigma;
        assert_memory_equal(&back, &p, sizeof p);
        assert_int_equal(mil_process_write(ctx, &p, path, false), MILORI_ERR_EXISTS);
        milori_clear(ctx);
    }
}

static void write_text(const char *path, const char *text) {
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    fputs(text, f);
    fclose(f);
}

#define HEAD "{\"format\":\"milori process curve\",\"version\":1,\"name\":\"x\",\"round\":1,"
#define MIDDLE                                                                                     \
    "\"repeat_sigma\":0.5,\"coat_sigma\":null,\"ink_rgb\":[0,0,0],\"blue_lab\":[30,0,-30],"        \
    "\"paper_lab\":[90,0,2],"
#define TAIL "\"ink_L_sigma\":[[0,30,0.1],[1,90,0.1]]}"

static void hostile_files_are_refused(void **state) {
    (void)state;
    static const char *const cases[] = {
        "",
        "[]",
        "{}",
        "{\"format\":\"milori process curve\"}",
        "{\"format\":\"milori process curve\",\"version\":2}",
        HEAD MIDDLE "\"ink_L_sigma\":[]}",
        HEAD MIDDLE "\"ink_L_sigma\":[[0,30,0.1]]}",
        HEAD MIDDLE "\"ink_L_sigma\":[[0,30,0.1],[1,90]]}",
        HEAD MIDDLE "\"ink_L_sigma\":[[0,30,0.1],[1,\"90\",0.1]]}",
        HEAD MIDDLE "\"ink_L_sigma\":[[0,90,0.1],[1,30,0.1]]}",
        HEAD MIDDLE "\"ink_L_sigma\":[[0,30,0.1],[0,40,0.1],[1,90,0.1]]}",
        HEAD MIDDLE "\"ink_L_sigma\":[[0.1,30,0.1],[1,90,0.1]]}",
        HEAD MIDDLE "\"ink_L_sigma\":[[0,30,-1],[1,90,0.1]]}",
        HEAD MIDDLE "\"ink_L_sigma\":[[0,30,0.1],[1,1e999,0.1]]}",
        HEAD MIDDLE "\"ink_L_sigma\":[[0,30,0.1],[1,33,0.1]]}",
        HEAD MIDDLE "\"round\":2," TAIL,
        HEAD "\"repeat_sigma\":-1,\"coat_sigma\":null,\"ink_rgb\":[0,0,0],\"blue_lab\":[30,0,-30],"
             "\"paper_lab\":[90,0,2]," TAIL,
        HEAD "\"repeat_sigma\":1,\"coat_sigma\":null,\"ink_rgb\":[0,0,2],\"blue_lab\":[30,0,-30],"
             "\"paper_lab\":[90,0,2]," TAIL,
        HEAD MIDDLE TAIL " x"};
    char path[80];
    snprintf(path, sizeof path, "%s/curve.json", folder);
    mil_process p;
    write_text(path, HEAD MIDDLE TAIL);
    assert_int_equal(mil_process_read(ctx, path, &p), MILORI_OK);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        mil_process before = {.round = 9};
        write_text(path, cases[i]);
        assert_int_not_equal(mil_process_read(ctx, path, &before), MILORI_OK);
        assert_non_null(strstr(milori_message(ctx), path));
        assert_null(strchr(milori_message(ctx), '\n'));
        assert_int_equal(before.round, 9);
        milori_clear(ctx);
    }
}

static void what_is_no_process_is_not_written(void **state) {
    (void)state;
    char path[80];
    snprintf(path, sizeof path, "%s/curve.json", folder);
    for (int i = 0; i < 5; i++) {
        mil_process p = sample();
        if (i == 0)
            p.L[1] = 20;
        else if (i == 1)
            p.count = 1;
        else if (i == 2)
            p.ink[1] = NAN;
        else if (i == 3)
            p.round = 0;
        else
            p.paper_lab[0] = NAN;
        assert_non_null(mil_process_fault(&p));
        assert_int_equal(mil_process_write(ctx, &p, path, true), MILORI_ERR_ARGUMENT);
        assert_int_not_equal(access(path, F_OK), 0);
        milori_clear(ctx);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_response_is_found),
        cmocka_unit_test(inks_undo_tones),
        cmocka_unit_test(a_true_curve_stays),
        cmocka_unit_test(bad_prints_are_refused),
        cmocka_unit_test(lost_patches_are_refused),
        cmocka_unit_test(inks_too_strong_or_weak_are_noted),
        cmocka_unit_test_setup_teardown(files_read_back_to_the_bit, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(hostile_files_are_refused, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(what_is_no_process_is_not_written, make_folder,
                                        remove_folder)};
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
