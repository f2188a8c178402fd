#include "render/sheet_json.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Decimals that are kept: no value is known to more. */
enum { PX = 2, MM = 3, DEGREES = 4, SHARE = 6, PER_CENT = 2, DPI = 3 };

static json_t *number(double value, int decimals) {
    double unit = pow(10, decimals);
    return isfinite(value) ? json_real(round(value * unit) / unit + 0.0) : json_null();
}

static json_t *origin(milori_origin from) {
    return json_string(from == MILORI_FOUND ? "found" : from == MILORI_GIVEN ? "given" : "assumed");
}

/* name, name_sigma, name_origin */
static void set_value(json_t *object, const char *name, const milori_value *value, int decimals) {
    char key[64];
    json_object_set_new(object, name, number(value->value, decimals));
    snprintf(key, sizeof key, "%s_sigma", name);
    json_object_set_new(object, key, number(value->sigma, decimals));
    snprintf(key, sizeof key, "%s_origin", name);
    json_object_set_new(object, key, origin(value->origin));
}

static json_t *corners(const double (*px)[2]) {
    json_t *array = json_array();
    for (int i = 0; i < 4; i++) {
        json_t *point = json_array();
        json_array_append_new(point, number(px[i][0], PX));
        json_array_append_new(point, number(px[i][1], PX));
        json_array_append_new(array, point);
    }
    return array;
}

static json_t *frame(const milori_sheet *sheet) {
    json_t *object = json_object(), *size = json_array();
    json_object_set_new(object, "corners_px", corners(sheet->frame_px));
    json_array_append_new(size, number(sheet->frame_mm[0], MM));
    json_array_append_new(size, number(sheet->frame_mm[1], MM));
    json_object_set_new(object, "size_mm", size);
    json_object_set_new(object, "sides_found", json_integer(sheet->sides_found));
    json_object_set_new(object, "origin", origin(sheet->frame_origin));
    json_object_set_new(object, "shape",
                        json_string(sheet->shape == MILORI_ROUND ? "round" : "rectangle"));
    json_object_set_new(object, "name",
                        sheet->frame_name[0] ? json_string(sheet->frame_name) : json_null());
    json_object_set_new(object, "corner_sigma_mm", number(sheet->corner_sigma_mm, MM));
    return object;
}

static json_t *outline(const milori_sheet *sheet) {
    json_t *object = json_object();
    json_object_set_new(object, "corners_px", corners(sheet->outline_px));
    json_object_set_new(object, "origin", origin(sheet->outline_origin));
    return object;
}

static void set_base(json_t *object, const milori_sheet *sheet) {
    json_t *density = json_array(), *sigma = json_array();
    for (int c = 0; c < 3; c++) {
        json_array_append_new(density, number(sheet->base_density[c].value, SHARE));
        json_array_append_new(sigma, number(sheet->base_density[c].sigma, SHARE));
    }
    json_object_set_new(object, "base_density", density);
    json_object_set_new(object, "base_density_sigma", sigma);
    json_object_set_new(object, "base_density_origin", origin(sheet->base_density[0].origin));
}

static void add_notes(json_t *array, const milori_notes *notes) {
    for (size_t i = 0; i < notes->count; i++) {
        const milori_note *note = &notes->note[i];
        json_array_append_new(array, json_sprintf("%s: %s", note->code, note->text));
    }
}

static void set_facts(json_t *object, const char *file, const milori_scan_facts *facts,
                      const milori_sheet *sheet) {
    json_object_set_new(object, "file", json_string(file));
    json_object_set_new(object, "sheet", json_integer(sheet->number));
    json_object_set_new(object, "sheets", json_integer(sheet->of));
    json_object_set_new(object, "bits", json_integer(facts->bits));
    /* A profile's description may hold any bytes. */
    char *profile = mil_printable(facts->profile);
    json_object_set_new(object, "profile", profile ? json_string(profile) : json_null());
    free(profile);
    json_object_set_new(object, "dpi", facts->dpi > 0 ? number(facts->dpi, DPI) : json_null());
}

/* What the sheet tells its maker. */
static void set_told(json_t *object, const milori_sheet *sheet) {
    static const char *const tarnish[] = {NULL, "fresh", "slightly fogged", "clearly fogged"};
    static const char *const exposure[] = {NULL, "short", "right", "long"};
    const char *word = tarnish[sheet->tarnish], *light = exposure[sheet->exposure];
    json_object_set_new(object, "tarnish", word ? json_string(word) : json_null());
    set_value(object, "coat_uneven", &sheet->uneven, PER_CENT);
    set_value(object, "tones", &sheet->tones, PER_CENT);
    set_value(object, "strength", &sheet->strength, SHARE);
    set_value(object, "strength_most", &sheet->most, SHARE);
    json_object_set_new(object, "exposure", light ? json_string(light) : json_null());
    set_value(object, "next_stops", &sheet->next_stops, PER_CENT);
}

milori_status mil_sheet_json(milori_context *ctx, const char *file, const milori_scan_facts *facts,
                             const milori_sheet *sheet, const milori_notes *of_scan,
                             const milori_notes *of_sheet, char **json) {
    json_t *object = json_object(), *notes = json_array();
    set_facts(object, file, facts, sheet);
    json_object_set_new(object, "frame", frame(sheet));
    json_object_set_new(object, "outline", outline(sheet));
    set_value(object, "tilt_deg", &sheet->tilt_deg, DEGREES);
    set_base(object, sheet);
    set_value(object, "fog", &sheet->fog, SHARE);
    set_value(object, "stain", &sheet->stain, SHARE);
    set_value(object, "range", &sheet->range, SHARE);
    set_value(object, "noise", &sheet->noise, SHARE);
    json_object_set_new(object, "sun_fraction", number(sheet->sun_fraction, SHARE));
    json_object_set_new(object, "veil", number(sheet->veil, PER_CENT));
    json_object_set_new(object, "grade", number(sheet->grade, PER_CENT));
    json_object_set_new(object, "stops", number(sheet->stops, PER_CENT));
    set_told(object, sheet);
    add_notes(notes, of_scan);
    add_notes(notes, of_sheet);
    json_object_set_new(object, "notes", notes);
    *json = json_dumps(object, JSON_REAL_PRECISION(12) | JSON_COMPACT);
    json_decref(object);
    return *json ? MILORI_OK
                 : mil_fail(ctx, MILORI_ERR_MEMORY, "%s: no memory to describe the sheet", file);
}
