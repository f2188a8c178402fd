/* Choices as JSON (RFC 8259): there and back to the bit, and hostile text. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "test_context.h"
#include "tone/choices.h"

static void set(milori_choices *choices, const char *name, const char *text) {
    assert_int_equal(milori_choice_set(ctx, choices, name, text), MILORI_OK);
}

/* Reads text as a choice that names a file holding it. */
static void set_file(milori_choices *choices, const char *name, const char *text) {
    char path[] = "/tmp/milori-choice-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, text, strlen(text)), strlen(text));
    close(fd);
    set(choices, name, path);
    unlink(path);
}

static void goes_there_and_back(const milori_choices *choices) {
    char *json, *again;
    milori_choices back;
    memset(&back, 0x55, sizeof back);
    milori_choices_default(&back);
    assert_int_equal(milori_choices_to_json(ctx, choices, &json), MILORI_OK);
    assert_int_equal(milori_choices_from_json(ctx, &back, json, strlen(json)), MILORI_OK);
    assert_memory_equal(&back, choices, sizeof back);
    assert_int_equal(milori_choices_to_json(ctx, &back, &again), MILORI_OK);
    assert_string_equal(json, again);
    free(json);
    free(again);
}

static void fill(milori_choices *c) {
    const char *texts[][2] = {{"format", "png"},
                              {"depth", "16"},
                              {"quality", "81"},
                              {"profile", "back\\slash \xff\x01 gew\xc3\xa4"
                                          "chshaus.icc"},
                              {"intent", "saturation"},
                              {"black-point", "off"},
                              {"stops", "-0.0"},
                              {"grade", "2.7182818284590452"},
                              {"soften-shadows", "0.1"},
                              {"soften-lights", "0.30000000000000004"},
                              {"veil", "1e-300"},
                              {"dodge", "./none"},
                              {"dodge-stops", "-1.5"},
                              {"sun", "white"},
                              {"reading", "as-scanned"},
                              {"turn", "90"},
                              {"dpi", "1199.9999999999998"},
                              {"shape", "round"},
                              {"frame", "56 x 41.333333333333336"},
                              {"corners", "0.1,0.2 900.3,1e-5 899,1000 -4,1001"},
                              {"unexposed", "1,2 3.3,4.4"}};
    milori_choices_default(c);
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        set(c, texts[i][0], texts[i][1]);
    set_file(c, "curve", "0 0.1\n0.3333333333333333 0.5\n1 0.97\n");
    set_file(c, "palette", "0 8 1.1 -2\n0.5 55.3 0 -30\n1 97 0 0.1\n");
}

static void every_choice_goes_there_and_back(void **state) {
    (void)state;
    milori_choices c;
    milori_choices_default(&c);
    goes_there_and_back(&c);
    fill(&c);
    assert_int_equal(c.palette, MILORI_PALETTE_FILE);
    goes_there_and_back(&c);
    const char *more[][2] = {{"frame", "sheet"},    {"palette", "blue"}, {"palette", "amber"},
                             {"corners", "auto"},   {"grade", "auto"},   {"curve", "none"},
                             {"unexposed", "none"}, {"depth", "8"},      {"profile", "sRGB"},
                             {"profile", "./sRGB"}, {"format", "jpeg"}};
    for (size_t i = 0; i < sizeof more / sizeof *more; i++) {
        set(&c, more[i][0], more[i][1]);
        goes_there_and_back(&c);
    }
}

