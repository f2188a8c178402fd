/* Plots: well-formed XML by Python's parser (expat), marks where arithmetic puts them, and values
 * of every kind. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "draw/plot.h"
#include "sheet/by_python.h"
#include "temp_folder.h"

static char *drawn(const mil_plot *plot) {
    milori_context *ctx = milori_context_new();
    char *svg;
    size_t size;
    assert_int_equal(mil_plot_svg(ctx, plot, &svg, &size), MILORI_OK);
    assert_int_equal(size, strlen(svg));
    milori_context_free(ctx);
    return svg;
}

/* The script reads the tree as `root`; what it prints are count numbers. */
static void ask(const char *svg, const char *script, size_t count, double *out) {
    char path[128], whole[4096];
    snprintf(path, sizeof path, "%s/plot.svg", folder);
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    assert_int_equal(fwrite(svg, 1, strlen(svg), f), strlen(svg));
    assert_int_equal(fclose(f), 0);
    int n = snprintf(whole, sizeof whole,
                     "import xml.etree.ElementTree as E\nroot = E.parse('%s').getroot()\n"
                     "s = '{http://www.w3.org/2000/svg}'\n"
                     "field = root.find(s + 'svg')\n"
                     "spots = root.find(s + 'g[@transform]')\n"
                     "points = spots.findall('.//' + s + 'g[@role]')\n%s",
                     path, script);
    assert_in_range(n, 1, sizeof whole - 1);
    FILE *pipe = python_starts(whole);
    python_says(pipe, count, out);
    python_ends(pipe);
}

static size_t times(const char *text, const char *part) {
    size_t n = 0;
    for (const char *at = text; (at = strstr(at, part)); at += strlen(part))
        n++;
    return n;
}

static void points_lie_where_arithmetic_puts_them(void **state) {
    (void)state;
    const double x[] = {1, 10, 100}, y[] = {0, 5, 10}, low[] = {0, 4, 9}, high[] = {1, 6, 10};
    const char *const names[] = {"a.tif", "<b> & \"c\"", "bad\xff"};
    const mil_plot_series row = {MIL_PLOT_POINTS, "front-lit", 3, x, y, low, high, names};
    const mil_plot plot = {
        "fog & age", {"minutes", true, 1, 100}, {"red density", false, 0, 10}, &row, 1};
    char *svg = drawn(&plot);
    double got[9];
    ask(svg,
        "print(field.get('width'), field.get('height'))\n"
        "for p in points:\n c = p.find(s + 'circle'); print(c.get('cx'), c.get('cy'))\n"
        "print(int([p.find(s + 'title').text for p in points] == "
        "['a.tif: 1, 0', '<b> & ' + chr(34) + 'c' + chr(34) + ': 10, 5', 'bad' + chr(92) + 'xff: "
        "100, 10']))",
        9, got);
    double w = got[0], h = got[1];
    const double want[6] = {0, h, w / 2, h / 2, w, 0};
    for (int i = 0; i < 6; i++)
        assert_true(fabs(got[2 + i] - want[i]) < 0.006);
    assert_true(got[8] == 1);
    assert_int_equal(times(svg, "<svg"), 2);
    assert_null(strstr(svg, "href"));
    free(svg);
}

static void every_row_has_its_own_look(void **state) {
    (void)state;
    const double v[] = {1, 2}, low[] = {0.5, 1}, high[] = {2, 3};
    mil_plot_series rows[14];
    char names[14][8];
    for (int i = 0; i < 14; i++) {
        mil_plot_kind kind = i < 8 ? MIL_PLOT_POINTS : i < 12 ? MIL_PLOT_LINE : MIL_PLOT_BAND;
        snprintf(names[i], sizeof names[i], "row %d", i);
        rows[i] = (mil_plot_series){kind, names[i], 2, v, v, low, high, NULL};
    }
    const mil_plot plot = {"looks", {"x", false, NAN, NAN}, {"y", false, NAN, NAN}, rows, 14};
    char *svg = drawn(&plot);
    double differ[3];
    ask(svg,
        "import re\n"
        "def shape(e):\n"
        " n = [float(v) for v in re.findall('[-0-9.]+', e.get('d') or '')]\n"
        " return (e.tag, e.get('fill'), tuple(round(v - n[k % 2], 1) for k, v in enumerate(n)))\n"
        "rows = list(spots)\n"
        "print(len({shape(g[0][-1]) for g in rows}))\n"
        "drawn = [e for e in field if e.tag == s + 'path']\n"
        "print(len({e.get('stroke-dasharray') for e in drawn if e.get('stroke') != 'none'}))\n"
        "print(len({e.get('fill') for e in drawn if e.get('stroke') == 'none'}))",
        3, differ);
    assert_true(differ[0] == 8 && differ[1] == 4 && differ[2] == 2);
    for (int i = 0; i < 14; i++)
        assert_int_equal(times(svg, names[i]) > 0, true);
    free(svg);
}

