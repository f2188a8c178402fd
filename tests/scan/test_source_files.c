/* Files of other writers (source_files.py makes and lists them), compared sample
 * for sample; then each of them cut off and with bytes changed. */
#include "scan/source_help.h"

#include <math.h>
#include <sys/stat.h>
#include <sys/types.h>

#include <tiffio.h>

typedef struct entry {
    char name[64], note[16];
    int channels, width, height, bits, orientation, space, pages, lossy;
    double dpi[2];
} entry;

static entry *entries;
static size_t entry_count;

static void take_good(const char *line) {
    entries = realloc(entries, (entry_count + 1) * sizeof *entries);
    entry *e = &entries[entry_count++];
    assert_int_equal(sscanf(line, "good %63s %d %d %d %d %d %lf %lf %d %d %15s %d", e->name,
                            &e->channels, &e->width, &e->height, &e->bits, &e->orientation,
                            &e->dpi[0], &e->dpi[1], &e->space, &e->pages, e->note, &e->lossy),
                     12);
}

static int make_files(void **state) {
    if (help_setup(state))
        return -1;
    help *h = *state;
    char command[512], line[256];
    snprintf(command, sizeof command, "/usr/bin/python3 -B %s/scan/source_files.py %s", TESTS_DIR,
             h->folder);
    if (system(command) != 0)
        return -1;
    FILE *list = fopen(help_path(h, "list"), "r");
    while (fgets(line, sizeof line, list))
        if (line[0] == 'g')
            take_good(line);
    fclose(list);
    return entry_count < 100; /* formats x depths x layouts: the list is whole */
}

static int drop_files(void **state) {
    free(entries);
    return help_teardown(state);
}

static void samples_are_those_of_other_readers(void **state) {
    help *h = *state;
    for (size_t k = 0; k < entry_count; k++) {
        const entry *e = &entries[k];
        char path[256], raw[300];
        strcpy(path, help_path(h, e->name));
        snprintf(raw, sizeof raw, "%s.raw", path);
        size_t size;
        uint8_t *want = help_load(raw, &size);
        help_same(h, path, (const uint16_t *)(void *)want, size / 2);
        free(want);
    }
}

static void info_is_what_was_written(void **state) {
    help *h = *state;
    for (size_t k = 0; k < entry_count; k++) {
        const entry *e = &entries[k];
        mil_source *s = help_open(h, help_path(h, e->name));
        const mil_source_info *i = mil_source_info_of(s);
        bool same = (int)i->width == e->width && (int)i->height == e->height &&
                    i->channels == e->channels && i->bits == e->bits &&
                    i->orientation == e->orientation && (int)i->space == e->space &&
                    (int)i->pages == e->pages && i->lossy == (e->lossy != 0) &&
                    fabs(i->dpi[0] - e->dpi[0]) < 1e-6 && fabs(i->dpi[1] - e->dpi[1]) < 1e-6;
        bool noted = e->note[0] == '-' ? h->notes.count == 0 : mil_notes_have(&h->notes, e->note);
        if (!same || !noted || i->held)
            fail_msg("%s: info differs: %d channels, %d bits, orientation %d, dpi %g %g, space %d",
                     e->name, i->channels, i->bits, i->orientation, i->dpi[0], i->dpi[1],
                     (int)i->space);
        mil_source_close(s);
    }
}

static void bad_files_get_their_line(void **state) {
    help *h = *state;
    char line[256], name[64], words[128], path[256];
    int status, count = 0;
    FILE *list = fopen(help_path(h, "list"), "r");
    while (fgets(line, sizeof line, list)) {
        if (sscanf(line, "bad %63s %d %127s", name, &status, words) != 3)
            continue;
        for (char *p = words; *p; p++)
            *p = *p == '_' ? ' ' : *p;
        strcpy(path, help_path(h, name));
        help_refused(h, path, (milori_status)status, words);
        count++;
    }
    fclose(list);
    assert_true(count >= 19);
}

