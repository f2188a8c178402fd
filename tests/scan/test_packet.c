/* The XMP packet: what goes in comes out, outside parsers read it, and hostile
 * ones are refused. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <pthread.h>

#include "scan/packet.h"
#include "test_sink_help.h"

static int saved_stderr;

static mil_packet sample(void) {
    return (mil_packet){.source = "gew\xc3\xa4"
                                  "chshaus & <bean> \"poles\" 'n' \xf0\x9f\x8c\xb1.tif",
                        .digest = "99aa06d3014798d86001c324468d497f",
                        .version = "milori 0.1.0",
                        .choices =
                            "{\"stops\": 0.5,\n \"note\": \"tab\\t, ]]> &amp; &#10; \\u0007\"}\n",
                        .sheet = "  {\"tilt_deg\": -1.25}\r\n\t ",
                        .number = 2,
                        .dodge = "00000000000000000000000000000000",
                        .profile = "0123456789abcdef0123456789abcdef"};
}

static void assert_same(const mil_packet *a, const mil_packet *b) {
    assert_string_equal(a->source, b->source);
    assert_string_equal(a->digest, b->digest);
    assert_string_equal(a->version, b->version);
    assert_string_equal(a->choices, b->choices);
    assert_string_equal(a->sheet, b->sheet);
    assert_int_equal(a->number, b->number);
    assert_string_equal(a->dodge, b->dodge);
    assert_string_equal(a->profile, b->profile);
}

static void packets_come_back_equal(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_packet in = sample(), out;
    char *xmp, *again;
    size_t size, size_again;
    assert_ok(ctx, mil_packet_write(ctx, &in, &xmp, &size));
    assert_int_equal(strlen(xmp), size);
    assert_ok(ctx, mil_packet_read(ctx, "a.tif", xmp, size, &out));
    assert_same(&in, &out);
    mil_packet_free(&out);
    /* No clock in it: the same packet twice, and no property of time. */
    assert_ok(ctx, mil_packet_write(ctx, &in, &again, &size_again));
    assert_string_equal(xmp, again);
    assert_null(strstr(xmp, "Date"));
    free(again);
    /* Some writers pad with NUL bytes. */
    char *padded = calloc(1, size + 3);
    memcpy(padded, xmp, size);
    assert_ok(ctx, mil_packet_read(ctx, "a.tif", padded, size + 3, &out));
    assert_same(&in, &out);
    mil_packet_free(&out);
    free(padded);
    free(xmp);
    milori_context_free(ctx);
}

static void packets_need_no_digests_of_files(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_packet in = sample(), out;
    char *xmp;
    size_t size;
    in.dodge = in.profile = NULL;
    assert_ok(ctx, mil_packet_write(ctx, &in, &xmp, &size));
    assert_null(strstr(xmp, "DodgeDigest"));
    assert_ok(ctx, mil_packet_read(ctx, "a.tif", xmp, size, &out));
    assert_string_equal(out.choices, in.choices);
    assert_null(out.dodge);
    assert_null(out.profile);
    mil_packet_free(&out);
    free(xmp);
    in.profile = "";
    assert_int_equal(mil_packet_write(ctx, &in, &xmp, &size), MILORI_ERR_ARGUMENT);
    milori_context_free(ctx);
}

/* Debian's exiftool and Python's expat, neither of which is exempi. */
static void outside_parsers_read_it(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_packet in = sample();
    char *xmp;
    size_t size;
    assert_ok(ctx, mil_packet_write(ctx, &in, &xmp, &size));
    spill(in_folder("p.xmp"), xmp, size);
    free(xmp);
    const char *file = in_folder("p.xmp");
    assert_string_equal(said_by("exiftool -s3 -XMP-milori:Source '%s'", file), in.source);
    assert_string_equal(said_by("exiftool -s3 -XMP-dc:Source '%s'", file), in.source);
    assert_string_equal(said_by("exiftool -s3 -XMP-milori:Digest '%s'", file), in.digest);
    assert_string_equal(said_by("exiftool -s3 -XMP-milori:SheetNumber '%s'", file), "2");
    assert_string_equal(said_by("exiftool -s3 -XMP-milori:DodgeDigest '%s'", file), in.dodge);
    assert_string_equal(said_by("exiftool -s3 -XMP-milori:ProfileDigest '%s'", file), in.profile);
    assert_string_equal(said_by("exiftool -s3 -XMP-xmp:CreatorTool '%s'", file), in.version);
    spill(in_folder("choices"), in.choices, strlen(in.choices));
    said_by("/usr/bin/python3 -c \"import sys, xml.etree.ElementTree as E\n"
            "d = E.parse(sys.argv[1]).find('.//*[@{https://milori.invalid/ns/1.0/}Choices]')\n"
            "c = d.get('{https://milori.invalid/ns/1.0/}Choices')\n"
            "assert c == open(sys.argv[2], newline='').read(), c\" '%s' '%s' 2>&1",
            file, in_folder("choices"));
    milori_context_free(ctx);
}

