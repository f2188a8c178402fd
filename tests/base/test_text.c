/* Numbers, names and notes of the base room. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <errno.h>
#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"

static void numbers_need_the_whole_text(void **state) {
    (void)state;
    double v = 0;
    assert_true(mil_parse_number(" -2.5 ", &v));
    assert_true(v == -2.5);
    assert_false(mil_parse_number("2,5", &v));
    assert_false(mil_parse_number("", &v));
    assert_false(mil_parse_number("nan", &v));
    assert_false(mil_parse_number("1e999", &v));
    assert_false(mil_parse_number("3 stops", &v));
}

static void numbers_read_back_exactly(void **state) {
    (void)state;
    const double values[] = {0.1, 1.0 / 3, 6.02214076e23, -0.0, 5e-324, 100};
    for (size_t i = 0; i < sizeof values / sizeof *values; i++) {
        char text[32];
        double back = 99;
        mil_format_number(values[i], text, sizeof text);
        assert_true(mil_parse_number(text, &back));
        assert_true(back == values[i]);
    }
}

static void names_become_printable(void **state) {
    (void)state;
    const char *cases[][2] = {{"bean poles.tif", "bean poles.tif"},
                              {"gew\xc3\xa4"
                               "chshaus",
                               "gew\xc3\xa4"
                               "chshaus"},
                              {"bad\xff"
                               "name",
                               "bad\\xffname"},
                              {"line\nbreak", "line\\x0abreak"},
                              {"overlong\xc0\xaf", "overlong\\xc0\\xaf"},
                              {"back\\slash", "back\\\\slash"},
                              {"cut\xe2\x82", "cut\\xe2\\x82"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char *out = mil_printable(cases[i][0]);
        assert_string_equal(out, cases[i][1]);
        free(out);
    }
}

static void first_failure_is_kept(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    assert_int_equal(mil_fail(ctx, MILORI_ERR_OPEN, "first\nline"), MILORI_ERR_OPEN);
    mil_fail(ctx, MILORI_ERR_WRITE, "second");
    assert_int_equal(milori_failure(ctx), MILORI_ERR_OPEN);
    assert_string_equal(milori_message(ctx), "first?line");
    milori_clear(ctx);
    assert_int_equal(milori_failure(ctx), MILORI_OK);
    milori_context_free(ctx);
}

/* POSIX's errno values; their words are strerror()'s. */
static void what_cannot_be_opened_has_its_remedy(void **state) {
    (void)state;
    const struct {
        int error;
        const char *remedy;
    } cases[] = {{ENOENT, "check the name"},       {ENOTDIR, "check the name"},
                 {ELOOP, "check the name"},        {EACCES, "check its permissions"},
                 {EMFILE, "close other programs"}, {EIO, "check the disk"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        milori_context *ctx = milori_context_new();
        char want[256];
        snprintf(want, sizeof want, "shed.tif: cannot be opened (%s); %s", strerror(cases[i].error),
                 cases[i].remedy);
        assert_int_equal(mil_fail_open(ctx, "shed.tif", cases[i].error), MILORI_ERR_OPEN);
        assert_string_equal(milori_message(ctx), want);
        milori_context_free(ctx);
    }
}

static void memory_limit_bites(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    milori_set_memory_limit(ctx, 1000);
    assert_int_equal(mil_charge(ctx, 600, "shed.tif", "turning it"), MILORI_OK);
    assert_int_equal(mil_charge(ctx, 600, "shed.tif", "turning it"), MILORI_ERR_LIMIT);
    assert_non_null(strstr(milori_message(ctx), "shed.tif"));
    milori_clear(ctx);
    mil_release(ctx, 600);
    assert_int_equal(mil_charge(ctx, 1000, "shed.tif", "turning it"), MILORI_OK);
    milori_context_free(ctx);
}

static void notes_are_not_doubled(void **state) {
    (void)state;
    milori_notes notes = {0};
    mil_note(&notes, "profile", "no profile in %s", "shed.png");
    mil_note(&notes, "profile", "no profile in %s", "shed.png");
    mil_note(&notes, "bits", "8 bits");
    assert_int_equal(notes.count, 2);
    assert_true(mil_notes_have(&notes, "bits"));
    assert_false(mil_notes_have(&notes, "bit"));
    mil_notes_free(&notes);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(numbers_need_the_whole_text),
                                       cmocka_unit_test(numbers_read_back_exactly),
                                       cmocka_unit_test(names_become_printable),
                                       cmocka_unit_test(first_failure_is_kept),
                                       cmocka_unit_test(what_cannot_be_opened_has_its_remedy),
                                       cmocka_unit_test(memory_limit_bites),
                                       cmocka_unit_test(notes_are_not_doubled)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
