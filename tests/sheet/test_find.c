/* Sheets and frames on drawn beds. The figures asserted are milori's goals (issue "Truth":
 * corners within 0.3 mm, tilt within 0.1 degree); there is no outside source. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>

#include "sheet/drawn_bed.h"

typedef struct outcome {
    milori_context *ctx;
    mil_grid grid;
    milori_choices choices;
    mil_found *found;
    int count;
    milori_status status;
} outcome;

static void look(const drawn_bed *bed, outcome *o) {
    o->ctx = milori_context_new();
    drawn_grid(bed, &o->grid);
    o->status = mil_find(o->ctx, "plot.tif", &o->grid, &o->choices, &o->found, &o->count);
}

static void finish(outcome *o) {
    mil_found_free(o->found, o->count);
    mil_grid_free(&o->grid);
    milori_context_free(o->ctx);
}

static outcome plain(void) {
    outcome o = {.choices = {.frame_mm = {NAN, NAN}}};
    return o;
}

/* Greatest distance in mm between the corners of a rectangle in px and one in mm. */
static double corners_off(const outcome *o, const mil_rect *px, const mil_rect *mm) {
    double a[4][2], b[4][2], most = 0;
    mil_rect_corners(px, a);
    mil_rect_corners(mm, b);
    mil_corners_sort(a);
    mil_corners_sort(b);
    for (int k = 0; k < 4; k++)
        most =
            fmax(most, hypot(a[k][0] * o->grid.mm_px - b[k][0], a[k][1] * o->grid.mm_px - b[k][1]));
    return most;
}

static bool doubted(const mil_found *f) {
    for (size_t k = 0; k < f->notes.count; k++)
        if (!strncmp(f->notes.note[k].code, "frame", 5))
            return true;
    return false;
}

static void assert_found(const outcome *o, int k, const drawn_sheet *s) {
    const mil_found *f = &o->found[k];
    assert_true(corners_off(o, &f->frame, &s->frame) < 0.12);
    assert_true(fabs(f->frame.angle - s->frame.angle) * 57.3 < 0.1);
    assert_true(corners_off(o, &f->outline, &s->outline) < 0.4);
    assert_int_equal(f->frame_origin, MILORI_FOUND);
    assert_int_equal(f->shape, s->round ? MILORI_ROUND : MILORI_RECTANGLE);
    assert_false(doubted(f));
    assert_true(f->margin_known);
    assert_true(f->corner_sigma_px > 0 && f->corner_sigma_px * o->grid.mm_px < 0.15);
}

static void one(drawn_bed bed) {
    outcome o = plain();
    bed.count = 1;
    look(&bed, &o);
    assert_int_equal(o.status, MILORI_OK);
    assert_int_equal(o.count, 1);
    assert_found(&o, 0, &bed.sheet[0]);
    finish(&o);
}

static drawn_bed bed_of(drawn_sheet s) {
    return (drawn_bed){.wide = s.outline.cx * 2,
                       .tall = s.outline.cy * 2,
                       .channels = 3,
                       .orientation = 1,
                       .seed = 5,
                       .count = 1,
                       .sheet = {s}};
}

static void tilts_are_found(void **state) {
    (void)state;
    const double tilt[] = {-7.5, 0.4, 8};
    for (size_t k = 0; k < sizeof tilt / sizeof *tilt; k++) {
        drawn_bed bed = bed_of(drawn_sheet_at(52, 50, 56, 56, tilt[k]));
        bed.seed = 10 + (uint32_t)k;
        one(bed);
    }
}

/* A picture that changes near a side and askew to it must not turn the frame: the smallest frames,
 * half the goal. */
static void tilts_of_small_frames_are_found(void **state) {
    (void)state;
    const double tilt[] = {-5, 0.05, 1.7};
    for (size_t k = 0; k < sizeof tilt / sizeof *tilt; k++) {
        drawn_bed bed = bed_of(drawn_sheet_at(33, 35, 24, 36, tilt[k]));
        outcome o = plain();
        bed.seed = 40 + (uint32_t)k;
        bed.sheet[0].beam = true;
        bed.sheet[0].strength = 0.12;
        look(&bed, &o);
        assert_int_equal(o.count, 1);
        assert_true(fabs(o.found[0].frame.angle - bed.sheet[0].frame.angle) * 57.3 < 0.05);
        assert_true(o.found[0].angle_sigma > 0 && o.found[0].angle_sigma * 57.3 < 0.1);
        assert_true(corners_off(&o, &o.found[0].frame, &bed.sheet[0].frame) < 0.12);
        finish(&o);
    }
}

