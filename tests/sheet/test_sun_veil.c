/* What a margin cannot tell: the sun's track, a veil in the frame, and sheets that hold nothing.
 * Made of known amounts (coated_sheet.h); the figures are milori's own goals. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "sheet/coated_look.h"

/* Area of the frame's cells whose plane passes a half, as a share of all of them. */
static double share(const coated_look *k, const float *plane) {
    double n = 0, in = 0;
    for (size_t i = 0; i < k->cells; i++)
        if (k->part[i] == MIL_FRAME) {
            n++;
            in += plane[i] > 0.5;
        }
    return in / n;
}

/* The rim is more than four times as dense as the picture. */
static void sun_with_a_rim_of(double mm, const coated_look *without) {
    coated_sheet sheet = coated_usual();
    sheet.sun = 0.6;
    sheet.rim = mm;
    coated_look k = coated_open(&sheet);
    float *found = coated_plane(&k);
    assert_non_null(k.s.sun.knot);
    coated_surface(&k, &k.s.sun, found);
    double want = share(&k, k.scan.core), hit = 0, core = 0, astray = 0;
    for (size_t i = 0; i < k.cells; i++) {
        bool near = k.scan.core[i] > 0 || k.scan.rim[i] > 0;
        core += k.scan.core[i] > 0.99;
        hit += k.scan.core[i] > 0.99 && found[i] > 0.5;
        astray += !near && found[i] > 0.5;
        if (k.part[i] == MIL_FRAME && k.scan.rim[i] > 0.99)
            assert_true(k.amount[i] > 1.5);
    }
    print_message("sun: share %.5f, want %.5f; %.0f of %.0f core cells; unit %.4f, without %.4f\n",
                  k.s.sun_fraction, want, hit, core, k.s.unit, without->s.unit);
    assert_true(want > 0.01);
    assert_true(fabs(k.s.sun_fraction / want - 1) < 0.25);
    assert_true(hit > 0.9 * core && astray == 0);
    assert_true(fabs(k.s.unit / without->s.unit - 1) < 0.05);
    assert_true(fabs(k.s.scale.middle - without->s.scale.middle) < 0.05);
    assert_true(coated_compare(&k, MIL_FRAME, k.scan.light, k.amount).correlation > 0.995);
    free(found);
    coated_close(&k);
}

static void the_suns_track_is_found_and_sets_no_scale(void **state) {
    (void)state;
    coated_sheet sheet = coated_usual();
    coated_look without = coated_open(&sheet);
    sun_with_a_rim_of(0.9, &without);
    sun_with_a_rim_of(2, &without);
    coated_close(&without);
}

/* Where the brush missed, paper is bare without a rim: no sun. */
static void no_sun_where_there_is_none(void **state) {
    (void)state;
    coated_sheet sheet = coated_usual();
    for (int patch = 0; patch < 2; patch++) {
        sheet.patch = patch ? 2 : 0;
        coated_look k = coated_open(&sheet);
        assert_true(k.s.sun_fraction == 0);
        assert_null(k.s.sun.knot);
        coated_close(&k);
    }
    /* Both: the patch of 12.6 mm2 stays out of the sun's share. */
    sheet.sun = 0.6;
    sheet.rim = 0.9;
    coated_look k = coated_open(&sheet);
    assert_true(fabs(k.s.sun_fraction / share(&k, k.scan.core) - 1) < 0.2);
    coated_close(&k);
}

/* ---- veil ---- */

static coated_look veiled(double veil, const milori_choices *choices, int orientation) {
    coated_sheet sheet = coated_usual();
    coated_look k = {.choices = *choices};
    sheet.veil = veil;
    coated_make(&sheet, &k.scan);
    k.scan.grid.orientation = orientation;
    coated_separate(&k);
    assert_int_equal(k.status, MILORI_OK);
    return k;
}

