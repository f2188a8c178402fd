/* A series and its notes: matching, the relation in one light, table, JSON and plots. Sheets follow
 * print-out dye as the simulator's do, most * (1 - exp(-rate * minutes / most)): in proportion
 * while small (common practice, no source), then used up. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <dirent.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "sheet/by_python.h"
#include "temp_folder.h"
#include "view/series.h"
#include "view/told_words.h"
#include "view/wrap.h"

static milori_context *ctx;

static mil_notes_file notes_of(const char *text) {
    char path[128];
    mil_notes_file notes;
    snprintf(path, sizeof path, "%s/notes.csv", folder);
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    fputs(text, f);
    fclose(f);
    assert_int_equal(mil_notes_file_read(ctx, path, &notes), MILORI_OK);
    return notes;
}

static milori_sheet sheet_of(double strength, int number, int of) {
    return (milori_sheet){.number = number,
                          .of = of,
                          .fog = {0.05, 0.03, MILORI_FOUND},
                          .range = {1.5, 0.05, MILORI_FOUND},
                          .strength = {strength, 0.02 * strength, MILORI_FOUND},
                          .most = {2.8, 0.7, MILORI_FOUND},
                          .tones = {20, 2, MILORI_FOUND},
                          .uneven = {9, 1, MILORI_FOUND},
                          .next_stops = {0.25, 0.5, MILORI_FOUND},
                          .tarnish = MILORI_FRESH,
                          .exposure = MILORI_EXPOSURE_RIGHT};
}

static void add(mil_series *series, const char *path, double strength, int number, int of) {
    milori_sheet sheet = sheet_of(strength, number, of);
    assert_int_equal(mil_series_add(ctx, series, path, &sheet), MILORI_OK);
}

static bool said_so(const milori_notes *said, const char *words) {
    for (size_t i = 0; i < said->count; i++)
        if (strstr(said->note[i].text, words))
            return true;
    return false;
}

static void notes_find_their_sheets(void **state) {
    (void)state;
    mil_notes_file notes = notes_of("file,minutes\nbeans,1\nbeds-2,2\nbeds.tif,3\nold/twin.tif,4\n"
                                    "new/twin.tif,5\ngone,6\na/odd,7\nb/odd,8\n");
    mil_series s = {.notes = &notes};
    milori_notes said = {0};
    add(&s, "scans/beans.tif", 1, 1, 1);
    add(&s, "scans/beds.tif", 1, 1, 2);
    add(&s, "scans/beds.tif", 1, 2, 2);
    add(&s, "old/twin.tif", 1, 1, 1);
    add(&s, "new/twin.tif", 1, 1, 1);
    add(&s, "scans/plain.tif", 1, 1, 1);
    add(&s, "c/odd.tif", 1, 1, 1);
    add(&s, "scans/beans.png", 1, 1, 1);
    assert_int_equal(mil_series_match(ctx, &s, &said), MILORI_OK);
    const double minutes[8] = {1, 3, 2, 4, 5, 0, 0, 1};
    for (int i = 0; i < 8; i++)
        assert_true(minutes[i] > 0 ? s.sheet[i].noted && s.sheet[i].noted->minutes == minutes[i]
                                   : !s.sheet[i].noted);
    assert_string_equal(s.sheet[2].name, "beds-2.tif");
    assert_int_equal(said.count, 3);
    assert_true(said_so(&said, "line 7: no scan called gone is here"));
    assert_true(said_so(&said, "plain.tif: has no notes"));
    assert_true(said_so(&said, "odd.tif: lines 8 and 9 fit it alike"));
    mil_notes_free(&said);
    mil_series_free(&s);
    mil_notes_file_free(&notes);
}

static const double MOST = 3.1, RATE = 0.073;

static double strength_after(double minutes) {
    return MOST * (1 - exp(-RATE * minutes / MOST));
}

/* Two lights, six sheets and two, and some that are in none. stray: stops by which every other
 * sheet of the first has more light than its minutes say. */