static void png_chunks_are_kept(void **state) {
    help *h = *state;
    mil_source *s = help_open(h, help_path(h, "c-many.png"));
    const mil_source_info *i = mil_source_info_of(s);
    assert_string_equal(i->software, "seed tray 2");
    assert_string_equal(i->xmp, "<x:xmpmeta/>");
    assert_int_equal(i->xmp_size, 12);
    mil_source_close(s);
    s = help_open(h, help_path(h, "c-gamma.png"));
    i = mil_source_info_of(s);
    /* sRGB's primaries and white, as written */
    const double chrm[8] = {.3127, .329, .64, .33, .3, .6, .15, .06};
    assert_true(i->has_chrm);
    assert_true(fabs(i->gamma - 0.45455) < 1e-9);
    for (int k = 0; k < 8; k++)
        assert_true(fabs(i->chrm[k] - chrm[k]) < 1e-9);
    mil_source_close(s);
    s = help_open(h, help_path(h, "c-gamma-alone.png"));
    assert_false(mil_source_info_of(s)->has_chrm);
    mil_source_close(s);
    s = help_open(h, help_path(h, "c-icc.png"));
    i = mil_source_info_of(s);
    assert_true(i->icc_size > 128);
    assert_memory_equal(i->icc + 36, "acsp", 4); /* ICC.1, 7.2.11 */
    mil_source_close(s);
}

/* Reads all there is; true if every row came. The buffers' guards are ASan's. */
static bool reads(help *h, const char *path) {
    mil_source *s;
    help_clear(h);
    if (mil_source_open(h->ctx, path, &h->notes, &s) != MILORI_OK)
        return false;
    uint16_t *all = help_rows(s, 6);
    bool whole = all != NULL;
    free(all);
    if (!whole) {
        /* A failed source stays failed, and may be rewound. */
        uint16_t *row = malloc(2 * (size_t)mil_source_info_of(s)->width * 3);
        assert_true(mil_source_read(s, 1, row) != MILORI_OK);
        free(row);
        milori_clear(h->ctx);
        if (mil_source_rewind(s) == MILORI_OK)
            assert_null(help_rows(s, 6));
    }
    mil_source_close(s);
    return whole;
}

/* Every writer here ends its file with something that is needed; but of several
 * pages the first may be whole. */
static void cut_off_files_fail(void **state) {
    help *h = *state;
    char cut[256];
    strcpy(cut, help_path(h, "cut"));
    for (size_t k = 0; k < entry_count; k++) {
        if (entries[k].pages > 1)
            continue;
        size_t size;
        uint8_t *bytes = help_load(help_path(h, entries[k].name), &size);
        const size_t lengths[] = {5, 20, size / 10, size / 2, size * 9 / 10, size - 1};
        for (size_t l = 0; l < 6; l++) {
            help_write(cut, bytes, lengths[l]);
            if (reads(h, cut))
                fail_msg("%s cut to %zu of %zu bytes was read", entries[k].name, lengths[l], size);
            assert_true(milori_failure(h->ctx) == MILORI_ERR_DAMAGED ||
                        milori_failure(h->ctx) == MILORI_ERR_FORMAT ||
                        milori_failure(h->ctx) == MILORI_ERR_PROFILE ||
                        milori_failure(h->ctx) == MILORI_ERR_UNSUPPORTED ||
                        milori_failure(h->ctx) == MILORI_ERR_LIMIT);
        }
        free(bytes);
    }
}

/* A changed byte in a PNG is always found, by its sums; elsewhere it may pass as
 * another picture, but never past the buffers. */
static void changed_bytes_do_no_harm(void **state) {
    help *h = *state;
    char path[256];
    strcpy(path, help_path(h, "changed"));
    uint32_t random = 1;
    milori_set_pixel_limit(h->ctx, 100000);
    milori_set_memory_limit(h->ctx, 32 << 20);
    for (size_t k = 0; k < entry_count; k++) {
        size_t size;
        uint8_t *bytes = help_load(help_path(h, entries[k].name), &size);
        bool png = strstr(entries[k].name, ".png") != NULL;
        for (int turn = 0; turn < 12; turn++) {
            random = random * 1664525u + 1013904223u;
            /* Half of them in the first 200 bytes, where the headers are. */
            size_t at = (random >> 8) % (turn % 2 && size > 200 ? 200 : size);
            uint8_t kept = bytes[at];
            bytes[at] ^= (uint8_t)(1u << (random & 7));
            help_write(path, bytes, size);
            if (reads(h, path) && png)
                fail_msg("%s with byte %zu changed was read", entries[k].name, at);
            bytes[at] = kept;
        }
        free(bytes);
    }
    milori_set_pixel_limit(h->ctx, (uint64_t)1 << 31);
    milori_set_memory_limit(h->ctx, (size_t)1 << 30);
}

static void pixel_limit_bites(void **state) {
    help *h = *state;
    const char *names[] = {"t16-3-le-plain.tif", "p-rgb16n.png", "j-0b.jpg"};
    for (int k = 0; k < 3; k++) {
        char path[256];
        strcpy(path, help_path(h, names[k]));
        milori_set_pixel_limit(h->ctx, 45 * 31 - 1);
        help_refused(h, path, MILORI_ERR_LIMIT, "over the limit");
        milori_set_pixel_limit(h->ctx, 45 * 31);
        mil_source_close(help_open(h, path));
    }
    milori_set_pixel_limit(h->ctx, (uint64_t)1 << 31);
}

