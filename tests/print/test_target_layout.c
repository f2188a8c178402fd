/* What a chart holds, and the film that is written. Computed: counts from the film's
 * size; the film read back by milori's own source and, in test_target.py, by others. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "print/target_parts.h"
#include "scan/source.h"
#include "temp_folder.h"

static milori_context *ctx;

static int set_up(void **state) {
    ctx = milori_context_new();
    return make_folder(state);
}

static int tear_down(void **state) {
    milori_context_free(ctx);
    return remove_folder(state);
}

static mil_target planned(mil_target_kind kind, double width, double height, double noise) {
    mil_target_wish wish = {.kind = kind,
                            .film_mm = {width, height},
                            .half_stops = 1,
                            .seed = 3,
                            .noise = noise,
                            .ink = {0, 12, 6}};
    mil_target target;
    assert_int_equal(mil_target_plan(ctx, &wish, &target), MILORI_OK);
    return target;
}

/* ISO 216: A5 is 148 x 210 mm. Cells of 10 mm leave 11 mm beside and 17 above. */
static void sizes_follow_the_film(void **state) {
    (void)state;
    mil_target a5 = planned(MIL_TARGET_TONE, 148, 210, 1),
               a4 = planned(MIL_TARGET_TONE, 210, 297, 1);
    assert_int_equal(a5.columns, 12);
    assert_int_equal(a5.rows, 17);
    assert_int_equal(a4.columns, 18);
    assert_int_equal(a4.rows, 26);
    mil_target_wish small = {.kind = MIL_TARGET_TONE, .film_mm = {80, 210}, .noise = 1};
    assert_int_equal(mil_target_plan(ctx, &small, &a5), MILORI_ERR_ARGUMENT);
    assert_non_null(strstr(milori_message(ctx), "too small"));
    milori_clear(ctx);
}

/* Noisier processes get more repeats of fewer levels. */
static void repeats_follow_the_noise(void **state) {
    (void)state;
    mil_target quiet = planned(MIL_TARGET_TONE, 210, 297, 0.5);
    mil_target noisy = planned(MIL_TARGET_TONE, 210, 297, 1.5);
    assert_true(mil_target_groups(&quiet) >= 4);
    assert_true(mil_target_groups(&noisy) > mil_target_groups(&quiet));
    assert_true(noisy.levels < quiet.levels && noisy.levels >= 9);
}

/* Every repeat holds every level once, in an order of its own and of the seed. */
static void repeats_are_whole_and_shuffled(void **state) {
    (void)state;
    mil_target t = planned(MIL_TARGET_TONE, 148, 210, 1);
    int seen[64][64] = {{0}}, same = 0, first[64];
    for (int i = 0; i < t.columns * t.rows; i++) {
        mil_target_cell c = mil_target_cell_at(&t, i % t.columns, i / t.columns);
        int level = (int)floor(c.ink * (t.levels - 1) + 0.5);
        assert_true(c.patch && level >= 0 && level < t.levels);
        assert_true(fabs(c.ink - (double)level / (t.levels - 1)) < 1e-12);
        assert_int_equal(seen[c.group][level]++, 0);
        if (c.group == 0)
            first[i] = level;
        else if (c.group == 1)
            same += first[i - t.levels] == level;
    }
    for (int level = 0; level < t.levels; level++)
        assert_int_equal(seen[0][level], 1);
    assert_true(same < t.levels / 3);
    mil_target other = t;
    other.seed = 4;
    same = 0;
    for (int i = 0; i < t.columns; i++)
        same += mil_target_cell_at(&t, i, 0).ink == mil_target_cell_at(&other, i, 0).ink;
    assert_true(same < t.columns / 2);
}