static mil_series made_series(mil_notes_file *notes, double stray) {
    static const double minutes[6] = {2, 4, 8, 15, 30, 60};
    *notes = notes_of("file;minutes;light;hours;UV index\n"
                      "s0;2;front-lit;6;4,5\ns1;4;Front-lit;6;\ns2;8;front-lit;6;\n"
                      "s3;15;front-lit;20;\ns4;30;front-lit;72;\ns5;60;front-lit;;7\n"
                      "t0;3;against <the> light;1;\nt1;15;against <the> light;2;\n"
                      "u;5;;3;\nv;;front-lit;4;\n");
    mil_series s = {.notes = notes};
    milori_notes said = {0};
    for (int i = 0; i < 6; i++) {
        char name[16];
        snprintf(name, sizeof name, "s%d.tif", i);
        add(&s, name, strength_after(minutes[i] * exp2(i % 2 ? stray : 0)), 1, 1);
    }
    add(&s, "t0.tif", 0.06, 1, 1);
    add(&s, "t1.tif", 0.3, 1, 1);
    add(&s, "u.tif", 0.3, 1, 1);
    add(&s, "v.tif", 0.3, 1, 1);
    assert_int_equal(mil_series_match(ctx, &s, &said), MILORI_OK);
    assert_int_equal(said.count, 0);
    assert_int_equal(mil_series_relate(ctx, &s), MILORI_OK);
    return s;
}

static void one_light_s_relation(void **state) {
    (void)state;
    mil_notes_file notes;
    mil_series s = made_series(&notes, 0);
    assert_int_equal(s.lights, 2);
    const mil_series_light *front = &s.light[0], *against = &s.light[1];
    assert_int_equal(front->count, 6);
    assert_int_equal(against->count, 2);
    /* The series' own bend moves the dye's most from the 2.8 that its sheets say singly. */
    print_message("most %.3f, rate %.4f, stray %.2f, right %.1f min\n", front->most, front->rate,
                  front->scatter, front->right.value);
    assert_true(fabs(front->most / MOST - 1) < 0.06 && fabs(front->rate / RATE - 1) < 0.02);
    assert_true(front->scatter < 0.2 && front->scatter >= 0.1);
    static const double minutes[6] = {2, 4, 8, 15, 30, 60};
    for (int i = 0; i < 6; i++) {
        assert_true(fabs(s.sheet[i].apart.value - log2(minutes[i] / 2)) < 0.15);
        assert_true(s.sheet[i].next.value == log2(front->right.value / minutes[i]));
        assert_true(fabs(mil_series_strength(front, minutes[i]) / strength_after(minutes[i]) - 1) <
                    0.03);
    }
    /* Light tones at a quarter of the most: computed. */
    assert_true(fabs(front->right.value / (MOST * log(4.0 / 3) / RATE) - 1) < 0.08);
    /* Three minutes against a quarter of an hour: 2.3 stops (common practice, no source). */
    assert_true(fabs(s.sheet[7].apart.value - log2(5)) < 0.15);
    assert_true(s.sheet[7].apart.sigma > 0.1 && s.sheet[7].apart.sigma < 0.6);
    /* Without light or minutes each sheet speaks for itself. */
    assert_true(isnan(s.sheet[8].apart.value) && s.sheet[8].next.value == 0.25);
    assert_true(s.sheet[9].light == -1 && s.sheet[9].next.value == 0.25);
    mil_series_free(&s);
    mil_notes_file_free(&notes);
}

static void straying_sheets_widen_what_is_said(void **state) {
    (void)state;
    mil_notes_file notes;
    mil_series even = made_series(&notes, 0);
    double before = even.light[0].scatter, sigma = even.sheet[5].apart.sigma;
    mil_series_free(&even);
    mil_notes_file_free(&notes);
    mil_series s = made_series(&notes, 1);
    /* Half a stop above and half below the mean of all. */
    assert_true(s.light[0].scatter > 0.35 && s.light[0].scatter < 0.65);
    assert_true(s.light[0].scatter > 2 * before && s.sheet[5].apart.sigma > 1.5 * sigma);
    assert_true(fabs(s.sheet[1].apart.value - 2) < 0.15);
    mil_series_free(&s);
    mil_notes_file_free(&notes);
}

static char *table_of(const mil_series *s) {
    char *text;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    mil_series_table(out, s);
    assert_int_equal(fclose(out), 0);
    return text;
}

static void the_table(void **state) {
    (void)state;
    mil_notes_file notes;
    mil_series s = made_series(&notes, 0);
    char *text = table_of(&s);
    assert_int_equal(strncmp(text, "sheet ", 6), 0);
    assert_non_null(strstr(text, "UV index"));
    assert_non_null(strstr(text, "4,5"));
    assert_non_null(strstr(text, "\nfront-lit: 6 sheets, 2 to 60 minutes."));
    assert_non_null(strstr(text, "minutes would be right in the same light"));
    assert_null(strstr(text, "nan"));
    free(text);
    mil_series_free(&s);
    mil_notes_file_free(&notes);
}

