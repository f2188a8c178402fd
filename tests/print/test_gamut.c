/* What a print loses to the gamut, against FOGRA's patches, argyll and
 * scikit-image (gamut_reader.py says how). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "colour/lab.h"
#include "print/gamut.h"
#include "print_profiles.h"
#include "tone/palette.h"

enum { COUNT = 1025 };

static double line[COUNT][3];
static uint16_t codes[COUNT * 4];
static uint64_t pixels[COUNT];

static int make_profiles(void **state) {
    return make_folder(state) != 0 || make_fogra(29) != 0 || make_fogra(30) != 0 ||
           make_fogra(39) != 0 || make_rag() != 0;
}

static mil_output *print_to(const char *profile, milori_intent intent, bool black_point) {
    milori_context *ctx = milori_context_new();
    mil_output *output;
    if (mil_output_new_print(ctx, made_path(profile), intent, black_point, &output) != MILORI_OK)
        fail_msg("%s", milori_message(ctx));
    milori_context_free(ctx);
    return output;
}

/* The blue palette as it is wished, and a picture with many darks. */
static void make_line(void) {
    milori_choices choices;
    milori_choices_default(&choices);
    choices.palette = MILORI_BLUE;
    mil_palette_line(&choices, NULL, NULL, COUNT, line);
    for (int i = 0; i < COUNT; i++)
        pixels[i] = (uint64_t)(4000 * exp(-i / 150.)) + (uint64_t)i % 5;
}

static mil_gamut measure(const mil_output *output) {
    milori_context *ctx = milori_context_new();
    mil_gamut gamut;
    mil_output_line(output, (const double(*)[3])line, COUNT, codes);
    assert_int_equal(
        mil_gamut_measure(ctx, output, (const double(*)[3])line, codes, pixels, COUNT, &gamut),
        MILORI_OK);
    milori_context_free(ctx);
    return gamut;
}

/* A job of gamut_reader.py: what was measured, and of what. */
static void put_job(const char *name, const char *profile, const mil_gamut *g) {
    FILE *job = fopen(made_path(name), "w");
    assert_non_null(job);
    fprintf(job,
            "{\"profile\": \"%s\", \"ti3\": \"/usr/share/color/icc/FOGRA%.2sL.ti3\", \"intent\": "
            "%d, \"black_L\": %.17g, \"pixels\": %llu, \"outside\": %llu, \"mean\": %.17g, "
            "\"most_95\": %.17g, \"worst\": %.17g, \"all\": [%.17g, %.17g, %.17g], \"ranges\": [",
            made_path(profile), profile, (int)g->intent, g->black_L, (unsigned long long)g->pixels,
            (unsigned long long)g->outside, g->far.mean, g->far.most_95, g->far.worst, g->all.mean,
            g->all.most_95, g->all.worst);
    for (size_t i = 0; i < g->ranges; i++)
        fprintf(job, "%s[%.17g, %.17g]", i ? ", " : "", g->range[i].from, g->range[i].to);
    fprintf(job, "], \"places\": [");
    for (int i = 0; i < COUNT; i++)
        fprintf(job, "%s[%.17g, %.17g, %.17g, %d, %d, %d, %d, %llu]", i ? ", " : "", line[i][0],
                line[i][1], line[i][2], codes[4 * i], codes[4 * i + 1], codes[4 * i + 2],
                codes[4 * i + 3], (unsigned long long)pixels[i]);
    fprintf(job, "]}\n");
    assert_int_equal(fclose(job), 0);
}

static void measured_as_others_do(void **state) {
    (void)state;
    make_line();
    static const struct {
        const char *job, *profile;
        milori_intent intent;
    } cases[] = {{"relative", "29.icc", MILORI_RELATIVE},
                 {"absolute", "29.icc", MILORI_ABSOLUTE},
                 {"perceptual", "29.icc", MILORI_PERCEPTUAL},
                 {"yellowish", "30.icc", MILORI_RELATIVE},
                 {"coated", "39.icc", MILORI_RELATIVE}};
    char command[1600], said[2000];
    size_t used = (size_t)snprintf(command, sizeof command,
                                   "/usr/bin/python3 '" TESTS_DIR "/print/gamut_reader.py'");
    for (size_t i = 0; i < 5; i++) {
        mil_output *output = print_to(cases[i].profile, cases[i].intent, true);
        mil_gamut gamut = measure(output);
        mil_gamut_words(&gamut, said, sizeof said);
        print_message("%s: %s", cases[i].job, said);
        put_job(cases[i].job, cases[i].profile, &gamut);
        used += (size_t)snprintf(command + used, sizeof command - used, " '%s'",
                                 made_path(cases[i].job));
        mil_output_free(output);
    }
    snprintf(command + used, sizeof command - used, " 2>&1");
    FILE *reader = popen(command, "r");
    assert_non_null(reader);
    while (fgets(said, sizeof said, reader))
        print_message("%s", said);
    assert_int_equal(pclose(reader), 0);
}