static void lids_rims_fog_and_faint_sheets(void **state) {
    (void)state;
    drawn_bed bed = bed_of(drawn_sheet_at(50, 42, 56, 41.5, 1.2));
    bed.black = true;
    one(bed);
    bed.black = false;
    bed.sheet[0].bare = 2;
    one(bed);
    bed.sheet[0].bare = 0;
    bed.sheet[0].fog = 0.3;
    one(bed);
    bed.sheet[0].fog = 0.02;
    bed.sheet[0].strength = 0.04;
    one(bed);
}

static void grey_scans(void **state) {
    (void)state;
    drawn_bed bed = bed_of(drawn_sheet_at(50, 42, 56, 41.5, -1.2));
    outcome o = plain();
    bed.channels = 1;
    look(&bed, &o);
    assert_int_equal(o.count, 1);
    assert_true(corners_off(&o, &o.found[0].frame, &bed.sheet[0].frame) < 0.2);
    finish(&o);
}

static void round_frames(void **state) {
    (void)state;
    drawn_bed bed = bed_of(drawn_sheet_at(50, 50, 60, 60, 0));
    outcome o = plain();
    bed.sheet[0].round = true;
    bed.sheet[0].frame.angle = 0;
    one(bed);
    o.choices.shape = MILORI_RECTANGLE;
    look(&bed, &o);
    assert_int_equal(o.found[0].shape, MILORI_RECTANGLE);
    finish(&o);
}

/* Three sheets 3 mm apart, in rows, and the same bed under another orientation. */
static void neighbours_stay_apart(void **state) {
    (void)state;
    drawn_bed bed = {
        .wide = 118, .tall = 110, .channels = 3, .orientation = 1, .seed = 3, .count = 3};
    bed.sheet[0] = drawn_sheet_at(31, 27, 36, 24, 0.6);
    bed.sheet[1] = drawn_sheet_at(80.5, 29, 24, 36, -0.5);
    bed.sheet[2] = drawn_sheet_at(33, 72, 36, 24, -1);
    bed.sheet[1].outline.cx = bed.sheet[0].outline.cx + (51 + 39) / 2.0 + 3.6;
    bed.sheet[1].frame.cx = bed.sheet[1].outline.cx + 0.9;
    outcome o = plain();
    look(&bed, &o);
    assert_int_equal(o.count, 3);
    for (int k = 0; k < 3; k++)
        assert_found(&o, k, &bed.sheet[k]);
    finish(&o);
    /* Upside down the last comes first. */
    o = plain();
    bed.orientation = 3;
    look(&bed, &o);
    assert_int_equal(o.count, 3);
    assert_found(&o, 0, &bed.sheet[2]);
    assert_found(&o, 1, &bed.sheet[1]);
    assert_found(&o, 2, &bed.sheet[0]);
    finish(&o);
}

/* Sheets of different size and tilt: 2 mm apart at the nearest, and two corners that touch. */
static void crowded_beds_are_parted(void **state) {
    (void)state;
    for (int black = 0; black < 2; black++) {
        drawn_bed bed = {.wide = 164,
                         .tall = 136,
                         .channels = 3,
                         .orientation = 1,
                         .black = black,
                         .seed = 8 + (uint32_t)black,
                         .count = 4};
        bed.sheet[0] = drawn_sheet_at(47, 34, 56, 41.5, 2.5);
        bed.sheet[1] = drawn_sheet_at(112, 31, 36, 24, -3);
        bed.sheet[2] = drawn_sheet_at(35, 91, 24, 36, 8);
        bed.sheet[3] = drawn_sheet_at(121, 91, 56, 56, -1.5);
        double a[4][2], b[4][2];
        mil_rect_corners(&bed.sheet[2].outline, a);
        mil_rect_corners(&bed.sheet[0].outline, b);
        /* The third's top left corner touches the first's bottom left one. */
        double dx = b[3][0] - a[0][0], dy = b[3][1] - a[0][1];
        bed.sheet[2].outline.cx += dx;
        bed.sheet[2].frame.cx += dx;
        bed.sheet[2].outline.cy += dy;
        bed.sheet[2].frame.cy += dy;
        outcome o = plain();
        look(&bed, &o);
        assert_int_equal(o.count, 4);
        for (int k = 0; k < 4; k++) {
            int nearest = 0;
            for (int i = 1; i < 4; i++)
                if (corners_off(&o, &o.found[i].frame, &bed.sheet[k].frame) <
                    corners_off(&o, &o.found[nearest].frame, &bed.sheet[k].frame))
                    nearest = i;
            assert_found(&o, nearest, &bed.sheet[k]);
        }
        finish(&o);
    }
}

