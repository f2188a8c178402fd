/* XXH3 128 of files against xxHash's own published test values. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <sys/stat.h>

#include "scan/source.h"
#include "test_sink_help.h"

/* xxHash's sanity check (cli/xsum_sanity_check.c, XSUM_fillTestBuffer and the
 * XXH128 table, seed 0); the same lines came from Debian's `xxhsum -H2` 0.8.1. */
static void digests_are_the_published_ones(void **state) {
    (void)state;
    static const struct {
        size_t size;
        const char *digest;
    } values[] = {
        {0, "99aa06d3014798d86001c324468d497f"},   {1, "a6cd5e9392000f6ac44bdff4074eecdb"},
        {6, "082afe0b8162d12a3e7039bdda43cfc6"},   {222, "337e09641b948717f1aebd597cec6b3a"},
        {403, "1b6de21e332dd73dcdeb804d65c6dea4"}, {512, "18d2d110dcc9bca1617e49599013cb6b"},
        {2367, "e89c0f6ff369b427cb37aeb9e5d361ed"}};
    uint8_t bytes[2367];
    uint64_t g = 2654435761u;
    for (size_t i = 0; i < sizeof bytes; i++, g *= 11400714785074694797u)
        bytes[i] = (uint8_t)(g >> 56);
    milori_context *ctx = milori_context_new();
    for (size_t i = 0; i < sizeof values / sizeof *values; i++) {
        char digest[33];
        spill(in_folder("bytes"), bytes, values[i].size);
        assert_ok(ctx, mil_file_digest(ctx, in_folder("bytes"), digest));
        assert_string_equal(digest, values[i].digest);
    }
    milori_context_free(ctx);
}

/* More than one block is read; the value was computed by `xxhsum -H2`. */
static void large_files_are_streamed(void **state) {
    (void)state;
    size_t size = 1000003;
    uint8_t *bytes = malloc(size);
    uint64_t g = 2654435761u;
    for (size_t i = 0; i < size; i++, g *= 11400714785074694797u)
        bytes[i] = (uint8_t)(g >> 56);
    spill(in_folder("bytes"), bytes, size);
    free(bytes);
    milori_context *ctx = milori_context_new();
    char digest[33];
    assert_ok(ctx, mil_file_digest(ctx, in_folder("bytes"), digest));
    assert_string_equal(digest, "41409ee8715daae8487b8420bc57dde8");
    milori_context_free(ctx);
}

static void only_regular_files_are_read(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    char digest[33];
    assert_int_equal(mkfifo(in_folder("fifo"), 0600), 0);
    const char *paths[] = {in_folder("fifo"), folder, "/dev/zero", in_folder("absent")};
    for (size_t i = 0; i < sizeof paths / sizeof *paths; i++) {
        assert_int_equal(mil_file_digest(ctx, paths[i], digest), MILORI_ERR_OPEN);
        assert_non_null(strstr(milori_message(ctx), paths[i]));
        milori_clear(ctx);
    }
    milori_context_free(ctx);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(digests_are_the_published_ones),
                                       cmocka_unit_test(large_files_are_streamed),
                                       cmocka_unit_test(only_regular_files_are_read)};
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