static void json_of_a_series(void **state) {
    (void)state;
    mil_notes_file notes;
    mil_series s = made_series(&notes, 0);
    char *text;
    assert_int_equal(mil_series_json(ctx, &s, &text), MILORI_OK);
    json_t *json = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
    json_t *sheets = json_object_get(json, "sheets"), *lights = json_object_get(json, "lights");
    assert_int_equal(json_array_size(sheets), 10);
    assert_int_equal(json_array_size(lights), 2);
    json_t *first = json_array_get(sheets, 0);
    assert_true(json_real_value(json_object_get(first, "minutes")) == 2);
    assert_string_equal(
        json_string_value(json_object_get(json_object_get(first, "more"), "UV index")), "4,5");
    assert_true(json_is_null(json_object_get(json_array_get(sheets, 5), "hours")));
    assert_true(json_is_null(json_object_get(json_array_get(sheets, 8), "apart")));
    assert_string_equal(json_string_value(json_object_get(json_array_get(lights, 1), "light")),
                        "against <the> light");
    json_decref(json);
    free(text);
    mil_series_free(&s);
    mil_notes_file_free(&notes);
}

/* Titles of a plot's points, by Python's parser, against what was noted. */
static void check_plot(const char *name, double points) {
    char script[1024];
    snprintf(script, sizeof script,
             "import xml.etree.ElementTree as E\n"
             "s = '{http://www.w3.org/2000/svg}'\n"
             "r = E.parse('%s/%s').getroot()\n"
             "p = [g.find(s + 'title').text for g in r.iter(s + 'g') if g.get('role')]\n"
             "t = ' '.join(t.text or '' for t in r.iter(s + 'text'))\n"
             "print(len(p), int(all('.tif: ' in x for x in p)), int('against <the> light' in t))",
             folder, name);
    double got[3];
    FILE *pipe = python_starts(script);
    python_says(pipe, 3, got);
    python_ends(pipe);
    assert_true(got[0] == points && got[1] == 1 && got[2] == 1);
}

static void plots_hold_what_was_noted(void **state) {
    (void)state;
    mil_notes_file notes;
    mil_series s = made_series(&notes, 0);
    milori_notes said = {0};
    assert_int_equal(mil_series_plots_vacant(ctx, folder), MILORI_OK);
    assert_int_equal(mil_series_plots(ctx, &s, folder, false, &said), MILORI_OK);
    assert_int_equal(said.count, 0);
    check_plot("fog-and-age.svg", 9);
    check_plot("range-and-minutes.svg", 9);
    check_plot("depth-and-minutes.svg", 9);
    /* What is there is left alone, unless it may be replaced. */
    assert_int_equal(mil_series_plots_vacant(ctx, folder), MILORI_ERR_EXISTS);
    milori_clear(ctx);
    assert_int_equal(mil_series_plots(ctx, &s, folder, false, &said), MILORI_ERR_EXISTS);
    milori_clear(ctx);
    assert_int_equal(mil_series_plots(ctx, &s, folder, true, &said), MILORI_OK);
    mil_series_free(&s);
    mil_notes_file_free(&notes);
    notes = notes_of("file,light\ns0,sun\n");
    mil_series bare = {.notes = &notes};
    add(&bare, "s0.tif", 1, 1, 1);
    assert_int_equal(mil_series_match(ctx, &bare, &said), MILORI_OK);
    assert_int_equal(mil_series_relate(ctx, &bare), MILORI_OK);
    assert_int_equal(mil_series_plots(ctx, &bare, folder, true, &said), MILORI_OK);
    assert_true(said_so(&said, "no sheet has hours noted: fog-and-age.svg is not drawn"));
    mil_notes_free(&said);
    mil_series_free(&bare);
    mil_notes_file_free(&notes);
}

