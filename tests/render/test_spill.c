/* Turning by way of a temporary file. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include "render/spill.h"
#include "turn_help.h"

static uint16_t code_at(uint32_t x, uint32_t y) {
    return (uint16_t)(x * 31 + y * 977);
}

/* Puts w x h in bands of uneven height, gets it back in strips, compares every px. */
static void turned(int turn, uint32_t w, uint32_t h, uint32_t band) {
    milori_context *ctx = milori_context_new();
    mil_spill *spill = NULL;
    assert_int_equal(mil_spill_new(ctx, w, h, turn, &spill), MILORI_OK);
    uint16_t *rows = malloc((size_t)band * w * 2);
    for (uint32_t y = 0; y < h; y += band) {
        uint32_t n = h - y < band ? h - y : band;
        for (uint32_t i = 0; i < n * w; i++)
            rows[i] = code_at(i % w, y + i / w);
        assert_int_equal(mil_spill_put(spill, n, rows), MILORI_OK);
    }
    uint32_t tw = turn >= 5 ? h : w, th = turn >= 5 ? w : h;
    uint16_t *whole = malloc((size_t)w * h * 2);
    for (uint32_t y = 0; y < th; y += MIL_SPILL_STRIP) {
        uint32_t n = th - y < MIL_SPILL_STRIP ? th - y : MIL_SPILL_STRIP;
        assert_int_equal(mil_spill_get(spill, y, n, whole + (size_t)y * tw), MILORI_OK);
    }
    for (uint32_t y = 0; y < h; y++)
        for (uint32_t x = 0; x < w; x++) {
            uint32_t tx = 0, ty = 0;
            turn_px(turn, w, h, x, y, &tx, &ty);
            assert_int_equal(whole[(size_t)ty * tw + tx], code_at(x, y));
        }
    free(rows);
    free(whole);
    mil_spill_free(spill);
    milori_context_free(ctx);
}

static void all_turns(void **state) {
    (void)state;
    const uint32_t sizes[][3] = {{1, 1, 64},    {64, 64, 64},  {65, 63, 64}, {200, 131, 64},
                                 {131, 200, 7}, {130, 1, 100}, {1, 130, 100}};
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++)
        for (int turn = 1; turn <= 8; turn++)
            turned(turn, sizes[i][0], sizes[i][1], sizes[i][2]);
}

static void no_folder_is_said(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_spill *spill = NULL;
    setenv("TMPDIR", "/nowhere/at all", 1);
    assert_int_equal(mil_spill_new(ctx, 8, 8, 6, &spill), MILORI_ERR_WRITE);
    unsetenv("TMPDIR");
    assert_null(spill);
    assert_non_null(strstr(milori_message(ctx), "/nowhere/at all"));
    assert_non_null(strstr(milori_message(ctx), "TMPDIR"));
    milori_context_free(ctx);
}

/* A full disk, played by the limit on a file's size. */
static void a_full_disk_is_said(void **state) {
    (void)state;
    static const uint16_t rows[64 * 100];
    milori_context *ctx = milori_context_new();
    struct rlimit before, tight;
    signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    for (int turn = 3; turn <= 6; turn += 3) {
        mil_spill *spill = NULL;
        assert_int_equal(mil_spill_new(ctx, 100, 640, turn, &spill), MILORI_OK);
        tight = before;
        tight.rlim_cur = 40000;
        assert_int_equal(setrlimit(RLIMIT_FSIZE, &tight), 0);
        milori_status status = MILORI_OK;
        for (int band = 0; band < 10 && status == MILORI_OK; band++)
            status = mil_spill_put(spill, 64, rows);
        assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
        assert_int_equal(status, MILORI_ERR_WRITE);
        assert_non_null(strstr(milori_message(ctx), "free space there or set TMPDIR"));
        milori_clear(ctx);
        mil_spill_free(spill);
    }
    milori_context_free(ctx);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(all_turns),
                                       cmocka_unit_test(no_folder_is_said),
                                       cmocka_unit_test(a_full_disk_is_said)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
