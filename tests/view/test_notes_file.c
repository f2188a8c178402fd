/* Notes: CSV by RFC 4180, and as spreadsheets in other countries write it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <locale.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "temp_folder.h"
#include "view/notes_file.h"

static milori_context *ctx;
static char path[128];

static milori_status read_bytes(const char *bytes, size_t size, mil_notes_file *notes) {
    snprintf(path, sizeof path, "%s/notes.csv", folder);
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    assert_int_equal(fwrite(bytes, 1, size, f), size);
    assert_int_equal(fclose(f), 0);
    milori_clear(ctx);
    return mil_notes_file_read(ctx, path, notes);
}

static mil_notes_file reads(const char *text) {
    mil_notes_file notes;
    if (read_bytes(text, strlen(text), &notes) != MILORI_OK)
        fail_msg("%s: %s", text, milori_message(ctx));
    return notes;
}

/* One line: file, line, and these words. */
static void refuses(const char *text, size_t line, const char *words) {
    mil_notes_file notes;
    char start[192];
    milori_status status = read_bytes(text, strlen(text), &notes);
    const char *said = milori_message(ctx);
    snprintf(start, sizeof start, line ? "%s: line %zu: " : "%s: ", path, line);
    if (status == MILORI_OK || strncmp(said, start, strlen(start)) != 0 || !strstr(said, words) ||
        strchr(said, '\n'))
        fail_msg("%s: said \"%s\", wanted \"%s\" and \"%s\"", text, said, start, words);
    assert_int_equal(notes.count, 0);
    assert_null(notes.row);
}

/* Every rule of RFC 4180, section 2, in one: CRLF, a last line without, a header, blanks, quotes
 * round a field, a line break, a comma and doubled quotes inside one. */
static void rules_of_rfc_4180(void **state) {
    (void)state;
    mil_notes_file n = reads("file,minutes,light,hours,\"UV, by meter\"\r\n"
                             "\"aaa\",\"7.5\",\"b \r\nbb\",1,\"c\"\"cc\"\r\n"
                             "zzz,15,\"front, lit\",2.25,xx");
    assert_int_equal(n.count, 2);
    assert_int_equal(n.columns, 1);
    assert_string_equal(n.column[0], "UV, by meter");
    assert_string_equal(n.row[0].file, "aaa");
    assert_true(n.row[0].minutes == 7.5 && n.row[0].hours == 1);
    assert_string_equal(n.row[0].light, "b \r\nbb");
    assert_string_equal(n.row[0].more[0], "c\"cc");
    assert_string_equal(n.row[1].light, "front, lit");
    assert_string_equal(n.row[1].more[0], "xx");
    assert_int_equal(n.row[0].line, 2);
    assert_int_equal(n.row[1].line, 4);
    mil_notes_file_free(&n);
}

static void tables_of_other_countries(void **state) {
    (void)state;
    static const char *const texts[] = {
        "\357\273\277File;Minutes;Light;Hours;Luftfeuchte\r\nbeans.tif;7,5;sun, high;0,25;61\r\n",
        "file\tminutes\tlight\thours\tLuftfeuchte\nbeans.tif\t7,5\tsun, high\t0,25\t61\n",
        "FILE\tMINUTES\tLIGHT\tHOURS\tLuftfeuchte\rbeans.tif\t7.5\t\"sun, high\"\t.25\t61\r",
        "sep=;\r\nfile;minutes;light;hours;Luftfeuchte\r\nbeans.tif;7.5;sun, high;0.25;61\r\n",
        "file,minutes,light,hours,Luftfeuchte\n\n,,,,\nbeans.tif, 7.5 ,\"sun, high\",0.25,61\n\n"};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        mil_notes_file n = reads(texts[i]);
        assert_int_equal(n.count, 1);
        assert_true(n.row[0].minutes == 7.5 && n.row[0].hours == 0.25);
        assert_string_equal(n.row[0].file, "beans.tif");
        assert_string_equal(n.row[0].light, "sun, high");
        assert_string_equal(n.column[0], "Luftfeuchte");
        assert_string_equal(n.row[0].more[0], "61");
        mil_notes_file_free(&n);
    }
}

