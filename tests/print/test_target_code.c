/* The beads' code: everything about a chart comes back, whatever way it lies and
 * whatever is lost. Computed: the chart that was encoded. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "print/target_parts.h"

static const mil_target charts[] = {
    {.kind = MIL_TARGET_TONE,
     .columns = 12,
     .rows = 17,
     .levels = 29,
     .seed = 5,
     .ink = {0, 10, 4}},
    {.kind = MIL_TARGET_TONE, .columns = 7, .rows = 9, .levels = 9, .curved = true},
    {.kind = MIL_TARGET_INK, .columns = 12, .rows = 13, .levels = 12},
    {.kind = MIL_TARGET_TIME, .columns = 12, .rows = 17, .levels = 8, .half_stops = 1},
    {.kind = MIL_TARGET_TIME, .columns = 26, .rows = 38, .levels = 12, .half_stops = 2},
    {.kind = MIL_TARGET_TONE,
     .columns = 63,
     .rows = 63,
     .levels = 63,
     .seed = 7,
     .ink = {15, 15, 0}}};
enum { CHARTS = sizeof charts / sizeof *charts };

static bool same(const mil_target *a, const mil_target *b) {
    return a->kind == b->kind && a->columns == b->columns && a->rows == b->rows &&
           a->levels == b->levels && a->seed == b->seed && a->curved == b->curved &&
           memcmp(a->ink, b->ink, sizeof a->ink) == 0 && a->half_stops == b->half_stops;
}

static void message_returns(void **state) {
    (void)state;
    for (size_t i = 0; i < CHARTS; i++) {
        mil_target back;
        uint64_t message = mil_target_message(&charts[i]);
        assert_true(message < (uint64_t)1 << 49);
        assert_true(mil_target_of_message(message, &back));
        assert_true(same(&charts[i], &back));
    }
}

/* One wrong bit, and any burst of up to 11, are seen: what a cyclic check of 11 bits
 * with a constant term promises (common knowledge of such checks, no source). */
static void wrong_bits_are_seen(void **state) {
    (void)state;
    uint64_t message = mil_target_message(&charts[0]);
    mil_target back;
    for (int at = 0; at < 49; at++)
        for (unsigned burst = 1; burst < 1u << 11; burst += 2)
            if (at + 11 <= 49)
                assert_false(mil_target_of_message(message ^ ((uint64_t)burst << at), &back));
}

/* Beads of a chart as a scan might number them: one of the eight ways, some lost,
 * some misread, the place on the scan with them. */
static size_t scatter(const mil_target *t, int way, unsigned lost, unsigned wrong, mil_bead *bead) {
    size_t n = 0;
    uint64_t random = 11 + (unsigned)way;
    for (int row = 0; row <= t->rows; row++)
        for (int column = 0; column <= t->columns; column++) {
            if (mil_target_random(&random) % 100 < lost)
                continue;
            bool pierced = mil_target_pierced(t, column, row);
            pierced ^= mil_target_random(&random) % 100 < wrong;
            int a = way & 4 ? row : column, b = way & 4 ? column : row;
            bead[n++] = (mil_bead){.column = (way & 1 ? -a : a) + 3,
                                   .row = (way & 2 ? -b : b) - 5,
                                   .x = column,
                                   .y = row,
                                   .pierced = pierced ? 0.8 : -0.8};
        }
    return n;
}

static void every_way_round(void **state) {
    (void)state;
    static mil_bead bead[64 * 64];
    for (size_t i = 0; i + 1 < CHARTS; i++)
        for (int way = 0; way<8; way += charts[i].columns> 20 ? 3 : 1) {
            mil_target back;
            bool mirrored;
            size_t n = scatter(&charts[i], way, charts[i].columns < 10 ? 3 : 15,
                               charts[i].columns < 10 ? 0 : 2, bead);
            if (!mil_target_decode(bead, n, &back, &mirrored) || !same(&charts[i], &back))
                fail_msg("chart %zu, way %d: not read", i, way);
            assert_false(mirrored); /* x and y are the chart's own */
            for (size_t k = 0; k < n; k++) {
                assert_int_equal(bead[k].column, (int)bead[k].x);
                assert_int_equal(bead[k].row, (int)bead[k].y);
            }
        }
}

static void a_mirror_image_is_seen(void **state) {
    (void)state;
    static mil_bead bead[64 * 64];
    mil_target back;
    bool mirrored;
    size_t n = scatter(&charts[0], 1, 5, 0, bead);
    for (size_t k = 0; k < n; k++)
        bead[k].x = -bead[k].x;
    assert_true(mil_target_decode(bead, n, &back, &mirrored));
    assert_true(mirrored);
}

static void beads_of_no_chart_say_nothing(void **state) {
    (void)state;
    static mil_bead bead[64 * 64];
    mil_target back;
    bool mirrored;
    uint64_t random = 1;
    for (int trial = 0; trial < 30; trial++) {
        size_t n = scatter(&charts[0], trial % 8, 5, 0, bead);
        for (size_t k = 0; k < n; k++)
            bead[k].pierced = mil_target_random(&random) >> 63 ? 1 : -1;
        assert_false(mil_target_decode(bead, n, &back, &mirrored));
    }
    assert_false(mil_target_decode(bead, 20, &back, &mirrored));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(message_returns), cmocka_unit_test(wrong_bits_are_seen),
        cmocka_unit_test(every_way_round), cmocka_unit_test(a_mirror_image_is_seen),
        cmocka_unit_test(beads_of_no_chart_say_nothing)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