static void a_veil_is_taken_off_where_the_sheet_shows_it(void **state) {
    (void)state;
    milori_choices choices = coated_choices();
    /* Deep darks, no veil. */
    coated_look k = veiled(0, &choices, 1);
    assert_true(k.s.veil == 0);
    assert_false(mil_notes_have(&k.s.notes, "veil"));
    coated_close(&k);
    /* Nothing dark in the picture, but its least light is no heap: snow, not a veil. */
    coated_sheet snow = coated_usual();
    snow.picture = coated_high_key;
    k = coated_open(&snow);
    assert_true(k.s.scale.percentile[0] > 0.1);
    assert_true(k.s.veil == 0);
    coated_close(&k);
    /* A fifth of the light tones' light over all of it: the clouds' lights are 0.93, their darks
     * 0.02, so the veil is 22 % of the range; most of that is taken, never more. */
    k = veiled(0.06, &choices, 1);
    print_message("veil %.2f %%\n", k.s.veil);
    assert_true(k.s.veil > 14 && k.s.veil < 26);
    assert_true(mil_notes_have(&k.s.notes, "veil"));
    coated_close(&k);
    /* The user's word counts, either way. */
    choices.veil = 0;
    k = veiled(0.06, &choices, 1);
    assert_true(k.s.veil == 0);
    coated_close(&k);
    choices.veil = 7.5;
    k = veiled(0, &choices, 1);
    assert_true(k.s.veil == 7.5);
    coated_close(&k);
}

/* The shed's inside is at (u, v) = (0.6, 0.4), and in the scan turned by 90 degrees (orientation
 * 6: the stored first row is at the right, the first column on top) at another place. */
static void the_users_spot_shows_the_veil(void **state) {
    (void)state;
    for (int turned = 0; turned < 2; turned++) {
        milori_choices choices = coated_choices();
        double px = 300 / 25.4, bed = COATED_BED_MM + 7;
        double x = (bed + 36 * 0.8) * px, y = (bed + 24 * 0.7) * px;
        double tall = ceil((24 + 2 * bed) * px / COATED_CELL) * COATED_CELL;
        choices.spots = 1;
        choices.spot_px[0][0] = turned ? tall - y : x;
        choices.spot_px[0][1] = turned ? x : y;
        coated_look k = veiled(0.06, &choices, turned ? 6 : 1);
        double level = coated_compare(&k, MIL_FRAME, k.scan.light, k.amount).slope;
        double want = 100 * level * (0.02 + 0.2) / (k.s.scale.light - k.s.scale.dark);
        print_message("spot: %.2f %%, want %.2f %%\n", k.s.veil, want);
        assert_true(fabs(k.s.veil - want) < 2.5);
        assert_true(mil_notes_have(&k.s.notes, "veil"));
        coated_close(&k);
    }
    /* A spot on the bed says nothing of this sheet. */
    milori_choices choices = coated_choices();
    choices.spots = 1;
    coated_look k = veiled(0, &choices, 1);
    assert_true(k.s.veil == 0 && k.s.notes.count == 0);
    coated_close(&k);
}

/* ---- sheets that hold nothing ---- */

static void assert_value(const milori_value *v) {
    assert_true(isfinite(v->value));
    assert_true(isnan(v->sigma) || v->sigma >= 0);
}