static const char *note(const mil_found *f, const char *code) {
    for (size_t k = 0; k < f->notes.count; k++)
        if (!strcmp(f->notes.note[k].code, code))
            return f->notes.note[k].text;
    return NULL;
}

/* One side got no light: a known size fills it in, and it is said by its name upright. */
static void a_side_that_does_not_show_is_said(void **state) {
    (void)state;
    const char *word[4][2] = {
        {"the top side", "the right side"},
        {"the right side", "the bottom side"},
        {"the bottom side", "the left side"},
        {"the left side", "the top side"},
    };
    for (int side = 0; side < 4; side++) {
        int turned = side % 2;
        drawn_bed bed = bed_of(drawn_sheet_at(52, 50, 56, 56, 0.8));
        outcome o = plain();
        bed.orientation = turned ? 6 : 1;
        bed.sheet[0].dark_side = side;
        look(&bed, &o);
        const mil_found *f = &o.found[0];
        assert_true(corners_off(&o, &f->frame, &bed.sheet[0].frame) < 0.4);
        assert_int_equal(f->frame_origin, MILORI_ASSUMED);
        for (int k = 0; k < 4; k++)
            assert_int_equal(f->side_found[k], k != side);
        assert_non_null(note(f, "frame-side"));
        assert_non_null(strstr(note(f, "frame-side"), word[side][turned]));
        finish(&o);
    }
}

/* A level horizon over dark ground leaves 56 x 62 mm, which no camera has; 56 x 70 is 6x7. */
static void a_known_size_wins_over_a_horizon(void **state) {
    (void)state;
    for (int side = 0; side < 3; side += 2) {
        drawn_bed bed = bed_of(drawn_sheet_at(52, 58, 56, 70, -0.6));
        bed.sheet[0].dark_side = side;
        bed.sheet[0].dark_from = 0.77;
        bed.sheet[0].dark_wave = 0.002;
        outcome o = plain();
        look(&bed, &o);
        const mil_found *f = &o.found[0];
        assert_true(corners_off(&o, &f->frame, &bed.sheet[0].frame) < 0.3);
        assert_string_equal(f->frame_name, "6x7");
        assert_int_equal(f->frame_origin, MILORI_ASSUMED);
        for (int k = 0; k < 4; k++)
            assert_int_equal(f->side_found[k], k != side);
        assert_non_null(note(f, "frame-side"));
        finish(&o);
    }
}

/* A frame of no known size whose four sides show is taken as it is. */
static void a_frame_of_its_own_size_is_kept(void **state) {
    (void)state;
    one(bed_of(drawn_sheet_at(52, 58, 56, 62, 0.4)));
}

static void nothing_on_the_sheet_is_said(void **state) {
    (void)state;
    drawn_bed bed = bed_of(drawn_sheet_at(52, 50, 56, 56, 0.8));
    bed.sheet[0].strength = 0;
    outcome o = plain();
    look(&bed, &o);
    assert_int_equal(o.count, 1);
    assert_int_equal(o.found[0].frame_origin, MILORI_ASSUMED);
    assert_non_null(note(&o.found[0], "frame-missing"));
    finish(&o);
    o = plain();
    o.choices.frame_mm[0] = 60;
    o.choices.frame_mm[1] = 45;
    look(&bed, &o);
    assert_true(fabs(fmax(o.found[0].frame.w, o.found[0].frame.h) * o.grid.mm_px - 60) < 1e-6);
    assert_non_null(note(&o.found[0], "frame-missing"));
    finish(&o);
}

static void an_empty_bed_is_refused(void **state) {
    (void)state;
    drawn_bed bed = {.wide = 60, .tall = 60, .channels = 3, .orientation = 1, .seed = 2};
    outcome o = plain();
    look(&bed, &o);
    assert_int_equal(o.status, MILORI_ERR_SHEET);
    assert_non_null(strstr(milori_message(o.ctx), "plot.tif"));
    finish(&o);
}