/* Shortest text that reads back as the number, as RFC 8259 lets a writer choose. */
static void numbers_are_written_short(void **state) {
    (void)state;
    const struct {
        const char *name, *text, *json;
    } cases[] = {{"stops", "0.1", "\"stops\": 0.1,"},
                 {"stops", "-1.005", "\"stops\": -1.005,"},
                 {"veil", "7", "\"veil\": 7.0,"},
                 {"frame", "56x41.55", "\"frame\": [56.0, 41.55]"},
                 {"stops", "0.30102999566398120", "\"stops\": 0.3010299956639812,"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        milori_choices c;
        char *json;
        milori_choices_default(&c);
        set(&c, cases[i].name, cases[i].text);
        assert_int_equal(milori_choices_to_json(ctx, &c, &json), MILORI_OK);
        assert_non_null(strstr(json, cases[i].json));
        free(json);
    }
}

static void keys_are_the_choices_names_in_order(void **state) {
    (void)state;
    milori_choices c;
    char *json;
    size_t count;
    const mil_choice_info *table = mil_choice_table(&count);
    fill(&c);
    assert_int_equal(milori_choices_to_json(ctx, &c, &json), MILORI_OK);
    const char *at = json;
    for (size_t i = 0; i < count; i++) {
        char key[64];
        snprintf(key, sizeof key, "\"%s\": ", table[i].name);
        at = strstr(at, key);
        assert_non_null(at);
    }
    free(json);
}

static milori_status read_json(const char *json, milori_choices *c) {
    milori_choices_default(c);
    milori_clear(ctx);
    return milori_choices_from_json(ctx, c, json, strlen(json));
}

static void hand_written_json_is_read(void **state) {
    (void)state;
    milori_choices c;
    assert_int_equal(read_json(" {\"grade\": 2, \"stops\": 0.5, \"black-point\": false,\n"
                               "  \"turn\": 90, \"frame\": \"6x9\", \"veil\": \"auto\",\n"
                               "  \"corners\": [[9, 9], [0, 9], [0, 0], [9, 0]]}\n",
                               &c),
                     MILORI_OK);
    assert_true(c.grade == 2 && c.stops == 0.5 && !c.black_point && c.turn == 90);
    assert_true(c.frame_mm[0] == 56 && c.frame_mm[1] == 84);
    assert_true(c.corners_px[1][0] == 9 && c.corners_px[1][1] == 0);
    /* keys not held keep their value */
    const char *json = "{\"turn\": 180}";
    assert_int_equal(milori_choices_from_json(ctx, &c, json, strlen(json)), MILORI_OK);
    assert_true(c.turn == 180 && c.grade == 2);
}

static void doubtful_json_changes_nothing(void **state) {
    (void)state;
    const char *cases[][2] = {
        {"", "line"},
        {"[]", "no JSON object"},
        {"2", "line"},
        {"{\"grade\": 2", "line"},
        {"{\"grade\": 2} x", "line"},
        {"{\"grade\": 2, \"grade\": 3}", "duplicate"},
        {"{\"palette\": {\"name\": \"x\", \"name\": \"y\", \"colours\": []}}", "duplicate"},
        {"{\"turn\": 90, \"gradient\": 2}", "\"gradient\""},
        {"{\"Grade\": 2}", "\"Grade\""},
        {"{\"\": 2}", "\"\""},
        {"{\"grade\": 9}", "-2 to 8"},
        {"{\"grade\": null}", "grade"},
        {"{\"grade\": true}", "grade"},
        {"{\"grade\": [2]}", "grade"},
        {"{\"grade\": {}}", "grade"},
        {"{\"grade\": NaN}", "line"},
        {"{\"grade\": 1e999}", "line"},
        {"{\"grade\": 99999999999999999999999999}", "line"},
        {"{\"quality\": 90.5}", "quality"},
        {"{\"quality\": 9007199254740993}", "quality"},
        {"{\"format\": 0}", "format"},
        {"{\"depth\": 12}", "depth"},
        {"{\"stops\": \"auto\"}", "stops"},
        {"{\"profile\": 1}", "profile"},
        {"{\"profile\": \"a\\u0000b\"}", "line"},
        {"{\"profile\": \"a\\\\x00b\"}", "profile"},
        {"{\"profile\": \"a\\\\q\"}", "profile"},
        {"{\"profile\": \"a\\\\x4\"}", "profile"},
        {"{\"profile\": \"\xff\"}", "line"},
        {"{\"curve\": \"/etc/hostname\"}", "curve"},
        {"{\"curve\": [[0, 0]]}", "curve"},
        {"{\"curve\": [[0, 0], [1]]}", "curve"},
        {"{\"curve\": [[0, 0], [1, 2]]}", "curve"},
        {"{\"curve\": [[0, 0], [1, \"1\"]]}", "curve"},
        {"{\"curve\": [[1, 0], [0, 1]]}", "curve"},
        {"{\"palette\": \"/etc/hostname\"}", "palette"},
        {"{\"palette\": \"FILE\"}", "palette"},
        {"{\"palette\": {\"name\": \"x\", \"colours\": [[0, 5, 0, 0]]}}", "palette"},
        {"{\"palette\": {\"name\": \"x\", \"colours\": [[0, 5, 0, 0], [1, 101, 0, 0]]}}",
         "palette"},
        {"{\"palette\": {\"name\": \"x\", \"colours\": [[0, 5, 0], [1, 9, 0, 0]]}}", "palette"},
        {"{\"palette\": {\"colours\": [[0, 5, 0, 0], [1, 99, 0, 0]]}}", "palette"},
        {"{\"palette\": {\"name\": \"x\", \"colours\": 2}}", "palette"},
        {"{\"frame\": [56]}", "frame"},
        {"{\"frame\": [56, 1e9]}", "frame"},
        {"{\"corners\": [[0, 0], [9, 0], [9, 9]]}", "corners"},
        {"{\"corners\": [[0, 0], [9, 9], [9, 0], [0, 9]]}", "one after the other"},
        {"{\"unexposed\": []}", "unexposed"},
        {"{\"unexposed\": [1, 2]}", "unexposed"}};
    milori_choices c, plain;
    milori_choices_default(&plain);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        milori_status status = read_json(cases[i][0], &c);
        assert_true(status == MILORI_ERR_FORMAT || status == MILORI_ERR_ARGUMENT);
        assert_memory_equal(&c, &plain, sizeof c);
        assert_memory_equal(milori_message(ctx), "choices: ", 9);
        assert_non_null(strstr(milori_message(ctx), cases[i][1]));
    }
}