/* Every number that a tone is made from is one. */
static void assert_sane(const coated_look *k) {
    const mil_separation *s = &k->s;
    assert_int_equal(k->status, MILORI_OK);
    for (int c = 0; c < 3; c++) {
        assert_true(isfinite(s->mix[c]));
        assert_value(&s->base_density[c]);
    }
    assert_true(isfinite(s->base) && s->base > 0);
    assert_true(isfinite(s->unit) && s->unit > 0);
    assert_true(isfinite(s->shoulder) && s->shoulder >= 0);
    assert_true(s->veil >= 0 && s->veil <= 100);
    assert_true(s->sun_fraction >= 0 && s->sun_fraction <= 1);
    assert_value(&s->fog_density);
    assert_true(isnan(s->stain.value) || isfinite(s->stain.value));
    assert_value(&s->range);
    assert_true(s->range.value >= 0);
    assert_value(&s->noise);
    const double scale[] = {s->scale.dark, s->scale.light, s->scale.middle, s->scale.noise,
                            s->scale.grain};
    for (size_t i = 0; i < sizeof scale / sizeof *scale; i++)
        assert_true(isfinite(scale[i]));
    assert_true(s->scale.dark >= 0 && s->scale.noise >= 0 && s->scale.grain >= 0);
    for (int p = 0; p <= 100; p++)
        assert_true(isfinite(s->scale.percentile[p]));
    for (size_t i = 0; i < k->cells; i++)
        assert_true(isfinite(k->amount[i]) && isfinite(k->z[i]) && isfinite(k->fog[i]));
}

/* One light all over: black, dark, paper white, and brighter than the profile's white. */
static void even_scans_give_numbers(void **state) {
    (void)state;
    const double light[] = {0, 0.1, 0.9, 1, 1.2};
    for (int channels = 1; channels <= 3; channels += 2)
        for (int margin = 0; margin < 2; margin++)
            for (size_t n = 0; n < sizeof light / sizeof *light; n++) {
                coated_sheet sheet = {.w = 12, .h = 9, .margin = 5 * margin, .channels = channels};
                coated_look k = {.choices = coated_choices()};
                coated_bed(&k.scan, &sheet);
                size_t cells = (size_t)k.scan.grid.nx * (size_t)k.scan.grid.ny;
                for (int c = 0; c < channels; c++)
                    for (size_t i = 0; i < cells; i++) {
                        k.scan.grid.light[c][i] = (float)light[n];
                        k.scan.grid.absorb[c][i] = (float)fmax(-log10(fmax(light[n], 0.002)), 0);
                    }
                coated_separate(&k);
                assert_sane(&k);
                coated_close(&k);
            }
}

/* A frame of a few cells, with and without a margin, down to none that is not in doubt. */
static void tiny_frames_give_numbers(void **state) {
    (void)state;
    const double side[][2] = {{3.1, 2.2}, {1.2, 1.2}, {0.4, 0.3}};
    for (int channels = 1; channels <= 3; channels += 2)
        for (int n = 0; n < 6; n++) {
            coated_sheet sheet = coated_usual();
            sheet.w = side[n % 3][0];
            sheet.h = side[n % 3][1];
            sheet.margin = n < 3 ? 4 : 0;
            sheet.channels = channels;
            coated_look k = coated_open(&sheet);
            size_t frame = 0;
            for (size_t i = 0; i < k.cells; i++)
                frame += k.part[i] == MIL_FRAME;
            if (n == 0)
                assert_in_range(frame, 4, 16);
            assert_sane(&k);
            coated_close(&k);
        }
}

/* Coated, never exposed: nothing to stretch; bare paper: no coat at all; and coat alone that is as
 * dark as can be. */
static void sheets_without_a_picture_give_numbers(void **state) {
    (void)state;
    coated_sheet sheet = coated_usual();
    sheet.picture = coated_nothing;
    for (int n = 0; n < 3; n++) {
        sheet.bare = n == 1 ? 100 : 0;
        sheet.fog = n == 2 ? 60 : 0;
        coated_look k = coated_open(&sheet);
        assert_sane(&k);
        assert_true(k.s.sun_fraction == 0);
        coated_close(&k);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_suns_track_is_found_and_sets_no_scale),
        cmocka_unit_test(no_sun_where_there_is_none),
        cmocka_unit_test(a_veil_is_taken_off_where_the_sheet_shows_it),
        cmocka_unit_test(the_users_spot_shows_the_veil),
        cmocka_unit_test(even_scans_give_numbers),
        cmocka_unit_test(tiny_frames_give_numbers),
        cmocka_unit_test(sheets_without_a_picture_give_numbers)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
