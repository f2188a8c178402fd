/* A series in JSON. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>

#include "view/series.h"
#include "view/told_words.h"

static json_t *number(double value, double unit) {
    return isfinite(value) ? json_real(round(value * unit) / unit + 0.0) : json_null();
}

/* Words of the notes: bytes that are no UTF-8, and control characters, as \xNN. */
static json_t *words(const char *text) {
    char *shown = mil_printable(text);
    json_t *made = shown ? json_string(shown) : json_null();
    free(shown);
    return made;
}

static json_t *further(const mil_series *series, const mil_noted *noted) {
    json_t *object = json_object();
    for (size_t k = 0; k < series->notes->columns; k++) {
        char *name = mil_printable(series->notes->column[k]);
        if (name)
            json_object_set_new(object, name, words(noted->more[k]));
        free(name);
    }
    return object;
}

static json_t *sheet(const mil_series *series, const mil_series_sheet *s) {
    const mil_noted *noted = s->noted;
    json_t *object = json_object();
    json_object_set_new(object, "file", words(s->path));
    json_object_set_new(object, "sheet", json_integer(s->sheet.number));
    json_object_set_new(object, "minutes", number(noted ? noted->minutes : NAN, 1e6));
    json_object_set_new(object, "hours", number(noted ? noted->hours : NAN, 1e6));
    json_object_set_new(object, "light", noted ? words(noted->light) : json_null());
    json_object_set_new(object, "more", noted ? further(series, noted) : json_null());
    json_object_set_new(object, "apart", number(s->apart.value, 100));
    json_object_set_new(object, "apart_sigma", number(s->apart.sigma, 100));
    json_object_set_new(object, "next_stops", number(s->next.value, 100));
    json_object_set_new(object, "next_stops_sigma", number(s->next.sigma, 100));
    return object;
}

static json_t *light(const mil_series_light *l) {
    bool related = l->count > 1;
    json_t *object = json_object();
    json_object_set_new(object, "light", words(l->name));
    json_object_set_new(object, "sheets", json_integer((json_int_t)l->count));
    json_object_set_new(object, "shortest", number(l->shortest, 1e6));
    json_object_set_new(object, "longest", number(l->longest, 1e6));
    json_object_set_new(object, "rate", number(related ? l->rate : NAN, 1e6));
    json_object_set_new(object, "strength_most", number(related ? l->most : NAN, 1e6));
    json_object_set_new(object, "stray", number(related ? l->scatter : NAN, 100));
    json_object_set_new(object, "right_minutes", number(l->right.value, 100));
    json_object_set_new(object, "right_stops_sigma", number(l->right.sigma, 100));
    return object;
}

milori_status mil_series_json(milori_context *ctx, const mil_series *series, char **json) {
    json_t *object = json_object(), *sheets = json_array(), *lights = json_array();
    for (size_t i = 0; i < series->count; i++)
        json_array_append_new(sheets, sheet(series, &series->sheet[i]));
    for (size_t k = 0; k < series->lights; k++)
        json_array_append_new(lights, light(&series->light[k]));
    json_object_set_new(object, "sheets", sheets);
    json_object_set_new(object, "lights", lights);
    *json = json_dumps(object, JSON_REAL_PRECISION(12) | JSON_COMPACT);
    json_decref(object);
    return *json ? MILORI_OK : mil_fail(ctx, MILORI_ERR_MEMORY, "no memory to describe the series");
}