static char *repeated(const char *before, const char *text, size_t times, const char *after) {
    size_t n = strlen(text);
    char *out = malloc(strlen(before) + n * times + strlen(after) + 1);
    assert_non_null(out);
    char *at = stpcpy(out, before);
    for (size_t i = 0; i < times; i++)
        at = stpcpy(at, text);
    stpcpy(at, after);
    return out;
}

static void large_and_deep_json_is_refused(void **state) {
    (void)state;
    milori_choices c;
    char *cases[] = {repeated("{\"curve\": ", "[", 200000, ""),
                     repeated("", "{\"palette\":", 20000, ""),
                     repeated("{\"profile\": \"", "p", 5000, "\"}"),
                     repeated("{\"grade\": 1", "0", 100000, "}"),
                     repeated("{\"grade\": 1.", "0", 100000, "x}"),
                     repeated("{\"curve\": [[0, 0]", ", [0.5, 0.5]", 20000, "]}"),
                     repeated("{\"unexposed\": [[0, 0]", ", [5, 5]", 20000, "]}")};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_int_not_equal(read_json(cases[i], &c), MILORI_OK);
        assert_true(strlen(milori_message(ctx)) < 1024);
        free(cases[i]);
    }
    char *megabyte = repeated("{\"grade\": 2", " ", 1 << 20, "}");
    assert_int_equal(read_json(megabyte, &c), MILORI_ERR_LIMIT);
    free(megabyte);
    char *blank = repeated("{\"grade\": 2", " ", 200000, "}");
    assert_int_equal(read_json(blank, &c), MILORI_OK);
    assert_true(c.grade == 2);
    free(blank);
}

/* Every prefix and every changed byte of a full set: an error or valid choices. */
static void damaged_json_is_survived(void **state) {
    (void)state;
    milori_choices c;
    char *json;
    fill(&c);
    assert_int_equal(milori_choices_to_json(ctx, &c, &json), MILORI_OK);
    size_t size = strlen(json);
    for (size_t n = 0; n < size; n++) {
        milori_clear(ctx);
        assert_int_equal(milori_choices_from_json(ctx, &c, json, n), MILORI_ERR_FORMAT);
    }
    for (size_t n = 0; n < size; n++) {
        const char put[] = {'9', '"', '[', '}', '\\', '\0', '\x80', '-'};
        char kept = json[n];
        for (size_t k = 0; k < sizeof put; k++) {
            milori_clear(ctx);
            json[n] = put[k];
            if (milori_choices_from_json(ctx, &c, json, size) != MILORI_OK)
                assert_int_not_equal(milori_failure(ctx), MILORI_OK);
            milori_clear(ctx);
            c.depth = 0; /* JPEG of 16 bits is read, and refused later */
            assert_int_equal(mil_choices_check(ctx, &c), MILORI_OK);
        }
        json[n] = kept;
    }
    free(json);
}

/* A locale that writes a decimal comma, made here, since few systems have one. */
static void a_comma_locale_does_not_matter(void **state) {
    (void)state;
    char folder[] = "/tmp/milori-locale-XXXXXX", line[256];
    assert_non_null(mkdtemp(folder));
    snprintf(line, sizeof line, "localedef -i de_DE -f UTF-8 %s/de_DE.UTF-8 2>/dev/null", folder);
    int made = system(line);
    setenv("LOCPATH", folder, 1);
    const char *locale = made == -1 ? NULL : setlocale(LC_ALL, "de_DE.UTF-8");
    bool comma = locale && strcmp(localeconv()->decimal_point, ",") == 0;
    if (comma) {
        milori_choices c;
        fill(&c);
        goes_there_and_back(&c);
        assert_int_not_equal(read_json("{\"grade\": \"2,5\"}", &c), MILORI_OK);
        assert_int_equal(read_json("{\"grade\": \"2.5\"}", &c), MILORI_OK);
        assert_true(c.grade == 2.5);
    }
    setlocale(LC_ALL, "C");
    unsetenv("LOCPATH");
    snprintf(line, sizeof line, "rm -r %s", folder);
    assert_int_equal(system(line), 0);
    if (!comma)
        skip();
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_choice_goes_there_and_back),
                                       cmocka_unit_test(numbers_are_written_short),
                                       cmocka_unit_test(keys_are_the_choices_names_in_order),
                                       cmocka_unit_test(hand_written_json_is_read),
                                       cmocka_unit_test(doubtful_json_changes_nothing),
                                       cmocka_unit_test(large_and_deep_json_is_refused),
                                       cmocka_unit_test(damaged_json_is_survived),
                                       cmocka_unit_test(a_comma_locale_does_not_matter)};
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
