/* What cannot be written says so in one line and leaves nothing behind. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <fcntl.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>

#include "scan/transaction.h"
#include "test_sink_help.h"

static const char old_words[] = "what stood here before";

static mil_sink_options options(milori_format format) {
    return (mil_sink_options){
        .format = format, .width = 300, .height = 900, .channels = 3, .bits = 8, .quality = 95};
}

static int count_descriptors(void) {
    int n = 0;
    DIR *list = opendir("/proc/self/fd");
    assert_non_null(list);
    while (readdir(list))
        n++;
    closedir(list);
    return n;
}

static void assert_untouched(const char *path) {
    size_t size;
    uint8_t *bytes = slurp(path, &size);
    assert_int_equal(size, sizeof old_words);
    assert_memory_equal(bytes, old_words, size);
    free(bytes);
}

/* The call failed so, with a line that names the file and holds the words. */
static void assert_failed(milori_context *ctx, milori_status got, milori_status status,
                          const char *name, const char *words) {
    assert_int_equal(got, status);
    if (!strstr(milori_message(ctx), name) || !strstr(milori_message(ctx), words))
        fail_msg("\"%s\" lacks \"%s\" or \"%s\"", milori_message(ctx), name, words);
    milori_clear(ctx);
}

static void limit_files(rlim_t bytes) {
    struct rlimit limit;
    getrlimit(RLIMIT_FSIZE, &limit);
    limit.rlim_cur = bytes;
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &limit), 0);
}

/* A disk that takes only so many bytes, for every format, cut at many places:
 * in the header, in the rows, in the last flush, one byte short. */
static void short_writes_are_noticed(void **state) {
    (void)state;
    signal(SIGXFSZ, SIG_IGN);
    milori_context *ctx = milori_context_new();
    static char packet[600000]; /* more than is held back, so that the header fails too */
    memset(packet, 'x', sizeof packet);
    int before = count_descriptors();
    for (int format = MILORI_TIFF; format <= MILORI_PDF; format++) {
        mil_sink_options o = options((milori_format)format);
        o.height = 2500;
        void *picture = make_picture(&o);
        o.replace = true;
        o.xmp = packet;
        o.xmp_size = format == MILORI_JPEG ? 60000 : sizeof packet;
        assert_ok(ctx, write_picture(ctx, in_folder("whole"), &o, picture));
        struct stat st;
        assert_int_equal(stat(in_folder("whole"), &st), 0);
        rlim_t size = (rlim_t)st.st_size;
        spill(in_folder("shed"), old_words, sizeof old_words);
        const rlim_t limits[] = {0,           7,       100, 4096, size / 4, size / 2, size * 3 / 4,
                                 size - 5000, size - 1};
        for (size_t i = 0; i < sizeof limits / sizeof *limits; i++) {
            limit_files(limits[i]);
            milori_status status = write_picture(ctx, in_folder("shed"), &o, picture);
            limit_files(RLIM_INFINITY);
            assert_failed(ctx, status, MILORI_ERR_WRITE, "/shed: cannot be written (File too large",
                          "; ");
            assert_untouched(in_folder("shed"));
            assert_int_equal(count_files(true), 0);
        }
        limit_files(size);
        assert_ok(ctx, write_picture(ctx, in_folder("shed"), &o, picture));
        limit_files(RLIM_INFINITY);
        free(picture);
    }
    assert_int_equal(count_descriptors(), before);
    milori_context_free(ctx);
}

/* After a failed write, further writes and the commit fail too. */
static void failures_stick(void **state) {
    (void)state;
    signal(SIGXFSZ, SIG_IGN);
    milori_context *ctx = milori_context_new();
    for (int format = MILORI_TIFF; format <= MILORI_PDF; format++) {
        mil_sink_options o = options((milori_format)format);
        o.height = 4000;
        uint8_t *picture = make_picture(&o);
        mil_sink *sink;
        assert_ok(ctx, mil_sink_open(ctx, in_folder("stick"), &o, &sink));
        limit_files(1000);
        assert_int_equal(mil_sink_write(sink, 2000, picture), MILORI_ERR_WRITE);
        limit_files(RLIM_INFINITY); /* room again: too late */
        milori_clear(ctx);
        assert_int_equal(mil_sink_write(sink, 2000, picture), MILORI_ERR_WRITE);
        assert_int_equal(mil_sink_commit(sink), MILORI_ERR_WRITE);
        assert_int_equal(access(in_folder("stick"), F_OK), -1);
        assert_int_equal(count_files(true), 0);
        milori_clear(ctx);
        free(picture);
    }
    milori_context_free(ctx);
}