static void what_is_left_out_is_not_known(void **state) {
    (void)state;
    mil_notes_file n = reads("hours,file\n,a\n3,b\n");
    assert_true(isnan(n.row[0].hours) && isnan(n.row[0].minutes) && n.row[1].hours == 3);
    assert_string_equal(n.row[0].light, "");
    mil_notes_file_free(&n);
    n = reads("file\n");
    assert_int_equal(n.count, 0);
    mil_notes_file_free(&n);
    /* A column without a name that holds nothing, as spreadsheets leave behind. */
    n = reads("file,light,\na,sun,\n");
    assert_int_equal(n.columns, 0);
    mil_notes_file_free(&n);
}

static void bad_lines_are_refused_by_number(void **state) {
    (void)state;
    refuses("", 0, "is empty");
    refuses("\n\n", 0, "is empty");
    refuses("name,minutes\na,1\n", 1, "no column is called file");
    refuses("file,Light,light\na,b,c\n", 1, "two columns are called light");
    refuses("file,minutes\na,7 min\n", 2, "minutes is \"7 min\"");
    refuses("file,minutes\na,7,5\n", 2, "3 fields, but the first line names 2");
    refuses("file,minutes\n\na\n", 3, "1 fields, but the first line names 2");
    refuses("file,minutes\na,0\n", 2, "minutes is \"0\"");
    refuses("file,minutes\na,-3\n", 2, "minutes");
    refuses("file,minutes\na,nan\n", 2, "minutes");
    refuses("file,minutes\na,0x10\n", 2, "minutes");
    refuses("file,minutes\na,1e999\n", 2, "minutes");
    refuses("file;hours\na;1,000,5\n", 2, "hours is \"1,000,5\"");
    refuses("file,hours\n,3\n", 2, "names no file");
    refuses("file,hours\n\"a,3\nb,4\n", 2, "not closed");
    refuses("file,hours\n\"a\"b,3\n", 2, "follows a closing quote");
    refuses("file,hours\na\"b\",3\n", 2, "quote stands inside");
    refuses("file,hours\n\"a\nb\",3\n\"c\" c,1\n", 4, "follows");
    refuses("file,hours\na,1\nb,2\na,3\n", 4, "a has notes in line 2 already");
    refuses("file,,hours\na,b,1\n", 2, "under no name");
    refuses("\377\376f\0i\0", 0, "UTF-16");
}

static void binary_and_missing_files(void **state) {
    (void)state;
    mil_notes_file n;
    assert_int_equal(read_bytes("file\na\0b\n", 9, &n), MILORI_ERR_FORMAT);
    assert_non_null(strstr(milori_message(ctx), "is no text"));
    milori_clear(ctx);
    assert_int_equal(mil_notes_file_read(ctx, folder, &n), MILORI_ERR_OPEN);
    milori_clear(ctx);
    assert_int_equal(mil_notes_file_read(ctx, "no such notes.csv", &n), MILORI_ERR_OPEN);
}

static char *repeated(const char *head, const char *part, size_t times) {
    size_t h = strlen(head), p = strlen(part);
    char *text = malloc(h + p * times + 1);
    assert_non_null(text);
    memcpy(text, head, h + 1);
    for (size_t i = 0; i < times; i++)
        memcpy(text + h + i * p, part, p + 1);
    return text;
}

static void limits_bite(void **state) {
    (void)state;
    char *text = repeated("file\n", "a", 4097);
    refuses(text, 2, "4096 bytes");
    free(text);
    text = repeated("file\n", "a", 4096);
    mil_notes_file n = reads(text);
    mil_notes_file_free(&n);
    free(text);
    text = repeated("file", ",x", 64);
    refuses(text, 1, "64 fields");
    free(text);
    text = repeated("file\n", "\"\n\"\n", 1 << 20);
    mil_notes_file big;
    assert_int_equal(read_bytes(text, strlen(text), &big), MILORI_ERR_LIMIT);
    free(text);
    size_t used = 5;
    char *lines = malloc(16 * 10002);
    strcpy(lines, "file\n");
    for (int i = 0; i < 10001; i++)
        used += (size_t)sprintf(lines + used, "n%d\n", i);
    refuses(lines, 10002, "10000 notes");
    free(lines);
}

static uint32_t next(uint32_t *seed) {
    return *seed = *seed * 1664525u + 1013904223u;
}