static void ramps_run_from_clear_to_full(void **state) {
    (void)state;
    mil_target t = planned(MIL_TARGET_INK, 148, 210, 1);
    assert_int_equal(mil_target_groups(&t), 13);
    assert_int_equal(t.rows % 13, 0);
    double rgb[3];
    mil_target_group_rgb(&t, 0, rgb);
    assert_true(rgb[0] == 0 && rgb[1] == 0 && rgb[2] == 0);
    for (int row = 0; row < t.rows; row++) {
        assert_true(mil_target_cell_at(&t, 0, row).ink == 0);
        assert_true(mil_target_cell_at(&t, t.columns - 1, row).ink == 1);
    }
    mil_target small = planned(MIL_TARGET_INK, 101.6, 127, 1);
    assert_int_equal(mil_target_groups(&small), 7);
}

static void strips_cover_all_rows(void **state) {
    (void)state;
    mil_target t = planned(MIL_TARGET_TIME, 148, 210, 1);
    int before = 0;
    for (int row = 0; row < t.rows; row++) {
        mil_target_cell c = mil_target_cell_at(&t, 3, row);
        assert_true(c.patch && c.ink == 0 && c.group >= before && c.group <= before + 1);
        before = c.group;
        assert_true(mil_target_cell_at(&t, 0, row).side);
        assert_false(mil_target_cell_at(&t, t.columns - 1, row).patch);
    }
    assert_int_equal(before, t.levels - 1);
}

/* The code at a place of the chart, read from the mirrored film. */
static const uint16_t *code_at(const uint16_t *film, const mil_source_info *info,
                               const double origin[2], double dpi, double x, double y) {
    uint32_t column = (uint32_t)((origin[0] + x) / 25.4 * dpi);
    uint32_t row = (uint32_t)((origin[1] + y) / 25.4 * dpi);
    return film + ((size_t)row * info->width + (info->width - 1 - column)) * 3;
}

static void the_film_is_true_and_mirrored(void **state) {
    (void)state;
    const double dpi = 254;
    mil_target t = planned(MIL_TARGET_TONE, 148, 210, 1);
    mil_target_film film = {
        .film_mm = {148, 210}, .dpi = dpi, .film_name = "a5", .format = MILORI_PNG};
    char path[128];
    snprintf(path, sizeof path, "%s/film.png", folder);
    assert_int_equal(mil_target_write(ctx, &t, &film, path), MILORI_OK);
    milori_notes notes = {0};
    mil_source *source = NULL;
    assert_int_equal(mil_source_open(ctx, path, &notes, &source), MILORI_OK);
    const mil_source_info *info = mil_source_info_of(source);
    assert_int_equal(info->width, 1480);
    assert_int_equal(info->height, 2100);
    assert_true(fabs(info->dpi[0] - dpi) < 0.01); /* PNG holds whole px a metre */
    assert_int_equal(info->space, MIL_SPACE_NONE);
    uint16_t *codes = malloc((size_t)info->width * info->height * 6);
    assert_int_equal(mil_source_read(source, info->height, codes), MILORI_OK);
    double origin[2];
    mil_target_origin(&t, film.film_mm, origin);
    for (int row = 0; row < t.rows; row++)
        for (int column = 0; column < t.columns; column++) {
            double ink = mil_target_cell_at(&t, column, row).ink;
            const uint16_t *code = code_at(codes, info, origin, dpi, column * 10 + 5, row * 10 + 5);
            for (int c = 0; c < 3; c++) {
                double wanted = 65535 * (1 - ink * (1 - t.ink[c] / 15.0));
                assert_true(fabs(code[c] - wanted) <= 0.5 + 1e-6);
            }
            const uint16_t *bead = code_at(codes, info, origin, dpi, column * 10, row * 10);
            assert_int_equal(bead[0] > 60000, mil_target_pierced(&t, column, row));
        }
    free(codes);
    mil_source_close(source);
    mil_notes_free(&notes);
    assert_int_equal(mil_target_write(ctx, &t, &film, path), MILORI_ERR_EXISTS);
    milori_clear(ctx);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(sizes_follow_the_film),
                                       cmocka_unit_test(repeats_follow_the_noise),
                                       cmocka_unit_test(repeats_are_whole_and_shuffled),
                                       cmocka_unit_test(ramps_run_from_clear_to_full),
                                       cmocka_unit_test(strips_cover_all_rows),
                                       cmocka_unit_test(the_film_is_true_and_mirrored)};
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