static void places_that_cannot_be_written_are_named(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_sink_options o = options(MILORI_TIFF);
    o.replace = true;
    mil_sink *sink;
    int before = count_descriptors(), files = count_files(false);
    spill(in_folder("file"), old_words, sizeof old_words);
    assert_int_equal(mkdir(in_folder("bed"), 0777), 0);
    assert_int_equal(mkfifo(in_folder("fifo"), 0600), 0);
    const struct {
        const char *name, *words;
        milori_status status;
    } cases[] = {{"absent/a.tif", "make the folder first", MILORI_ERR_WRITE},
                 {"file/a.tif", "not a folder", MILORI_ERR_WRITE},
                 {"bed", "name a file", MILORI_ERR_WRITE},
                 {"bed/", "name a file", MILORI_ERR_WRITE},
                 {"bed/..", "name a file", MILORI_ERR_WRITE},
                 {"fifo", "is there already", MILORI_ERR_EXISTS}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        milori_status status = mil_sink_open(ctx, in_folder(cases[i].name), &o, &sink);
        assert_null(sink);
        assert_failed(ctx, status, cases[i].status, cases[i].name, cases[i].words);
    }
    assert_failed(ctx, mil_sink_open(ctx, "", &o, &sink), MILORI_ERR_WRITE, "", "name a file");
    assert_int_equal(count_descriptors(), before);
    assert_int_equal(count_files(false), files + 3);
    assert_untouched(in_folder("file"));
    if (geteuid() != 0) { /* root may write anywhere */
        assert_int_equal(chmod(in_folder("bed"), 0555), 0);
        milori_status status = mil_sink_open(ctx, in_folder("bed/a.tif"), &o, &sink);
        assert_failed(ctx, status, MILORI_ERR_WRITE, "bed/a.tif", "may write");
        assert_int_equal(chmod(in_folder("bed"), 0777), 0);
    }
    milori_context_free(ctx);
}

static void others_files_are_not_replaced(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    const char *path = in_folder("kept.png");
    mil_sink_options o = options(MILORI_PNG);
    uint8_t *picture = make_picture(&o);
    mil_sink *sink;
    /* There before we begin. */
    spill(path, old_words, sizeof old_words);
    assert_failed(ctx, mil_sink_open(ctx, path, &o, &sink), MILORI_ERR_EXISTS, path, "already");
    assert_untouched(path);
    /* There by the time we end. */
    assert_int_equal(unlink(path), 0);
    assert_ok(ctx, mil_sink_open(ctx, path, &o, &sink));
    assert_ok(ctx, mil_sink_write(sink, o.height, picture));
    spill(path, old_words, sizeof old_words);
    assert_failed(ctx, mil_sink_commit(sink), MILORI_ERR_EXISTS, path, "already");
    assert_untouched(path);
    /* A link is replaced, what it points to is not. */
    o.replace = true;
    const char *link = in_folder("link.png");
    assert_int_equal(symlink(path, link), 0);
    assert_ok(ctx, write_picture(ctx, link, &o, picture));
    assert_untouched(path);
    struct stat st;
    assert_int_equal(lstat(link, &st), 0);
    assert_true(S_ISREG(st.st_mode));
    assert_int_equal(count_files(true), 0);
    free(picture);
    milori_context_free(ctx);
}

static void nothing_shows_before_the_end(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    for (int format = MILORI_TIFF; format <= MILORI_PDF; format++) {
        mil_sink_options o = options((milori_format)format);
        uint8_t *picture = make_picture(&o);
        const char *path = in_folder("late");
        mil_sink *sink;
        assert_ok(ctx, mil_sink_open(ctx, path, &o, &sink));
        assert_ok(ctx, mil_sink_write(sink, o.height - 1, picture));
        assert_int_equal(access(path, F_OK), -1);
        assert_int_equal(count_files(true), 1);
        if (format == MILORI_TIFF) {
            mil_sink_abort(sink);
        } else { /* a row is missing */
            assert_failed(ctx, mil_sink_commit(sink), MILORI_ERR_ARGUMENT, "", "fewer rows");
        }
        assert_ok(ctx, mil_sink_open(ctx, path, &o, &sink));
        assert_failed(ctx, mil_sink_write(sink, o.height + 1, picture), MILORI_ERR_ARGUMENT, "",
                      "more rows");
        mil_sink_abort(sink);
        assert_int_equal(access(path, F_OK), -1);
        assert_int_equal(count_files(true), 0);
        free(picture);
    }
    mil_sink_abort(NULL);
    milori_context_free(ctx);
}

