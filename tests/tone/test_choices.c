/* Choices from text: the one parser, its ranges and its messages. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/frames.h"
#include "test_context.h"
#include "tone/choices.h"

static milori_status set(milori_choices *choices, const char *name, const char *text) {
    milori_clear(ctx);
    return milori_choice_set(ctx, choices, name, text);
}

static void defaults_are_as_the_header_says(void **state) {
    (void)state;
    milori_choices c;
    milori_choices_default(&c);
    assert_int_equal(c.struct_size, sizeof c);
    assert_int_equal(c.format, MILORI_TIFF);
    assert_int_equal(c.depth, 0);
    assert_int_equal(c.quality, 95);
    assert_string_equal(c.profile, "");
    assert_int_equal(c.intent, MILORI_RELATIVE);
    assert_true(c.black_point);
    assert_true(c.stops == 0 && isnan(c.grade) && c.soften_shadows == 0 && c.soften_lights == 0);
    assert_true(isnan(c.veil) && c.curve_points == 0 && c.dodge_stops == 1);
    assert_string_equal(c.dodge, "");
    assert_int_equal(c.palette, MILORI_NEUTRAL);
    assert_int_equal(c.sun, MILORI_SUN_BLACK);
    assert_false(c.as_scanned);
    assert_int_equal(c.turn, 0);
    assert_true(isnan(c.dpi) && isnan(c.frame_mm[0]) && isnan(c.frame_mm[1]));
    assert_int_equal(c.shape, MILORI_SHAPE_AUTO);
    assert_false(c.whole_sheet || c.corners_given || c.spots);
    assert_int_equal(mil_choices_check(ctx, &c), MILORI_OK);
}

/* The sink writes PDF, for prints; a positive is none. */
static void pdf_is_no_choice(void **state) {
    (void)state;
    milori_choices c;
    milori_choices_default(&c);
    assert_int_equal(set(&c, "format", "pdf"), MILORI_ERR_ARGUMENT);
    milori_clear(ctx);
    c.format = MILORI_PDF;
    assert_int_equal(mil_choices_check(ctx, &c), MILORI_ERR_ARGUMENT);
    assert_non_null(strstr(milori_message(ctx), "tiff, png or jpeg"));
    milori_clear(ctx);
}

static void every_choice_says_what_it_is(void **state) {
    (void)state;
    size_t count;
    const mil_choice_info *table = mil_choice_table(&count);
    assert_int_equal(count, 23);
    for (size_t i = 0; i < count; i++) {
        char expects[160], line[160];
        mil_choice_expects(&table[i], expects, sizeof expects);
        assert_true(strlen(expects) > 5 && strlen(expects) < sizeof expects - 1);
        /* a line of help fits the terminal */
        int n = snprintf(line, sizeof line, "  --%s %s", table[i].name, table[i].values);
        assert_true(n < 60 && strlen(table[i].help) < 76);
        assert_ptr_equal(mil_choice_named(table[i].name), &table[i]);
        /* only the frame's place and the spots are one sheet's own */
        bool own = !strcmp(table[i].name, "corners") || !strcmp(table[i].name, "unexposed");
        assert_int_equal(table[i].one_sheet, own);
    }
    assert_null(mil_choice_named("gradient"));
}

typedef struct taken {
    const char *name, *text;
} taken;