/* Rows of values that are none, reach to nought on an axis of decades, or to the ends of doubles.
 */
static void values_of_every_kind(void **state) {
    (void)state;
    const double odd[] = {NAN, INFINITY, -INFINITY, 0, -1, 1e300, -1e300, 1e-300, 3, DBL_MIN};
    enum { N = sizeof odd / sizeof *odd };
    double x[N * N], y[N * N];
    for (int i = 0; i < N * N; i++) {
        x[i] = odd[i % N];
        y[i] = odd[i / N];
    }
    for (int kind = MIL_PLOT_LINE; kind <= MIL_PLOT_BAND; kind++)
        for (int logs = 0; logs < 4; logs++) {
            const mil_plot_series row = {kind, NULL, N * N, x, y, y, x, NULL};
            const mil_plot plot = {
                "odd", {"x", logs & 1, NAN, NAN}, {"y", logs & 2, NAN, NAN}, &row, 1};
            char *svg = drawn(&plot);
            double got[1];
            ask(svg, "print(sum(len(e.attrib) for e in root.iter()) > 20 and 1 or 0)", 1, got);
            assert_true(got[0] == 1);
            assert_null(strstr(svg, "nan"));
            assert_null(strstr(svg, "inf"));
            free(svg);
        }
}

static void nothing_to_draw_is_an_empty_field(void **state) {
    (void)state;
    const mil_plot plot = {"none", {"x", true, NAN, NAN}, {"y", false, NAN, NAN}, NULL, 0};
    char *svg = drawn(&plot);
    double got[2];
    ask(svg, "print(len(spots), len(field))", 2, got);
    assert_true(got[0] == 0 && got[1] == 0);
    free(svg);
}

/* Marks stand at 1, 2, 5 of a decade, or at even steps where less than a decade is shown. */
static void marks_of_the_axes(void **state) {
    (void)state;
    static const struct {
        mil_plot_axis axis;
        const char *marks;
    } cases[] = {{{"", true, 2, 60}, "2 5 10 20 50"},
                 {{"", true, 14, 30}, "15 20 25 30"},
                 {{"", true, 0.01, 1}, "0.01 0.02 0.05 0.1 0.2 0.5 1"},
                 {{"", false, 0, 0.3}, "0 0.05 0.1 0.15 0.2 0.25 0.3"},
                 {{"", false, -2, 3}, "-2 -1 0 1 2 3"},
                 {{"", false, 0, 90}, "0 20 40 60 80"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const mil_plot plot = {"t", cases[i].axis, {"y", false, 1e6, 2e6}, NULL, 0};
        char *svg = drawn(&plot), script[512];
        snprintf(script, sizeof script,
                 "print(int([t.text for t in root.iter(s + 'text') if t.get('text-anchor') == "
                 "'middle' and t.text][:len('%s'.split())] == '%s'.split()))",
                 cases[i].marks, cases[i].marks);
        double got[1];
        ask(svg, script, 1, got);
        if (got[0] != 1)
            fail_msg("marks of case %zu are not %s: %s", i, cases[i].marks, svg);
        free(svg);
    }
}

static void a_long_name_is_cut_in_the_key_alone(void **state) {
    (void)state;
    const double v[] = {1};
    const char *name = "in the late afternoon through gl\xc3\xa4ss";
    const mil_plot_series row = {MIL_PLOT_POINTS, name, 1, v, v, NULL, NULL, NULL};
    const mil_plot plot = {name, {"x", false, NAN, NAN}, {"y", false, NAN, NAN}, &row, 1};
    char *svg = drawn(&plot);
    assert_int_equal(times(svg, name), 2);
    assert_int_equal(times(svg, ">in the late afternoon\xe2\x80\xa6<") +
                         times(svg, ">in the late afterno\xe2\x80\xa6<") +
                         times(svg, ">in the late afternoo\xe2\x80\xa6<"),
                     1);
    free(svg);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(points_lie_where_arithmetic_puts_them),
        cmocka_unit_test(every_row_has_its_own_look),
        cmocka_unit_test(values_of_every_kind),
        cmocka_unit_test(nothing_to_draw_is_an_empty_field),
        cmocka_unit_test(marks_of_the_axes),
        cmocka_unit_test(a_long_name_is_cut_in_the_key_alone),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