/* A scan cropped to the sheet has no bed: its whole is the sheet, and that is said. */
static void a_cropped_scan_is_one_sheet(void **state) {
    (void)state;
    drawn_bed bed = bed_of(drawn_sheet_at(36, 36, 56, 56, 0));
    bed.sheet[0].outline.w = bed.sheet[0].outline.h = 90;
    bed.sheet[0].fog = 0;
    outcome o = plain();
    look(&bed, &o);
    assert_int_equal(o.count, 1);
    assert_int_equal(o.found[0].outline_origin, MILORI_ASSUMED);
    assert_non_null(note(&o.found[0], "outline"));
    assert_true(corners_off(&o, &o.found[0].frame, &bed.sheet[0].frame) < 0.12);
    finish(&o);
}

/* Corners are upright px and belong to the sheet that holds their middle. */
static void corners_given_are_taken(void **state) {
    (void)state;
    for (int orientation = 1; orientation <= 8; orientation++) {
        drawn_bed bed = bed_of(drawn_sheet_at(32, 28, 36, 24, 0.6));
        const mil_rect want = {30, 29, 33, 21, 0.02};
        bed.orientation = orientation;
        outcome o = plain();
        double corner[4][2], px = 25.4 / 300;
        mil_rect_corners(&want, corner);
        o.choices.corners_given = true;
        for (int k = 0; k < 4; k++)
            mil_orient(orientation, floor(bed.wide / px), floor(bed.tall / px), corner[k][0] / px,
                       corner[k][1] / px, &o.choices.corners_px[k][0], &o.choices.corners_px[k][1]);
        look(&bed, &o);
        assert_int_equal(o.status, MILORI_OK);
        assert_int_equal(o.found[0].frame_origin, MILORI_GIVEN);
        assert_true(corners_off(&o, &o.found[0].frame, &want) < 1e-6);
        finish(&o);
    }
}

static void corners_beside_any_sheet_are_refused(void **state) {
    (void)state;
    drawn_bed bed = bed_of(drawn_sheet_at(32, 28, 36, 24, 0.6));
    outcome o = plain();
    o.choices.corners_given = true;
    o.choices.corners_px[1][0] = o.choices.corners_px[2][0] = 4;
    o.choices.corners_px[2][1] = o.choices.corners_px[3][1] = 4;
    look(&bed, &o);
    assert_int_equal(o.status, MILORI_ERR_ARGUMENT);
    assert_null(o.found);
    finish(&o);
}

static void corners_round_next_to_nothing_are_refused(void **state) {
    (void)state;
    drawn_bed bed = bed_of(drawn_sheet_at(32, 28, 36, 24, 0.6));
    const double px = 25.4 / 300;
    for (int good = 0; good < 2; good++) { /* 4.9 and 5.1 mm square: 24 and 26 mm2 */
        outcome o = plain();
        double side = good ? 5.1 : 4.9;
        o.choices.corners_given = true;
        for (int k = 0; k < 4; k++) {
            o.choices.corners_px[k][0] = (28 + (k == 1 || k == 2 ? side : 0)) / px;
            o.choices.corners_px[k][1] = (26 + (k > 1 ? side : 0)) / px;
        }
        look(&bed, &o);
        assert_int_equal(o.status, good ? MILORI_OK : MILORI_ERR_ARGUMENT);
        if (!good)
            assert_non_null(strstr(milori_message(o.ctx), "enclose 24.0 mm2"));
        finish(&o);
    }
}

/* Upright px of a scan in every orientation; the frame is 36 x 24 about the sheet's middle. */
static void spots_outside_the_frame_are_refused(void **state) {
    (void)state;
    const struct {
        double x, y;
        bool good;
    } cases[] = {
        {32, 28, true}, {15, 28, true}, {12, 28, false}, {32, 41, false}, {900, 28, false}};
    const double px = 25.4 / 300;
    for (int orientation = 1; orientation <= 8; orientation += 5)
        for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
            drawn_bed bed = bed_of(drawn_sheet_at(32, 28, 36, 24, 0));
            bed.orientation = orientation;
            outcome o = plain();
            double(*spot)[2] = o.choices.spot_px;
            o.choices.spots = 2; /* the first is well inside */
            mil_orient(orientation, floor(bed.wide / px), floor(bed.tall / px), 30 / px, 30 / px,
                       &spot[0][0], &spot[0][1]);
            mil_orient(orientation, floor(bed.wide / px), floor(bed.tall / px), cases[i].x / px,
                       cases[i].y / px, &spot[1][0], &spot[1][1]);
            look(&bed, &o);
            assert_int_equal(o.status, cases[i].good ? MILORI_OK : MILORI_ERR_ARGUMENT);
            if (!cases[i].good)
                assert_non_null(strstr(milori_message(o.ctx), "is not in the frame"));
            finish(&o);
        }
}

