/* Beads found on a picture drawn here, bent as a curled sheet on a tilted bed is:
 * every bead's number and place are known. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "print/target_parts.h"
#include "tone/test_context.h"

enum { WIDE = 520, HIGH = 640 };
static const double CELLS_MM = 3; /* cells a mm */

typedef struct sheet {
    mil_target target;
    double angle, bend; /* degrees; mm at the far edge */
    bool mirrored;
    double torn; /* mm along each side of the chart's first corner */
    float *value;
} sheet;

/* Chart mm to cells. */
static void place(const sheet *s, double x, double y, double out[2]) {
    double a = s->angle * 3.14159265358979323846 / 180;
    double u = x - s->target.columns * 5, v = y - s->target.rows * 5;
    double far = v / (s->target.rows * 5);
    u += s->bend * far * far * (0.8 + 0.004 * u);
    v += 0.5 * s->bend * (u / 60) * (u / 60);
    if (s->mirrored)
        u = -u;
    out[0] = WIDE / 2.0 + CELLS_MM * (u * cos(a) - v * sin(a));
    out[1] = HIGH / 2.0 + CELLS_MM * (u * sin(a) + v * cos(a));
}

/* Lightest where ink stopped the light; edges half a cell soft. */
static void disc(sheet *s, double x, double y, double radius, float light) {
    double at[2];
    place(s, x, y, at);
    double r = radius * CELLS_MM;
    for (int j = (int)(at[1] - r - 2); j <= (int)(at[1] + r + 2); j++)
        for (int i = (int)(at[0] - r - 2); i <= (int)(at[0] + r + 2); i++) {
            double off = hypot(i + 0.5 - at[0], j + 0.5 - at[1]);
            double cover = fmin(fmax(r - off + 0.5, 0), 1);
            if (i >= 0 && j >= 0 && i < WIDE && j < HIGH)
                s->value[j * WIDE + i] += (float)cover * (light - s->value[j * WIDE + i]);
        }
}

static void draw(sheet *s) {
    uint64_t random = 4;
    s->value = calloc((size_t)WIDE * HIGH, sizeof *s->value);
    assert_non_null(s->value);
    for (int i = 0; i < WIDE * HIGH; i++) /* uneven ground, and grain */
        s->value[i] =
            25 + 12.0f * (float)(i % WIDE) / WIDE + (float)(mil_target_random(&random) % 200) / 100;
    for (int row = 0; row <= s->target.rows; row++)
        for (int column = 0; column <= s->target.columns; column++) {
            if (column * 10 + row * 10 < s->torn)
                continue;
            disc(s, column * 10, row * 10, MIL_TARGET_BEAD / 2, 85);
            if (mil_target_pierced(&s->target, column, row))
                disc(s, column * 10, row * 10, MIL_TARGET_HOLE / 2, 32);
        }
    for (int row = 0; row < s->target.rows; row++) /* patches: discs of many tones */
        for (int column = 0; column < s->target.columns; column++)
            if (column * 10 + row * 10 >= s->torn)
                disc(s, column * 10 + 5, row * 10 + 5, 3,
                     (float)(30 + 55 * mil_target_cell_at(&s->target, column, row).ink));
}

static void find(sheet *s, mil_bead **bead, size_t *count, mil_target *target, bool *mirrored) {
    mil_look look = {.nx = WIDE, .ny = HIGH, .mm = 1 / CELLS_MM, .value = s->value};
    mil_blob *blob = NULL;
    size_t blobs = 0;
    double pitch = MIL_TARGET_PITCH * CELLS_MM;
    assert_int_equal(mil_target_blobs(ctx, &look, pitch, &blob, &blobs), MILORI_OK);
    assert_int_equal(mil_target_lattice(ctx, blob, blobs, pitch, bead, count), MILORI_OK);
    free(blob);
    mil_target_look_in(&look, pitch, *bead, *count);
    assert_true(mil_target_decode(*bead, *count, target, mirrored));
}