static void long_names_and_the_umask_are_kept(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    char name[257];
    memset(name, 'b', sizeof name);
    name[255] = 0; /* NAME_MAX */
    mode_t mask = umask(027);
    assert_ok(ctx, mil_write_file(ctx, in_folder(name), "beans", 5, false));
    umask(mask);
    struct stat st;
    assert_int_equal(stat(in_folder(name), &st), 0);
    assert_int_equal(st.st_mode & 0777, 0640);
    assert_int_equal(st.st_size, 5);
    name[255] = 'b';
    name[256] = 0;
    milori_status status = mil_write_file(ctx, in_folder(name), "beans", 5, false);
    assert_failed(ctx, status, MILORI_ERR_WRITE, name, "shorter name");
    /* A name without a folder is one in the working folder. */
    char here[512];
    assert_non_null(getcwd(here, sizeof here));
    assert_int_equal(chdir(folder), 0);
    assert_ok(ctx, mil_write_file(ctx, "plain", "", 0, false));
    assert_int_equal(chdir(here), 0);
    assert_int_equal(stat(in_folder("plain"), &st), 0);
    assert_int_equal(count_files(true), 0);
    milori_context_free(ctx);
}

/* Refused before any work: the folder does not even exist. */
static void what_a_format_cannot_hold_is_refused(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    static char packet[65503];
    static uint8_t grey[200] = {0, 0, 0, 200}, colour[200] = {0, 0, 0, 200};
    memcpy(grey + 16, "GRAY", 4), memcpy(grey + 36, "acsp", 4);
    memcpy(colour + 16, "RGB ", 4), memcpy(colour + 36, "acsp", 4);
    const mil_sink_options rgb = {.width = 9, .height = 9, .channels = 3, .bits = 8, .quality = 9};
    mil_sink_options o[19];
    for (size_t i = 0; i < 19; i++)
        o[i] = rgb;
    milori_status status[19] = {0};
    o[0].format = MILORI_JPEG, o[0].width = 65536, status[0] = MILORI_ERR_LIMIT;
    o[1].format = MILORI_JPEG, o[1].height = 65536, status[1] = MILORI_ERR_LIMIT;
    o[2].format = MILORI_PNG, o[2].height = 1u << 31, status[2] = MILORI_ERR_LIMIT;
    o[3].format = MILORI_TIFF, o[3].width = UINT32_MAX, status[3] = MILORI_ERR_LIMIT;
    o[4].width = 0, status[4] = MILORI_ERR_ARGUMENT;
    o[5].format = MILORI_JPEG, o[5].bits = 16, status[5] = MILORI_ERR_ARGUMENT;
    o[6].bits = 12, status[6] = MILORI_ERR_ARGUMENT;
    o[7].channels = 5, status[7] = MILORI_ERR_ARGUMENT;
    o[8].format = MILORI_JPEG, o[8].quality = 0, status[8] = MILORI_ERR_ARGUMENT;
    o[9].icc = grey, o[9].icc_size = 200, status[9] = MILORI_ERR_PROFILE;
    o[10].icc = colour, o[10].icc_size = 199, status[10] = MILORI_ERR_PROFILE;
    o[11].icc = colour, o[11].icc_size = 4, status[11] = MILORI_ERR_PROFILE;
    o[12].icc = colour, o[12].icc_size = 200, o[12].channels = 1;
    status[12] = MILORI_ERR_PROFILE;
    o[13].format = MILORI_JPEG, o[13].xmp = packet, o[13].xmp_size = sizeof packet;
    status[13] = MILORI_ERR_LIMIT;
    o[14].format = MILORI_PNG, o[14].channels = 4, status[14] = MILORI_ERR_ARGUMENT;
    o[15].format = MILORI_JPEG, o[15].channels = 4, status[15] = MILORI_ERR_ARGUMENT;
    o[16].channels = 4, o[16].icc = colour, o[16].icc_size = 200, status[16] = MILORI_ERR_PROFILE;
    o[17].format = MILORI_PDF, o[17].output_icc = colour, o[17].output_icc_size = 199;
    status[17] = MILORI_ERR_PROFILE;
    o[18].format = MILORI_PDF, o[18].channels = 2, status[18] = MILORI_ERR_ARGUMENT;
    for (size_t i = 0; i < 19; i++) {
        mil_sink *sink;
        milori_status got = mil_sink_open(ctx, in_folder("absent/a"), &o[i], &sink);
        assert_null(sink);
        assert_failed(ctx, got, status[i], "absent/a", "choose");
    }
    milori_context_free(ctx);
}

