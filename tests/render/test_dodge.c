/* Dodging and burning in: exact stops, in the place where the finished picture is painted on. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "render_help.h"

static double even(double x, double y) {
    (void)x;
    (void)y;
    return 0.2;
}

enum { MASK_W = 40, MASK_H = 30 };

/* White in the mask's top right quarter, black in its bottom left one, mid grey elsewhere. */
static void paint_mask(bed *b, int bits, int channels) {
    static uint16_t wide[MASK_W * MASK_H * 3];
    static uint8_t narrow[MASK_W * MASK_H * 3];
    for (int i = 0; i < MASK_W * MASK_H * channels; i++) {
        int x = i / channels % MASK_W, y = i / channels / MASK_W;
        int side = x >= MASK_W / 2 && y < MASK_H / 2   ? 1
                   : x < MASK_W / 2 && y >= MASK_H / 2 ? -1
                                                       : 0;
        wide[i] = side > 0 ? 65535 : side < 0 ? 0 : 32768;
        narrow[i] = side > 0 ? 255 : side < 0 ? 0 : 128;
    }
    mil_source_close(store(b->ctx, "mask.tif", MASK_W, MASK_H, channels, bits,
                           bits == 8 ? (const void *)narrow : wide));
}

/* The code at a place of the finished picture, in shares of its sides. */
static uint16_t code_at(const kept *k, double x, double y) {
    return k->code[(uint32_t)(y * k->height) * k->width + (uint32_t)(x * k->width)];
}

static uint16_t code_with(const mil_plan *plan, double stops) {
    float amount = (float)even(0, 0), s = (float)stops;
    uint16_t place;
    mil_tones_row(&plan->tones, &amount, &s, 1, &place);
    return plan->codes[(size_t)place * (size_t)plan->channels];
}

static void near(const kept *k, double x, double y, uint16_t want) {
    /* One step of the code by which the painted amount was rounded. */
    assert_in_range(code_at(k, x, y), want - 12, want + 12);
}

static void look_at(bed *b, const milori_choices *choices, double stops) {
    mil_plan *plan = bed_plan(b, choices);
    kept k = bed_render(b, plan, NULL, 1);
    near(&k, 0.75, 0.25, code_with(plan, stops));
    near(&k, 0.25, 0.75, code_with(plan, -stops));
    near(&k, 0.25, 0.25, code_with(plan, 0));
    near(&k, 0.75, 0.75, code_with(plan, 0));
    assert_true(code_at(&k, 0.75, 0.25) > code_at(&k, 0.25, 0.25) + 2000);
    assert_true(code_at(&k, 0.25, 0.75) + 2000 < code_at(&k, 0.25, 0.25));
    /* The tone itself agrees: stops are factors of the light. */
    double place = mil_tone_place(&plan->tone, mil_tone_light(&plan->tone, 0.2) + stops);
    size_t at = (size_t)lround(place * 65535) * (size_t)plan->channels;
    near(&k, 0.75, 0.25, plan->codes[at]);
    free(k.code);
    mil_plan_free(plan);
}

static milori_choices masked(double stops) {
    milori_choices choices;
    milori_choices_default(&choices);
    snprintf(choices.dodge, sizeof choices.dodge, "%s/mask.tif", folder);
    choices.dodge_stops = stops;
    return choices;
}

static void stops_in_their_place(void **state) {
    (void)state;
    bed b;
    bed_make(&b, 160, 130, (mil_rect){80, 65, 120, 90, 0.02}, even);
    const int kinds[][2] = {{8, 1}, {16, 1}, {8, 3}, {16, 3}};
    for (int i = 0; i < 4; i++) {
        paint_mask(&b, kinds[i][0], kinds[i][1]);
        milori_choices choices = masked(i % 2 ? 1.5 : 0.7);
        look_at(&b, &choices, choices.dodge_stops);
    }
    bed_free(&b);
}

/* Painted on the finished picture, so it stays there whatever the turn. */
static void turned_with_the_picture(void **state) {
    (void)state;
    bed b;
    bed_make(&b, 160, 130, (mil_rect){80, 65, 120, 90, 0}, even);
    paint_mask(&b, 16, 1);
    for (int orientation = 1; orientation <= 8; orientation += 1)
        for (int turn = 0; turn < 360; turn += 90) {
            milori_choices choices = masked(1);
            choices.turn = turn;
            b.measured.grid.orientation = orientation;
            look_at(&b, &choices, 1);
        }
    bed_free(&b);
}

/* Of a whole sheet the mask still covers the frame, and nothing beside it. */
static void on_the_frame_of_a_whole_sheet(void **state) {
    (void)state;
    bed b;
    bed_make(&b, 240, 200, (mil_rect){120, 100, 100, 80, 0}, even);
    paint_mask(&b, 16, 1);
    b.found.outline = (mil_rect){120, 100, 200, 160, 0};
    milori_choices choices = masked(1);
    choices.as_scanned = true;
    choices.whole_sheet = true;
    mil_plan *plan = bed_plan(&b, &choices);
    kept k = bed_render(&b, plan, NULL, 1);
    assert_int_equal(k.width, 200);
    near(&k, 0.625, 0.375, code_with(plan, 1));
    near(&k, 0.375, 0.625, code_with(plan, -1));
    near(&k, 0.375, 0.375, code_with(plan, 0));
    near(&k, 0.95, 0.05, code_with(plan, 0));
    near(&k, 0.78, 0.375, code_with(plan, 0));
    free(k.code);
    mil_plan_free(plan);
    bed_free(&b);
}

/* Larger than is kept: averaged on reading. */
static void large_masks_are_averaged(void **state) {
    (void)state;
    enum { W = 5000, H = 3 };
    static uint16_t codes[W * H];
    for (int i = 0; i < W * H; i++)
        codes[i] = (i / W + i % W) % 2 ? 65535 : 0;
    bed b;
    bed_make(&b, 64, 64, (mil_rect){32, 32, 40, 40, 0}, even);
    mil_source_close(store(b.ctx, "mask.tif", W, H, 1, 16, codes));
    milori_choices choices = masked(1);
    mil_plan *plan = bed_plan(&b, &choices);
    assert_int_equal(plan->dodge.width, (W + 2) / 3);
    assert_int_equal(plan->dodge.height, 1);
    for (uint32_t i = 0; i < plan->dodge.width; i++)
        assert_true(fabsf(plan->dodge.stops[i]) < 0.12);
    mil_plan_free(plan);
    bed_free(&b);
}

static void a_missing_mask_is_named(void **state) {
    (void)state;
    bed b;
    bed_make(&b, 64, 64, (mil_rect){32, 32, 40, 40, 0}, even);
    milori_choices choices;
    milori_choices_default(&choices);
    snprintf(choices.dodge, sizeof choices.dodge, "%s/no mask.tif", folder);
    mil_plan *plan = NULL;
    assert_int_equal(mil_plan_new(b.ctx, &b.measured, 0, &choices, &plan), MILORI_ERR_OPEN);
    assert_non_null(strstr(milori_message(b.ctx), "no mask.tif"));
    bed_free(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stops_in_their_place), cmocka_unit_test(turned_with_the_picture),
        cmocka_unit_test(on_the_frame_of_a_whole_sheet), cmocka_unit_test(large_masks_are_averaged),
        cmocka_unit_test(a_missing_mask_is_named)};
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