/* Uncoated paper has no deep blue: unless the darks are fitted to its black, they
 * leave its gamut, and nothing else does. Fitted, coated paper holds all. */
static void uncoated_paper_loses_dark_blue(void **state) {
    (void)state;
    make_line();
    mil_output *output = print_to("29.icc", MILORI_RELATIVE, false);
    mil_gamut g = measure(output);
    mil_output_free(output);
    uint64_t all = 0, within = 0;
    for (int i = 0; i < COUNT; i++) {
        all += pixels[i];
        within += line[i][0] <= g.range[0].to ? pixels[i] : 0;
    }
    assert_int_equal(g.ranges, 1);
    assert_true(g.range[0].from == line[0][0] && g.range[0].to > 30 && g.range[0].to < 45);
    assert_int_equal(g.pixels, all);
    assert_int_equal(g.outside, within);
    assert_int_equal(g.range[0].pixels, within);
    assert_true(fabs(g.share - (double)within / (double)all) < 1e-12);
    assert_true(g.far.mean > 1 && g.far.mean <= g.far.most_95 && g.far.most_95 <= g.far.worst);
    assert_true(g.far.worst_L >= g.range[0].from && g.far.worst_L <= g.range[0].to);
    assert_true(!g.black_point && g.black_L == 0);
    output = print_to("39.icc", MILORI_RELATIVE, true);
    g = measure(output);
    mil_output_free(output);
    char words[1000];
    mil_gamut_words(&g, words, sizeof words);
    assert_int_equal(g.outside + g.ranges, 0);
    assert_true(g.share == 0 && g.far.mean == 0 && isnan(g.far.worst_L));
    assert_non_null(strstr(words, "every pixel lies inside the printer's gamut\n"));
}

/* The made printer, whose gamut is a box: of (L*, a*, 1.5) green and blue are
 * (L* - 20) / 76 - .3 a* / 60 and red is that + a* / 60. A line along which a*
 * swings leaves the box at places known beforehand, comes back and leaves again;
 * CIEDE2000 1 lies a little further out. */
static bool in_box(const double lab[3]) {
    double green = (lab[0] - 20) / 76 - .3 * lab[1] / 60, red = green + lab[1] / 60;
    return green >= 0 && green <= 1 && red >= 0 && red <= 1;
}

static void ranges_are_where_they_must_be(void **state) {
    (void)state;
    mil_output *output = print_to("rag.icc", MILORI_ABSOLUTE, false);
    double first[3], last[3];
    size_t ranges = 0;
    bool was_in = true;
    for (int i = 0; i < COUNT; i++) {
        double t = i / (COUNT - 1.);
        line[i][0] = 40 + 30 * t;
        line[i][1] = 45 * sin(3 * M_PI * t);
        line[i][2] = 1.5;
        pixels[i] = i < COUNT / 2 ? 3 : 0;
        bool in = in_box(line[i]);
        if (!in && was_in)
            first[ranges++] = line[i][0];
        if (!in)
            last[ranges - 1] = line[i][0];
        was_in = in;
    }
    assert_int_equal(ranges, 2);
    mil_gamut g = measure(output);
    assert_int_equal(g.ranges, 2);
    for (size_t i = 0; i < 2; i++) {
        print_message("L* %.2f to %.2f; the box ends at %.2f and %.2f\n", g.range[i].from,
                      g.range[i].to, first[i], last[i]);
        assert_true(g.range[i].from > first[i] - .1 && g.range[i].from < first[i] + .8);
        assert_true(g.range[i].to < last[i] + .1 && g.range[i].to > last[i] - .8);
        assert_true(fabs(g.range[i].asked_from - g.range[i].from) < 1e-9); /* absolute */
    }
    /* Even in L*: 30 / 1024 from place to place. */
    double places = (fmin(g.range[0].to, line[COUNT / 2 - 1][0]) - g.range[0].from) * 1024 / 30 + 1;
    assert_int_equal(g.range[0].pixels, 3 * lround(places));
    assert_int_equal(g.range[1].pixels, 0);
    assert_int_equal(g.outside, g.range[0].pixels);
    char words[1000];
    mil_gamut_words(&g, words, sizeof words);
    assert_non_null(strstr(words, "L* 63 to 67 (no pixels there)\n"));
    mil_output_free(output);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(measured_as_others_do),
                                       cmocka_unit_test(uncoated_paper_loses_dark_blue),
                                       cmocka_unit_test(ranges_are_where_they_must_be)};
    return cmocka_run_group_tests(tests, make_profiles, remove_folder);
}