/* 3000 x 2500 px that cannot be streamed: 22.5 MB of an interlaced PNG's rows,
 * 22.5 MB of 4:2:0 JPEG coefficients (1.5 samples a px, 2 bytes each), a tile of
 * 22.5 MB. The charge is given back at closing. */
static void memory_limit_bites(void **state) {
    help *h = *state;
    static const struct {
        const char *name, *make;
        size_t least;
    } file[] = {{"large.png",
                 "convert -size 3000x2500 gradient:red-blue -depth 8 -interlace PNG "
                 "PNG24:%s",
                 22500000},
                {"large.jpg",
                 "convert -size 3000x2500 gradient:red-blue -sampling-factor 2x2 -interlace "
                 "JPEG %s",
                 22500000},
                {"large.tif",
                 "convert -size 3000x2500 gradient:red-blue -depth 8 -compress None TIFF:- | "
                 "(cat > %1$s.s; tiffcp -t -w 3008 -l 2512 -c zip %1$s.s %1$s)",
                 22500000}};
    for (size_t k = 0; k < sizeof file / sizeof *file; k++) {
        char path[256], command[1024];
        strcpy(path, help_path(h, file[k].name));
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wformat-nonliteral"
        snprintf(command, sizeof command, file[k].make, path);
#pragma GCC diagnostic pop
        assert_int_equal(system(command), 0);
        mil_source *s = help_open(h, path);
        size_t held = mil_source_info_of(s)->held;
        assert_true(held >= file[k].least && held < 2 * file[k].least + (16 << 20));
        mil_source_close(s);
        milori_set_memory_limit(h->ctx, held - 1);
        help_refused(h, path, MILORI_ERR_LIMIT, "over the limit");
        milori_set_memory_limit(h->ctx, held);
        mil_source_close(help_open(h, path));
        mil_source_close(help_open(h, path));
        milori_set_memory_limit(h->ctx, (size_t)1 << 30);
    }
}

static void what_is_no_picture_is_refused(void **state) {
    help *h = *state;
    char path[256];
    strcpy(path, help_path(h, "pipe.tif"));
    assert_int_equal(mkfifo(path, 0600), 0);
    help_refused(h, path, MILORI_ERR_OPEN, "not a file");
    strcpy(path, help_path(h, "shed.tif"));
    assert_int_equal(mkdir(path, 0700), 0);
    help_refused(h, path, MILORI_ERR_OPEN, "a folder");
    help_refused(h, "/dev/null", MILORI_ERR_OPEN, "not a file");
    strcpy(path, help_path(h, "no-such.tif"));
    help_refused(h, path, MILORI_ERR_OPEN, "cannot be opened");
    strcpy(path, help_path(h, "empty.tif"));
    help_write(path, "", 0);
    help_refused(h, path, MILORI_ERR_FORMAT, "empty");
    strcpy(path, help_path(h, "notes.tif"));
    help_write(path, "water the beans\n", 16);
    help_refused(h, path, MILORI_ERR_FORMAT, "not a TIFF, PNG or JPEG");
    help_write(path, "I", 1);
    help_refused(h, path, MILORI_ERR_FORMAT, "not a TIFF, PNG or JPEG");
}

static void reading_past_the_end_is_refused(void **state) {
    help *h = *state;
    mil_source *s = help_open(h, help_path(h, "p-tinyn.png"));
    uint16_t row[3];
    assert_int_equal(mil_source_read(s, 2, row), MILORI_ERR_ARGUMENT);
    milori_clear(h->ctx);
    assert_int_equal(mil_source_read(s, 1, row), MILORI_OK);
    assert_int_equal(mil_source_read(s, 1, row), MILORI_ERR_ARGUMENT);
    mil_source_close(s);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(samples_are_those_of_other_readers),
                                       cmocka_unit_test(info_is_what_was_written),
                                       cmocka_unit_test(bad_files_get_their_line),
                                       cmocka_unit_test(png_chunks_are_kept),
                                       cmocka_unit_test(cut_off_files_fail),
                                       cmocka_unit_test(changed_bytes_do_no_harm),
                                       cmocka_unit_test(pixel_limit_bites),
                                       cmocka_unit_test(memory_limit_bites),
                                       cmocka_unit_test(what_is_no_picture_is_refused),
                                       cmocka_unit_test(reading_past_the_end_is_refused)};
    return cmocka_run_group_tests(tests, make_files, drop_files);
}
