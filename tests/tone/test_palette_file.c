/* A palette of the user's own: read, refused, drawn. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "tone/palette.h"

#define near(a, b, tolerance) assert_true(fabs((a) - (b)) <= (tolerance))

/* Reads text as a palette file; message (or NULL) is to be in the refusal. */
static void read_text(const char *text, size_t size, milori_choices *choices, const char *message) {
    char path[] = "/tmp/milori-palette-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, text, size), (ssize_t)size);
    close(fd);
    milori_context *ctx = milori_context_new();
    milori_choices before = *choices;
    milori_status status = mil_palette_read(ctx, path, choices);
    unlink(path);
    if (message) {
        assert_int_equal(status, MILORI_ERR_ARGUMENT);
        assert_memory_equal(&before, choices, sizeof before);
        assert_non_null(strstr(milori_message(ctx), path));
        if (!strstr(milori_message(ctx), message))
            print_message("\"%s\" not in \"%s\"\n", message, milori_message(ctx));
        assert_non_null(strstr(milori_message(ctx), message));
    } else {
        assert_int_equal(status, MILORI_OK);
        assert_int_equal(choices->palette, MILORI_PALETTE_FILE);
        assert_string_equal(choices->palette_name, path);
    }
    milori_context_free(ctx);
}

static milori_choices fresh(void) {
    milori_choices choices;
    memset(&choices, 0, sizeof choices);
    return choices;
}

static void stops_are_read(void **state) {
    (void)state;
    milori_choices choices = fresh();
    const char text[] = "\xef\xbb\xbf# bean pole green\r\n\r\n0 10 -5 4 # the dark\r\n"
                        "\t50%  55.5 -20 1.5e1\r\n1 97 0 3";
    read_text(text, sizeof text - 1, &choices, NULL);
    assert_int_equal(choices.palette_stops, 3);
    const milori_palette_stop *s = choices.palette_stop;
    assert_true(s[0].at == 0 && s[0].L == 10 && s[0].a == -5 && s[0].b == 4);
    assert_true(s[1].at == .5 && s[1].L == 55.5 && s[1].a == -20 && s[1].b == 15);
    assert_true(s[2].at == 1 && s[2].L == 97 && s[2].a == 0 && s[2].b == 3);
}

static void what_is_wrong_is_said_with_its_line(void **state) {
    (void)state;
    static const char *const cases[][2] = {
        {"", "line 1: a palette needs two colours"},
        {"# none\n\n", "two colours"},
        {"0 10 0 0\n", "two colours"},
        {"0 10 0 0\n1 90 0\n", "line 2: a colour is four numbers"},
        {"0 10 0 0\n1 90 0 0 0\n", "line 2: a colour is four numbers"},
        {"0 10 0 0\n# so\n1 9,5 0 0\n", "line 3: a colour is four numbers"},
        {"0 10 0 nan\n1 90 0 0\n", "line 1: a colour is four numbers"},
        {"0 10 0 0\n% 90 0 0\n", "line 2: a colour is four numbers"},
        {"0 10 0 0\n0 90 0 0\n", "line 2: the place is to rise"},
        {"0.5 10 0 0\n0.4 90 0 0\n", "line 2: the place is to rise"},
        {"0 10 0 0\n.5 60 0 0\n1 59 0 0\n", "line 3: L is not to fall"},
        {"0 10 0 0\n101% 90 0 0\n", "line 2: the place is to be 0 to 1"},
        {"-0.1 10 0 0\n1 90 0 0\n", "line 1: the place is to be 0 to 1"},
        {"0 -1 0 0\n1 90 0 0\n", "line 1: L is to be 0 to 100"},
        {"0 10 200 0\n1 90 0 0\n", "line 1: a and b"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        milori_choices choices = fresh();
        read_text(cases[i][0], strlen(cases[i][0]), &choices, cases[i][1]);
    }
    milori_choices choices = fresh();
    read_text("0 10 0 0\n\0", 10, &choices, "no text");
    char many[70 * 24] = "";
    for (int i = 0; i < 65; i++)
        snprintf(many + strlen(many), sizeof many - strlen(many), "%d%% %d 0 0\n", i, i);
    read_text(many, strlen(many), &choices, "line 65: a palette has 64 colours at most");
    milori_context *ctx = milori_context_new();
    assert_int_equal(mil_palette_read(ctx, "/nowhere/green.txt", &choices), MILORI_ERR_OPEN);
    assert_non_null(strstr(milori_message(ctx), "/nowhere/green.txt"));
    milori_context_free(ctx);
}

static void stops_from_elsewhere_are_judged_too(void **state) {
    (void)state;
    milori_palette_stop stops[3] = {{0, 10, 0, 0}, {.5, 50, 0, 0}, {1, 90, 0, 0}};
    size_t which;
    assert_null(mil_palette_fault(stops, 3, &which));
    stops[2].L = NAN;
    assert_non_null(mil_palette_fault(stops, 3, &which));
    assert_int_equal(which, 2);
    assert_non_null(mil_palette_fault(stops, 1, &which));
    assert_non_null(mil_palette_fault(stops, 0, &which));
}

static void the_line_passes_its_stops(void **state) {
    (void)state;
    milori_choices choices = fresh();
    const char text[] = "10% 12 1 -20\n40% 12 4 -30\n60% 70 -8 -12\n90% 96 0 2\n";
    read_text(text, sizeof text - 1, &choices, NULL);
    static double lab[1001][3];
    mil_palette_line(&choices, NULL, NULL, 1001, lab);
    for (size_t k = 0; k < choices.palette_stops; k++) {
        const milori_palette_stop *s = &choices.palette_stop[k];
        const double *at = lab[(size_t)(s->at * 1000 + .5)];
        near(at[0], s->L, 1e-9);
        near(at[1], s->a, 1e-9);
        near(at[2], s->b, 1e-9);
    }
    for (int i = 1; i <= 1000; i++) {
        assert_true(lab[i][0] >= lab[i - 1][0] - 1e-12);
        /* No overshoot in any channel. */
        assert_true(lab[i][1] >= -8 && lab[i][1] <= 4 && lab[i][2] >= -30 && lab[i][2] <= 2);
    }
    assert_true(lab[0][0] == 12 && lab[1000][0] == 96);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(stops_are_read),
                                       cmocka_unit_test(what_is_wrong_is_said_with_its_line),
                                       cmocka_unit_test(stops_from_elsewhere_are_judged_too),
                                       cmocka_unit_test(the_line_passes_its_stops)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