/* More lights than looks, and a series without any note. */
static void many_lights_and_none(void **state) {
    (void)state;
    char *text = malloc(64 * 64);
    size_t used = (size_t)sprintf(text, "file,minutes,light,hours\n");
    mil_series s = {0};
    for (int i = 0; i < 40; i++)
        used += (size_t)sprintf(text + used, "n%d,%d,light %d,1\n", i, 5 + i, i / 2);
    mil_notes_file notes = notes_of(text);
    free(text);
    s.notes = &notes;
    for (int i = 0; i < 40; i++) {
        char name[16];
        snprintf(name, sizeof name, "n%d.tif", i);
        add(&s, name, 0.1 + 0.02 * i, 1, 1);
    }
    milori_notes said = {0};
    assert_int_equal(mil_series_match(ctx, &s, &said), MILORI_OK);
    assert_int_equal(mil_series_relate(ctx, &s), MILORI_OK);
    assert_int_equal(s.lights, 20);
    assert_int_equal(mil_series_plots(ctx, &s, folder, true, &said), MILORI_OK);
    free(table_of(&s));
    mil_series_free(&s);
    mil_notes_file_free(&notes);
    notes = notes_of("file\n");
    mil_series none = {.notes = &notes};
    assert_int_equal(mil_series_match(ctx, &none, &said), MILORI_OK);
    assert_int_equal(mil_series_relate(ctx, &none), MILORI_OK);
    free(table_of(&none));
    mil_notes_free(&said);
    mil_series_free(&none);
    mil_notes_file_free(&notes);
}

static void half_stops_in_words(void **state) {
    (void)state;
    static const struct {
        double stops;
        const char *words;
    } cases[] = {{0.2, "no stop"}, {-0.3, "half a stop"}, {0.74, "half a stop"},
                 {0.76, "a stop"}, {1.4, "1 1/2 stops"},  {-2.3, "2 1/2 stops"},
                 {3.1, "3 stops"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char text[32];
        mil_stops_words(cases[i].stops, text, sizeof text);
        assert_string_equal(text, cases[i].words);
    }
    /* Nine times in ten is 1.645 standard deviations (normal distribution). */
    assert_true(mil_stops_give(0.5) == 1 && mil_stops_give(0.1) == 0.5 &&
                mil_stops_give(0.8) == 1.5);
}

static void a_sheet_in_words(void **state) {
    (void)state;
    milori_sheet sheet = sheet_of(0.3, 1, 1);
    char *words = mil_told_words(&sheet);
    assert_string_equal(
        words,
        "Fresh. The exposure was right, give or take a stop. About 20 tones stand apart from the "
        "grain. The coat is uneven by 9 %, give or take 2.");
    free(words);
    sheet.exposure = MILORI_EXPOSURE_SHORT;
    sheet.next_stops = (milori_value){1.6, 0.5, MILORI_FOUND};
    sheet.tarnish = MILORI_CLEARLY_FOGGED;
    sheet.tones.value = sheet.uneven.value = NAN;
    words = mil_told_words(&sheet);
    assert_string_equal(words,
                        "Clearly fogged. The exposure was short: about 1 1/2 stops more next "
                        "time in the same light, give or take a stop.");
    free(words);
    sheet.exposure = MILORI_EXPOSURE_UNKNOWN;
    sheet.tarnish = MILORI_TARNISH_UNKNOWN;
    words = mil_told_words(&sheet);
    assert_string_equal(words, "");
    free(words);
}

static void words_in_columns(void **state) {
    (void)state;
    char *text, long_word[200];
    size_t size;
    memset(long_word, 'x', 199);
    long_word[199] = 0;
    FILE *out = open_memstream(&text, &size);
    mil_wrap(out, "   - ", "one two");
    mil_wrap(out, "   - ", long_word);
    mil_pad(out, "gl\xc3\xa4ss", 7);
    fputc('|', out);
    mil_pad(out, "seed-trays-02", 6);
    fclose(out);
    assert_int_equal(strncmp(text, "   - one two\n   - xxx", 21), 0);
    assert_non_null(strstr(text, "x\ngl\xc3\xa4ss  |\xe2\x80\xa6ys-02"));
    free(text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(notes_find_their_sheets),
        cmocka_unit_test(one_light_s_relation),
        cmocka_unit_test(straying_sheets_widen_what_is_said),
        cmocka_unit_test(the_table),
        cmocka_unit_test(json_of_a_series),
        cmocka_unit_test(plots_hold_what_was_noted),
        cmocka_unit_test(many_lights_and_none),
        cmocka_unit_test(half_stops_in_words),
        cmocka_unit_test(a_sheet_in_words),
        cmocka_unit_test(words_in_columns),
    };
    ctx = milori_context_new();
    int failed = cmocka_run_group_tests(tests, make_folder, remove_folder);
    milori_context_free(ctx);
    return failed;
}