/* libpng refuses more than we look at: that is told as the profile's fault. */
static void profiles_are_never_dropped(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    size_t size;
    uint8_t *icc = slurp("/usr/share/color/icc/colord/sRGB.icc", &size);
    memcpy(icc + 20, "Oops", 4); /* no such connection space */
    mil_sink_options o = options(MILORI_PNG);
    o.icc = icc;
    o.icc_size = size;
    mil_sink *sink;
    assert_failed(ctx, mil_sink_open(ctx, in_folder("p.png"), &o, &sink), MILORI_ERR_PROFILE,
                  "p.png", "output profile");
    assert_int_equal(count_files(true), 0);
    free(icc);
    milori_context_free(ctx);
}

static void the_dead_are_swept_and_the_living_are_not(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_sink_options o = options(MILORI_TIFF);
    uint8_t *picture = make_picture(&o);
    /* A child that dies in the middle, as by a power cut. */
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        mil_sink *lost;
        bool begun = mil_sink_open(ctx, in_folder("dead.tif"), &o, &lost) == MILORI_OK &&
                     mil_sink_write(lost, 600, picture) == MILORI_OK;
        _exit(begun ? 0 : 1);
    }
    int how;
    assert_int_equal(waitpid(child, &how, 0), child);
    assert_int_equal(how, 0);
    mil_sink *living;
    assert_ok(ctx, mil_sink_open(ctx, in_folder("alive.tif"), &o, &living));
    assert_int_equal(count_files(true), 2);
    /* Names that only look like ours, and a link under our name. */
    spill(in_folder(".milori-0123456789abcdeX.part"), "x", 1);
    spill(in_folder(".milori-0123456789abcdef.part.tif"), "x", 1);
    spill(in_folder("target"), old_words, sizeof old_words);
    assert_int_equal(symlink("target", in_folder(".milori-00000000000000aa.part")), 0);

    assert_int_equal(mil_sink_sweep(folder), 1);
    assert_int_equal(count_files(true), 4);
    assert_untouched(in_folder("target"));
    assert_int_equal(mil_sink_sweep(folder), 0);
    assert_int_equal(mil_sink_sweep(in_folder("absent")), -1);

    assert_ok(ctx, mil_sink_write(living, o.height, picture));
    assert_ok(ctx, mil_sink_commit(living));
    said_by("tiffinfo '%s' 2>&1", in_folder("alive.tif"));
    free(picture);
    milori_context_free(ctx);
}

/* Codecs go back to patch headers; the bytes must land where they belong. */
static void places_are_kept_through_the_buffer(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_transaction *tx;
    size_t n = 1000000;
    uint8_t *expected = calloc(1, n);
    assert_ok(ctx, mil_transaction_open(ctx, in_folder("places"), false, &tx));
    uint32_t r = 7;
    for (int i = 0; i < 3000; i++) {
        r = r * 1664525u + 1013904223u;
        size_t at = (r >> 8) % n, size = (r >> 4) % (i % 50 ? 300 : 400000);
        size = size > n - at ? n - at : size;
        if (i % 3) /* carry on where we are */
            at = mil_transaction_place(tx) < n ? (size_t)mil_transaction_place(tx) : at;
        size = size > n - at ? n - at : size;
        memset(expected + at, i & 255, size);
        assert_true(mil_transaction_seek(tx, at));
        assert_true(mil_transaction_write(tx, expected + at, size));
    }
    size_t length = (size_t)mil_transaction_size(tx), got;
    assert_ok(ctx, mil_transaction_commit(tx));
    uint8_t *bytes = slurp(in_folder("places"), &got);
    assert_int_equal(got, length);
    assert_memory_equal(bytes, expected, got);
    free(bytes), free(expected);
    milori_context_free(ctx);
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, make_folder, remove_folder)

int main(void) {
    const struct CMUnitTest tests[] = {TEST(short_writes_are_noticed),
                                       TEST(failures_stick),
                                       TEST(places_that_cannot_be_written_are_named),
                                       TEST(others_files_are_not_replaced),
                                       TEST(nothing_shows_before_the_end),
                                       TEST(long_names_and_the_umask_are_kept),
                                       TEST(what_a_format_cannot_hold_is_refused),
                                       TEST(profiles_are_never_dropped),
                                       TEST(the_dead_are_swept_and_the_living_are_not),
                                       TEST(places_are_kept_through_the_buffer)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