/* Either way round, and as makers' frames vary (3 mm), it is the size named. */
static void a_size_that_is_not_seen_is_said(void **state) {
    (void)state;
    const struct {
        double w, h;
        bool seen;
    } cases[] = {{36, 24, true}, {24, 36, true}, {37, 25, true}, {56, 56, false}, {90, 60, false}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        drawn_bed bed = bed_of(drawn_sheet_at(32, 28, 36, 24, 0.6));
        outcome o = plain();
        o.choices.frame_mm[0] = cases[i].w;
        o.choices.frame_mm[1] = cases[i].h;
        look(&bed, &o);
        assert_int_equal(o.status, MILORI_OK);
        const char *said = note(&o.found[0], "frame-size");
        assert_int_equal(said == NULL, cases[i].seen);
        if (said) {
            double w, h, taken_w, taken_h;
            assert_int_equal(sscanf(said, "no frame of %lf x %lf mm is seen; %lf x %lf mm is taken",
                                    &w, &h, &taken_w, &taken_h),
                             4);
            assert_true(w == cases[i].w && h == cases[i].h);
            assert_true(fabs(taken_w - 36) < 0.25 && fabs(taken_h - 24) < 0.25);
            assert_true(corners_off(&o, &o.found[0].frame, &bed.sheet[0].frame) < 0.12);
        }
        finish(&o);
    }
}

static void parts_are_what_was_drawn(void **state) {
    (void)state;
    drawn_bed bed = bed_of(drawn_sheet_at(50, 50, 56, 56, 2));
    bed.sheet[0].bare = 2.5;
    outcome o = plain();
    look(&bed, &o);
    size_t cells = (size_t)o.grid.nx * (size_t)o.grid.ny;
    uint8_t *map = malloc(cells);
    assert_int_equal(mil_parts(o.ctx, &o.grid, &o.found[0], map), MILORI_OK);
    size_t count[5] = {0};
    for (size_t k = 0; k < cells; k++) {
        double side = o.grid.cell * o.grid.mm_px;
        double x = ((double)(k % (size_t)o.grid.nx) + 0.5) * side;
        double y = ((double)(k / (size_t)o.grid.nx) + 0.5) * side;
        double edge = drawn_inside(&bed.sheet[0].outline, x, y);
        double frame = drawn_inside(&bed.sheet[0].frame, x, y);
        count[map[k]]++;
        if (map[k] == MIL_BED)
            assert_true(edge < 0.3);
        else if (map[k] == MIL_BARE)
            assert_true(edge > 0.3 && edge < 2.5);
        else if (map[k] == MIL_MARGIN)
            assert_true(edge > 2.5 && frame < -0.4);
        else if (map[k] == MIL_FRAME)
            assert_true(frame > 0.4);
    }
    for (int part = 0; part < 5; part++)
        assert_true(count[part] > 500);
    free(map);
    finish(&o);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(tilts_are_found),
                                       cmocka_unit_test(tilts_of_small_frames_are_found),
                                       cmocka_unit_test(lids_rims_fog_and_faint_sheets),
                                       cmocka_unit_test(grey_scans),
                                       cmocka_unit_test(round_frames),
                                       cmocka_unit_test(neighbours_stay_apart),
                                       cmocka_unit_test(a_side_that_does_not_show_is_said),
                                       cmocka_unit_test(a_known_size_wins_over_a_horizon),
                                       cmocka_unit_test(a_frame_of_its_own_size_is_kept),
                                       cmocka_unit_test(crowded_beds_are_parted),
                                       cmocka_unit_test(nothing_on_the_sheet_is_said),
                                       cmocka_unit_test(an_empty_bed_is_refused),
                                       cmocka_unit_test(a_cropped_scan_is_one_sheet),
                                       cmocka_unit_test(corners_given_are_taken),
                                       cmocka_unit_test(corners_beside_any_sheet_are_refused),
                                       cmocka_unit_test(corners_round_next_to_nothing_are_refused),
                                       cmocka_unit_test(spots_outside_the_frame_are_refused),
                                       cmocka_unit_test(a_size_that_is_not_seen_is_said),
                                       cmocka_unit_test(parts_are_what_was_drawn)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