/* Texts grown at random from what matters to the reader, and good ones damaged: read or refused
 * with one line, never more (the sanitisers watch). */
static void bad_texts_of_every_kind(void **state) {
    (void)state;
    static const char *const parts[] = {
        "file",         "minutes", ",",     ";",     "\t", "\"",   "\"\"",
        "\r",           "\n",      "\r\n",  "7,5",   "1e", "sep=", " ",
        "\xef\xbb\xbf", "\xff",    "light", "a.tif", "\\", "-",    "\0"};
    static const char good[] = "file,minutes,light\n\"a,b\",7.5,\"x \"\"y\"\"\"\nc,1,sun\n";
    uint32_t seed = 3;
    int well = 0, refused = 0;
    for (int round = 0; round < 6000; round++) {
        char text[256];
        size_t size = 0;
        if (round % 2) {
            size = sizeof good - 1;
            memcpy(text, good, size);
            for (int k = 0; k < 2; k++)
                text[(next(&seed) >> 8) % size] = parts[(next(&seed) >> 8) % 21][0];
        } else {
            size = (size_t)sprintf(text, "%s", next(&seed) >> 31 ? "file," : "");
            for (int k = 0; k < 24; k++) {
                const char *part = parts[(next(&seed) >> 8) % 21];
                size_t n = part[0] ? strlen(part) : 1;
                memcpy(text + size, part, n);
                size += n;
            }
        }
        mil_notes_file n;
        milori_status status = read_bytes(text, size, &n);
        assert_int_equal(strlen(milori_message(ctx)) > 0, status != MILORI_OK);
        assert_null(strpbrk(milori_message(ctx), "\n\r"));
        well += status == MILORI_OK;
        refused += status != MILORI_OK;
        mil_notes_file_free(&n);
    }
    print_message("%d read, %d refused\n", well, refused);
    assert_true(well > 100 && refused > 1000);
}

static void names_with_and_without_folder_and_extension(void **state) {
    (void)state;
    static const struct {
        const char *noted, *scan;
        int fit;
    } cases[] = {{"beans.tif", "scans/beans.tif", 2},
                 {"beans", "scans/beans.tif", 1},
                 {"scans/beans.tif", "scans/beans.tif", 3},
                 {"scans\\beans.tif", "my/scans/beans.tif", 3},
                 {"C:\\old\\beans.tif", "scans/beans.tif", 2},
                 {"old/beans", "scans/beans.tif", 1},
                 {"ans/beans.tif", "scans/beans.tif", 2},
                 {"beans.png", "scans/beans.tif", 0},
                 {"bean", "scans/beans.tif", 0},
                 {"beans.tif", "beans.tif.png", 1},
                 {"", "scans/beans.tif", 0},
                 {"two.dots", "two.dots.tif", 1},
                 {".tif", ".tif", 2},
                 {"a\\b.tif", "a\\b.tif", 3}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        if (mil_noted_fits(cases[i].noted, cases[i].scan) != cases[i].fit)
            fail_msg("%s against %s is not %d", cases[i].noted, cases[i].scan, cases[i].fit);
}

/* Numbers do not follow the locale: read under one with a decimal comma where there is one. */
static void numbers_do_not_follow_the_locale(void **state) {
    (void)state;
    const char *comma = setlocale(LC_ALL, "de_DE.UTF-8");
    mil_notes_file n = reads("file,minutes\na,7.5\n");
    assert_true(n.row[0].minutes == 7.5);
    mil_notes_file_free(&n);
    setlocale(LC_ALL, "C");
    if (!comma)
        print_message("(no German locale here)\n");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rules_of_rfc_4180),
        cmocka_unit_test(tables_of_other_countries),
        cmocka_unit_test(what_is_left_out_is_not_known),
        cmocka_unit_test(bad_lines_are_refused_by_number),
        cmocka_unit_test(binary_and_missing_files),
        cmocka_unit_test(limits_bite),
        cmocka_unit_test(bad_texts_of_every_kind),
        cmocka_unit_test(names_with_and_without_folder_and_extension),
        cmocka_unit_test(numbers_do_not_follow_the_locale),
    };
    ctx = milori_context_new();
    int failed = cmocka_run_group_tests(tests, make_folder, remove_folder);
    milori_context_free(ctx);
    return failed;
}