static void texts_in_range_are_taken(void **state) {
    (void)state;
    const taken cases[] = {{"format", "png"},
                           {"depth", "8"},
                           {"depth", "16"},
                           {"depth", "auto"},
                           {"quality", "1"},
                           {"quality", "100"},
                           {"profile", "sRGB"},
                           {"profile", "a paper.icc"},
                           {"intent", "absolute"},
                           {"black-point", "off"},
                           {"stops", "-10"},
                           {"stops", "+0.5"},
                           {"grade", "-2"},
                           {"grade", "8"},
                           {"grade", "auto"},
                           {"soften-shadows", "1"},
                           {"soften-lights", "0"},
                           {"veil", "95"},
                           {"veil", "0"},
                           {"curve", "none"},
                           {"dodge", "none"},
                           {"dodge", "scarecrow.png"},
                           {"dodge-stops", "2"},
                           {"palette", "amber"},
                           {"sun", "white"},
                           {"reading", "as-scanned"},
                           {"turn", "270"},
                           {"dpi", "1200"},
                           {"shape", "round"},
                           {"frame", "sheet"},
                           {"corners", "auto"},
                           {"unexposed", "none"},
                           {"unexposed", "1,2  3.5,-4"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        milori_choices c;
        milori_choices_default(&c);
        assert_int_equal(set(&c, cases[i].name, cases[i].text), MILORI_OK);
        assert_int_equal(mil_choices_check(ctx, &c), MILORI_OK);
    }
}

static void texts_out_of_range_are_refused(void **state) {
    (void)state;
    const taken cases[] = {{"format", "gif"},
                           {"format", ""},
                           {"format", "tiff|png"},
                           {"depth", "12"},
                           {"quality", "0"},
                           {"quality", "101"},
                           {"quality", "90.5"},
                           {"quality", "1e99"},
                           {"intent", "Relative"},
                           {"black-point", "yes"},
                           {"stops", "10.001"},
                           {"stops", "auto"},
                           {"stops", "nan"},
                           {"stops", "1,5"},
                           {"grade", "9"},
                           {"grade", "-2.01"},
                           {"grade", "N"},
                           {"soften-shadows", "-0.1"},
                           {"soften-lights", "1.1"},
                           {"veil", "96"},
                           {"veil", "-1"},
                           {"dodge-stops", "11"},
                           {"sun", "grey"},
                           {"reading", "left"},
                           {"turn", "45"},
                           {"turn", "360"},
                           {"dpi", "9"},
                           {"dpi", "inf"},
                           {"shape", "oval"},
                           {"frame", "56"},
                           {"frame", "56x"},
                           {"frame", "x56"},
                           {"frame", "56x5"},
                           {"frame", "56x56x56"},
                           {"frame", "5x5"},
                           {"frame", "1001x20"},
                           {"frame", "19x24"},
                           {"frame", "6x5"},
                           {"frame", ""},
                           {"corners", "1,2 3,4 5,6"},
                           {"corners", "0,0 9,0 9,9 0,9 4,4"},
                           {"corners", "0 0 9 0 9 9 0 9"},
                           {"corners", "0,0 1e300,0 1e300,1e300 0,1e300"},
                           {"unexposed", ""},
                           {"unexposed", "5"},
                           {"unexposed", "5,"},
                           {"unexposed", "5,6,7"},
                           {"unexposed", "2e6,1"},
                           {"unexposed", "1,1 2,2 3,3 4,4 5,5 6,6 7,7 8,8 9,9"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        milori_choices c, before;
        milori_choices_default(&c);
        before = c;
        assert_int_equal(set(&c, cases[i].name, cases[i].text), MILORI_ERR_ARGUMENT);
        assert_memory_equal(&c, &before, sizeof c);
        char start[64];
        snprintf(start, sizeof start, "--%s %s: give ", cases[i].name, cases[i].text);
        assert_memory_equal(milori_message(ctx), start, strlen(start));
    }
}

static void messages_name_the_range(void **state) {
    (void)state;
    milori_choices c;
    milori_choices_default(&c);
    set(&c, "grade", "9");
    assert_string_equal(milori_message(ctx), "--grade 9: give auto or a number from -2 to 8");
    set(&c, "turn", "45");
    assert_string_equal(milori_message(ctx), "--turn 45: give 0, 90, 180 or 270");
    set(&c, "quality", "0");
    assert_string_equal(milori_message(ctx), "--quality 0: give a whole number from 1 to 100");
    set(&c, "stops", "0,5");
    assert_string_equal(milori_message(ctx),
                        "--stops 0,5: give a number from -10 to 10; write 0.5");
    set(&c, "stops", "0,5,1");
    assert_string_equal(milori_message(ctx), "--stops 0,5,1: give a number from -10 to 10");
    /* every size that has a name is named, and what a number means */
    set(&c, "frame", "6x5");
    size_t sizes;
    const mil_frame_size *size = mil_frame_sizes(&sizes);
    for (size_t i = 0; i < sizes; i++)
        assert_non_null(strstr(milori_message(ctx), size[i].name));
    assert_non_null(strstr(milori_message(ctx), "in mm (20 to 1000), such as 56x84"));
    assert_int_equal(set(&c, "gradient", "1"), MILORI_ERR_ARGUMENT);
    assert_non_null(strstr(milori_message(ctx), "--gradient"));
}

static void long_names_are_refused(void **state) {
    (void)state;
    static char name[MILORI_PATH_MAX + 1];
    milori_choices c;
    milori_choices_default(&c);
    memset(name, 'p', MILORI_PATH_MAX - 1);
    assert_int_equal(set(&c, "profile", name), MILORI_OK);
    assert_string_equal(c.profile, name);
    name[MILORI_PATH_MAX - 1] = 'p';
    assert_int_equal(set(&c, "profile", name), MILORI_ERR_ARGUMENT);
    assert_int_equal(set(&c, "dodge", name), MILORI_ERR_ARGUMENT);
}

static void files_named_are_missed(void **state) {
    (void)state;
    milori_choices c;
    milori_choices_default(&c);
    const char *line =
        "/no/such/file: cannot be opened (No such file or directory); check the name";
    assert_int_equal(set(&c, "curve", "/no/such/file"), MILORI_ERR_OPEN);
    assert_string_equal(milori_message(ctx), line);
    assert_int_equal(set(&c, "palette", "/no/such/file"), MILORI_ERR_OPEN);
    assert_string_equal(milori_message(ctx), line);
    assert_int_equal(set(&c, "palette", "lost.txt"), MILORI_ERR_OPEN);
}

/* 120 film's nominal frames (REFERENCES, seen). */
static void frames_have_names_and_sizes(void **state) {
    (void)state;
    const struct {
        const char *text;
        double w, h;
    } cases[] = {{"6x4.5", 56, 41.5},   {"6x6", 56, 56},         {"6x7", 56, 70},
                 {"6x9", 56, 84},       {"35mm", 36, 24},        {"4x5", 95, 120},
                 {"56x41.5", 56, 41.5}, {"56 x 41.5", 56, 41.5}, {" 90.25x120 ", 90.25, 120},
                 {"4.5x6", 56, 41.5},   {"6X4.5", 56, 41.5},     {"9 X 6", 56, 84},
                 {"10x8", 196, 247},    {"35MM", 36, 24},        {"84X56", 84, 56}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        milori_choices c;
        milori_choices_default(&c);
        assert_int_equal(set(&c, "frame", "sheet"), MILORI_OK);
        assert_true(c.whole_sheet);
        assert_int_equal(set(&c, "frame", cases[i].text), MILORI_OK);
        assert_false(c.whole_sheet);
        assert_true(c.frame_mm[0] == cases[i].w && c.frame_mm[1] == cases[i].h);
    }
    /* a name in inches or cm can never be read as mm */
    size_t count;
    const mil_frame_size *sizes = mil_frame_sizes(&count);
    for (size_t i = 0; i < count; i++) {
        double w = 0;
        assert_true(sscanf(sizes[i].name, "%lf", &w) == 1);
        assert_true(w < 10 || strstr(sizes[i].name, "mm"));
        assert_true(strlen(sizes[i].name) < sizeof((milori_sheet *)0)->frame_name);
    }
}

static void corners_start_anywhere_and_go_either_way_about(void **state) {
    (void)state;
    const double want[4][2] = {{10, 12}, {200, 8}, {205, 190.5}, {11, 199}};
    const char *texts[] = {"10,12 200,8 205,190.5 11,199", "205,190.5 200,8 10,12 11,199",
                           "11,199 205,190.5 200,8 10,12", " 200,8  205,190.5\t11,199 10 , 12 "};
    for (int i = 0; i < 4; i++) {
        milori_choices c;
        milori_choices_default(&c);
        assert_int_equal(set(&c, "corners", texts[i]), MILORI_OK);
        assert_true(c.corners_given);
        assert_memory_equal(c.corners_px, want, sizeof want);
        mil_choices_forget_sheet(&c);
        assert_false(c.corners_given);
    }
}

static void corners_of_no_frame_are_refused(void **state) {
    (void)state;
    const char *texts[] = {"0,0 9,9 9,0 0,9", "0,0 9,0 0,9 9,9", "0,0 9,0 9,9 3,1",
                           "0,0 1,1 2,2 3,3", "0,0 0,0 0,0 0,0", "0,0 9,0 9,9 9,0",
                           "0,0 9,0 18,0 9,9"};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        milori_choices c, before;
        milori_choices_default(&c);
        before = c;
        assert_int_equal(set(&c, "corners", texts[i]), MILORI_ERR_ARGUMENT);
        assert_memory_equal(&c, &before, sizeof c);
        char start[64];
        snprintf(start, sizeof start, "--corners %s: these are no frame", texts[i]);
        assert_memory_equal(milori_message(ctx), start, strlen(start));
    }
}

static void a_misspelt_palette_is_told_the_words(void **state) {
    (void)state;
    milori_choices c;
    milori_choices_default(&c);
    assert_int_equal(set(&c, "palette", "sepia"), MILORI_ERR_ARGUMENT);
    assert_string_equal(milori_message(ctx),
                        "--palette sepia: give neutral, amber, blue or the name of a palette file");
}

static void what_is_one_sheets_own_can_be_forgotten(void **state) {
    (void)state;
    milori_choices c, plain;
    milori_choices_default(&c);
    set(&c, "grade", "3");
    set(&c, "frame", "6x6");
    plain = c;
    set(&c, "corners", "0,0 9,0 9,9 0,9");
    set(&c, "unexposed", "4,4");
    assert_true(c.corners_given && c.spots == 1);
    mil_choices_forget_sheet(&c);
    assert_memory_equal(&c, &plain, sizeof c);
}

static void choices_at_odds_are_refused(void **state) {
    (void)state;
    milori_choices c;
    milori_choices_default(&c);
    assert_int_equal(mil_choices_depth(&c), 16);
    set(&c, "depth", "16");
    set(&c, "format", "jpeg");
    assert_int_equal(mil_choices_check(ctx, &c), MILORI_ERR_ARGUMENT);
    assert_non_null(strstr(milori_message(ctx), "--depth 16"));
    set(&c, "depth", "auto");
    assert_int_equal(mil_choices_check(ctx, &c), MILORI_OK);
    assert_int_equal(mil_choices_depth(&c), 8);
}

/* Fields set without the parser are checked as well. */
static void fields_out_of_range_are_found(void **state) {
    (void)state;
    milori_choices good;
    milori_choices_default(&good);
    for (int i = 0; i < 12; i++) {
        milori_choices c = good;
        switch (i) {
        case 0:
            c.stops = NAN;
            break;
        case 1:
            c.grade = 8.5;
            break;
        case 2:
            c.depth = 10;
            break;
        case 3:
            c.turn = 1;
            break;
        case 4:
            c.curve_points = 1;
            break;
        case 5:
            c.curve_points = MILORI_CURVE_MAX + 1;
            break;
        case 6:
            c.palette = MILORI_PALETTE_FILE;
            break;
        case 7:
            c.spots = MILORI_SPOT_MAX + 1;
            break;
        case 8:
            memset(c.profile, 'x', sizeof c.profile);
            break;
        case 9:
            c.frame_mm[0] = 56;
            break;
        case 10:
            c.corners_given = true;
            break;
        case 11:
            c.struct_size--;
            break;
        }
        char *json = NULL;
        milori_clear(ctx);
        assert_int_equal(mil_choices_check(ctx, &c), MILORI_ERR_ARGUMENT);
        assert_int_equal(milori_choices_to_json(ctx, &c, &json), MILORI_ERR_ARGUMENT);
        assert_null(json);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(defaults_are_as_the_header_says),
        cmocka_unit_test(pdf_is_no_choice),
        cmocka_unit_test(every_choice_says_what_it_is),
        cmocka_unit_test(texts_in_range_are_taken),
        cmocka_unit_test(texts_out_of_range_are_refused),
        cmocka_unit_test(messages_name_the_range),
        cmocka_unit_test(long_names_are_refused),
        cmocka_unit_test(files_named_are_missed),
        cmocka_unit_test(frames_have_names_and_sizes),
        cmocka_unit_test(corners_start_anywhere_and_go_either_way_about),
        cmocka_unit_test(corners_of_no_frame_are_refused),
        cmocka_unit_test(a_misspelt_palette_is_told_the_words),
        cmocka_unit_test(what_is_one_sheets_own_can_be_forgotten),
        cmocka_unit_test(choices_at_odds_are_refused),
        cmocka_unit_test(fields_out_of_range_are_found)};
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