static void text_that_xml_cannot_hold_is_refused(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    const char *bad[] = {"\xff",
                         "a\xc3",
                         "\xc0\xaf",
                         "\xed\xa0\x80",
                         "\xf4\x90\x80\x80",
                         "bell\a",
                         "del\x7f",
                         "\xef\xbf\xbf",
                         "",
                         NULL};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        mil_packet in = sample();
        in.source = (char *)bad[i];
        char *xmp;
        size_t size;
        assert_int_equal(mil_packet_write(ctx, &in, &xmp, &size), MILORI_ERR_ARGUMENT);
        assert_null(xmp);
        assert_non_null(strstr(milori_message(ctx), "source"));
        milori_clear(ctx);
    }
    milori_context_free(ctx);
}

/* exempi prints to standard error what it dislikes: kept off the test's own. */
static int quiet(void **state) {
    (void)state;
    fflush(stderr);
    saved_stderr = dup(STDERR_FILENO);
    return freopen("/dev/null", "w", stderr) ? 0 : -1;
}

static int loud(void **state) {
    (void)state;
    dup2(saved_stderr, STDERR_FILENO);
    return close(saved_stderr);
}

static void refused(milori_context *ctx, const char *xmp, size_t size) {
    /* A copy of exactly that size, so that ASan sees a step too far. */
    char *copy = malloc(size ? size : 1);
    memcpy(copy, xmp, size);
    mil_packet out;
    assert_int_equal(mil_packet_read(ctx, "bean.tif", copy, size, &out), MILORI_ERR_FORMAT);
    assert_non_null(strstr(milori_message(ctx), "bean.tif"));
    assert_null(out.choices);
    milori_clear(ctx);
    free(copy);
}

#define RDF(inner)                                                                                 \
    "<x:xmpmeta xmlns:x='adobe:ns:meta/'><rdf:RDF "                                                \
    "xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#'><rdf:Description rdf:about='' "       \
    "xmlns:milori='https://milori.invalid/ns/1.0/'" inner "</rdf:RDF></x:xmpmeta>"
#define TEXTS                                                                                      \
    " milori:Source='s' milori:Digest='d' milori:Version='v' milori:Choices='{}' "                 \
    "milori:SheetFound='{}'"

static void packets_of_others_are_refused(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_packet out;
    const char *good = RDF(TEXTS " milori:SheetNumber='3'/>");
    assert_ok(ctx, mil_packet_read(ctx, "bean.tif", good, strlen(good), &out));
    assert_int_equal(out.number, 3);
    assert_null(out.dodge); /* as in packets of before these were recorded */
    assert_null(out.profile);
    mil_packet_free(&out);
    const char *bad[] = {
        "",
        " ",
        "<",
        "<x",
        "plain text",
        RDF("/>"),
        RDF(TEXTS "/>"),
        RDF(TEXTS " milori:SheetNumber='0'/>"),
        RDF(TEXTS " milori:SheetNumber='two'/>"),
        RDF(TEXTS " milori:SheetNumber='99999999999'/>"),
        RDF(TEXTS " milori:SheetNumber='3' milori:Choices='{1}'/>"),
        RDF(" milori:SheetNumber='3' milori:Source='s' milori:Digest='d' milori:Version='v' "
            "milori:SheetFound='{}'><milori:Choices><rdf:Bag><rdf:li>x</rdf:li></rdf:Bag>"
            "</milori:Choices></rdf:Description>"),
        "<!DOCTYPE x [<!ENTITY e 'ee'>]>" RDF(TEXTS " milori:SheetNumber='3'/>")};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        refused(ctx, bad[i], strlen(bad[i]));
    milori_context_free(ctx);
}

