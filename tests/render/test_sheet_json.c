/* The JSON of a sheet, read back by jansson, under a locale with a decimal comma too. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <jansson.h>
#include <locale.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "render/sheet_json.h"

static milori_sheet make_sheet(void) {
    milori_sheet s = {.number = 2,
                      .of = 3,
                      .frame_px = {{10.126, 20}, {110, 20.5}, {109.5, 140}, {9.5, 139.5}},
                      .outline_px = {{0, 0}, {120, 0}, {120, 150}, {0, 150}},
                      .shape = MILORI_ROUND,
                      .frame_mm = {56.1234567, 41.5},
                      .corner_sigma_mm = NAN,
                      .sides_found = 3,
                      .frame_origin = MILORI_ASSUMED,
                      .frame_name = "6x4.5",
                      .tilt_deg = {-0.25, 0.01, MILORI_FOUND},
                      .fog = {0.1, 0.02, MILORI_ASSUMED},
                      .stain = {NAN, NAN, MILORI_ASSUMED},
                      .range = {1.2, NAN, MILORI_FOUND},
                      .noise = {0.03, NAN, MILORI_FOUND},
                      .sun_fraction = 0.001,
                      .veil = 2.5,
                      .grade = 2,
                      .stops = -0.0,
                      .strength = {0.987654321, 0.03, MILORI_FOUND},
                      .most = {2.8, 0.7, MILORI_ASSUMED},
                      .tones = {24.126, 2.5, MILORI_FOUND},
                      .uneven = {NAN, NAN, MILORI_ASSUMED},
                      .next_stops = {-1.504, 0.5, MILORI_ASSUMED},
                      .tarnish = MILORI_SLIGHTLY_FOGGED,
                      .exposure = MILORI_EXPOSURE_LONG};
    for (int c = 0; c < 3; c++)
        s.base_density[c] = (milori_value){0.1 + c * 0.1, 0.005, MILORI_FOUND};
    return s;
}

static json_t *described(char **text) {
    milori_context *ctx = milori_context_new();
    milori_sheet sheet = make_sheet();
    milori_notes scan = {0}, own = {0};
    milori_scan_facts facts = {.bits = 16, .channels = 3, .profile = "scan\xff bed", .sheets = 3};
    mil_note(&scan, "profile", "no profile");
    mil_note(&own, "frame-side", "one side assumed");
    assert_int_equal(mil_sheet_json(ctx, "water butt.tif", &facts, &sheet, &scan, &own, text),
                     MILORI_OK);
    json_t *json = json_loads(*text, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(json);
    mil_notes_free(&scan);
    mil_notes_free(&own);
    milori_context_free(ctx);
    return json;
}

static double real(const json_t *json, const char *key) {
    assert_true(json_is_real(json_object_get(json, key)));
    return json_real_value(json_object_get(json, key));
}

static void what_the_sheet_tells(void **state) {
    (void)state;
    char *text = NULL;
    json_t *j = described(&text);
    assert_string_equal(json_string_value(json_object_get(j, "tarnish")), "slightly fogged");
    assert_string_equal(json_string_value(json_object_get(j, "exposure")), "long");
    assert_true(real(j, "strength") == 0.987654 && real(j, "strength_most") == 2.8);
    assert_string_equal(json_string_value(json_object_get(j, "strength_most_origin")), "assumed");
    assert_true(real(j, "tones") == 24.13 && real(j, "next_stops") == -1.5);
    assert_true(json_is_null(json_object_get(j, "coat_uneven")));
    assert_true(json_is_null(json_object_get(j, "coat_uneven_sigma")));
    json_decref(j);
    free(text);
}

static void keys_of_the_schema(void **state) {
    (void)state;
    char *text = NULL;
    json_t *j = described(&text), *frame = json_object_get(j, "frame");
    assert_string_equal(json_string_value(json_object_get(j, "file")), "water butt.tif");
    assert_int_equal(json_integer_value(json_object_get(j, "sheet")), 2);
    assert_int_equal(json_integer_value(json_object_get(j, "bits")), 16);
    assert_string_equal(json_string_value(json_object_get(j, "profile")), "scan\\xff bed");
    assert_true(json_is_null(json_object_get(j, "dpi")));
    json_t *corner = json_array_get(json_object_get(frame, "corners_px"), 0);
    assert_true(json_real_value(json_array_get(corner, 0)) == 10.13);
    assert_int_equal(json_array_size(json_object_get(frame, "corners_px")), 4);
    assert_true(json_real_value(json_array_get(json_object_get(frame, "size_mm"), 0)) == 56.123);
    assert_int_equal(json_integer_value(json_object_get(frame, "sides_found")), 3);
    assert_string_equal(json_string_value(json_object_get(frame, "origin")), "assumed");
    assert_string_equal(json_string_value(json_object_get(frame, "shape")), "round");
    assert_true(json_is_null(json_object_get(frame, "corner_sigma_mm")));
    assert_true(real(j, "tilt_deg") == -0.25);
    assert_true(json_real_value(json_array_get(json_object_get(j, "base_density"), 2)) == 0.3);
    assert_true(real(j, "fog") == 0.1);
    assert_true(json_is_null(json_object_get(j, "stain")));
    assert_true(real(j, "range") == 1.2);
    assert_true(real(j, "noise") == 0.03);
    assert_true(real(j, "sun_fraction") == 0.001);
    json_t *notes = json_object_get(j, "notes");
    assert_int_equal(json_array_size(notes), 2);
    assert_string_equal(json_string_value(json_array_get(notes, 1)),
                        "frame-side: one side assumed");
    /* Rounded, not stretched to 17 digits; no minus zero. */
    assert_non_null(strstr(text, "\"stops\":0.0,"));
    assert_null(strstr(text, "00000"));
    json_decref(j);
    free(text);
}

static void no_locale_gets_in(void **state) {
    (void)state;
    char *plain = NULL, *comma = NULL;
    json_decref(described(&plain));
    if (!setlocale(LC_ALL, "de_DE.UTF-8")) {
        free(plain);
        skip();
    }
    json_decref(described(&comma));
    setlocale(LC_ALL, "C");
    assert_string_equal(plain, comma);
    free(plain);
    free(comma);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(keys_of_the_schema),
                                       cmocka_unit_test(what_the_sheet_tells),
                                       cmocka_unit_test(no_locale_gets_in)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