static void check(sheet s, size_t least) {
    mil_bead *bead = NULL;
    size_t count = 0;
    mil_target target;
    bool mirrored;
    mil_warp warp;
    draw(&s);
    find(&s, &bead, &count, &target, &mirrored);
    assert_int_equal(mirrored, s.mirrored);
    assert_memory_equal(&target.ink, &s.target.ink, sizeof target.ink);
    assert_int_equal(target.columns, s.target.columns);
    assert_int_equal(target.rows, s.target.rows);
    assert_true(count >= least);
    for (size_t i = 0; i < count; i++) {
        double at[2];
        place(&s, bead[i].column * 10, bead[i].row * 10, at);
        assert_true(hypot(at[0] - bead[i].x, at[1] - bead[i].y) < 0.5);
    }
    assert_int_equal(mil_warp_fit(ctx, bead, &count, &warp), MILORI_OK);
    for (int row = 0; row < target.rows; row++)
        for (int column = 0; column < target.columns; column++) {
            double at[2], found[2];
            if (column * 10 + row * 10 < s.torn)
                continue;
            place(&s, column * 10 + 5, row * 10 + 5, at);
            mil_warp_at(&warp, column * 10 + 5, row * 10 + 5, found);
            assert_true(hypot(at[0] - found[0], at[1] - found[1]) < 0.45); /* 0.15 mm */
        }
    mil_warp_free(&warp);
    free(bead);
    free(s.value);
}

static const mil_target CHART = {
    .kind = MIL_TARGET_TONE, .columns = 10, .rows = 12, .levels = 15, .seed = 1, .ink = {3, 9, 15}};

static void straight(void **state) {
    (void)state;
    check((sheet){.target = CHART}, 140);
}

static void every_turn_and_tilt(void **state) {
    (void)state;
    static const double tilts[] = {-20, -11, 7, 20};
    for (int turn = 0; turn < 360; turn += 90)
        for (size_t i = 0; i < 4; i++)
            check((sheet){.target = CHART, .angle = turn + tilts[i], .mirrored = i == 2}, 130);
}

static void bent_and_torn(void **state) {
    (void)state;
    check((sheet){.target = CHART, .angle = 6, .bend = 4}, 138);
    check((sheet){.target = CHART, .angle = -15, .bend = 3, .torn = 55}, 110);
}

/* A bead that a speck has pulled aside does not bend the sheet. */
static void a_bead_out_of_place_is_dropped(void **state) {
    (void)state;
    mil_bead bead[100];
    size_t count = 0;
    for (int row = 0; row < 10; row++)
        for (int column = 0; column < 10; column++)
            bead[count++] =
                (mil_bead){.column = column, .row = row, .x = 30 * column + 5, .y = 30 * row + 9};
    bead[44].x += 6;
    mil_warp warp;
    assert_int_equal(mil_warp_fit(ctx, bead, &count, &warp), MILORI_OK);
    assert_int_equal(count, 99);
    double at[2];
    mil_warp_at(&warp, 40, 40, at);
    assert_true(hypot(at[0] - 125, at[1] - 129) < 0.05);
    mil_warp_free(&warp);
}

static void spots_in_no_order_are_no_lattice(void **state) {
    (void)state;
    mil_blob blob[150];
    mil_bead *bead = NULL;
    size_t count = 0;
    uint64_t random = 9;
    for (size_t i = 0; i < 150; i++)
        blob[i] = (mil_blob){.x = (double)(mil_target_random(&random) % 500),
                             .y = (double)(mil_target_random(&random) % 500),
                             .across = 9};
    assert_int_equal(mil_target_lattice(ctx, blob, 150, 30, &bead, &count), MILORI_OK);
    mil_target target;
    bool mirrored;
    assert_false(count && mil_target_decode(bead, count, &target, &mirrored));
    free(bead);
    assert_int_equal(mil_target_lattice(ctx, blob, 0, 30, &bead, &count), MILORI_OK);
    assert_int_equal(count, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(straight), cmocka_unit_test(every_turn_and_tilt),
        cmocka_unit_test(bent_and_torn), cmocka_unit_test(a_bead_out_of_place_is_dropped),
        cmocka_unit_test(spots_in_no_order_are_no_lattice)};
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