static void hostile_packets_do_no_harm(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    /* Deep nesting: at the bound of elements, and where exempi alone overflows
     * its stack. */
    const size_t depths[] = {1900, 60000};
    for (size_t i = 0; i < 2; i++) {
        static const char open[] = "<milori:a rdf:parseType='Resource'>", close[] = "</milori:a>";
        static const char whole[] = RDF(TEXTS ">@</rdf:Description>");
        size_t n = depths[i];
        char *xmp = malloc(sizeof whole + n * (sizeof open + sizeof close)), *p;
        p = stpncpy(xmp, whole, strcspn(whole, "@"));
        for (size_t k = 0; k < n; k++)
            p = stpcpy(p, open);
        for (size_t k = 0; k < n; k++)
            p = stpcpy(p, close);
        p = stpcpy(p, strchr(whole, '@') + 1);
        refused(ctx, xmp, (size_t)(p - xmp));
        free(xmp);
    }
    /* Huge, though good but for that. */
    static const char good[] = RDF(TEXTS " milori:SheetNumber='3'/>");
    size_t huge = (size_t)5 << 20;
    char *blanks = malloc(huge);
    memset(blanks, ' ', huge);
    memcpy(blanks, good, sizeof good - 1);
    refused(ctx, blanks, huge);
    free(blanks);
    milori_context_free(ctx);
}

/* Bytes of a good packet changed, cut and doubled at random: no crash, and
 * either refused or read whole. */
static void broken_packets_do_no_harm(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_packet in = sample();
    char *xmp;
    size_t size;
    assert_ok(ctx, mil_packet_write(ctx, &in, &xmp, &size));
    uint32_t r = 1;
    int read = 0, refusals = 0;
    for (int round = 0; round < 2000; round++) {
        char *copy = malloc(size);
        memcpy(copy, xmp, size);
        size_t n = size;
        for (int k = 0; k <= round % 4; k++) {
            r = r * 1664525u + 1013904223u;
            copy[(r >> 8) % size] = (char)(r >> 24);
        }
        if (round % 5 == 0)
            n = (r >> 8) % size;
        mil_packet out;
        milori_status status = mil_packet_read(ctx, "bean.tif", copy, n, &out);
        assert_true(status == MILORI_OK || status == MILORI_ERR_FORMAT);
        assert_true((status == MILORI_OK) == (out.choices != NULL));
        read += status == MILORI_OK;
        refusals += status != MILORI_OK;
        mil_packet_free(&out);
        milori_clear(ctx);
        free(copy);
    }
    for (int round = 0; round < 500; round++) {
        char noise[512] = "https://milori.invalid/ns/1.0/"; /* else exempi is not asked */
        for (size_t i = round % 2 ? 0 : 30; i < sizeof noise; i++) {
            r = r * 1664525u + 1013904223u;
            noise[i] = (char)(r >> 24);
        }
        refused(ctx, noise, sizeof noise);
    }
    assert_true(read > 100 && refusals > 100); /* both ways were taken */
    free(xmp);
    milori_context_free(ctx);
}

static void *write_and_read(void *data) {
    (void)data;
    milori_context *ctx = milori_context_new();
    size_t good = 0;
    for (int i = 0; i < 50; i++) {
        mil_packet in = sample(), out;
        char *xmp;
        size_t size;
        in.number = i + 1;
        if (mil_packet_write(ctx, &in, &xmp, &size) != MILORI_OK)
            continue;
        if (mil_packet_read(ctx, "a.tif", xmp, size, &out) == MILORI_OK && out.number == i + 1)
            good++;
        mil_packet_free(&out);
        free(xmp);
    }
    milori_context_free(ctx);
    return (void *)good;
}

static void threads_do_not_disturb_each_other(void **state) {
    (void)state;
    pthread_t threads[4];
    for (int i = 0; i < 4; i++)
        assert_int_equal(pthread_create(&threads[i], NULL, write_and_read, NULL), 0);
    for (int i = 0; i < 4; i++) {
        void *good;
        pthread_join(threads[i], &good);
        assert_int_equal((size_t)good, 50);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(packets_come_back_equal),
        cmocka_unit_test(packets_need_no_digests_of_files),
        cmocka_unit_test(outside_parsers_read_it),
        cmocka_unit_test(text_that_xml_cannot_hold_is_refused),
        cmocka_unit_test_setup_teardown(packets_of_others_are_refused, quiet, loud),
        cmocka_unit_test_setup_teardown(hostile_packets_do_no_harm, quiet, loud),
        cmocka_unit_test_setup_teardown(broken_packets_do_no_harm, quiet, loud),
        cmocka_unit_test(threads_do_not_disturb_each_other)};
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
