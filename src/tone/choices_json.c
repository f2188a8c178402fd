#include "tone/choices.h"

#include <jansson.h>
#include <math.h>
#include <string.h>

/* More than every choice can fill. */
enum { JSON_MOST = 262144 };

/* ---- writing ------------------------------------------------------------ */

/* File names are bytes, JSON is UTF-8: mil_printable()'s escapes stand between. */
static json_t *write_name(const char *name) {
    char *text = mil_printable(name);
    json_t *json = text ? json_string(text) : NULL;
    free(text);
    return json;
}

/* The word that stands for value; a number as such. */
static json_t *write_word(const mil_choice_info *info, int value) {
    char word[16];
    double number;
    if (!mil_choice_word_of(info, value, word, sizeof word))
        return NULL;
    return mil_parse_number(word, &number) ? json_integer(value) : json_string(word);
}

static json_t *write_points(const double (*points)[2], size_t count) {
    json_t *array = json_array();
    for (size_t i = 0; i < count; i++)
        json_array_append_new(array, json_pack("[ff]", points[i][0], points[i][1]));
    return array;
}

static json_t *write_palette(const mil_choice_info *info, const milori_choices *c) {
    if (c->palette != MILORI_PALETTE_FILE)
        return write_word(info, (int)c->palette);
    json_t *colours = json_array();
    for (size_t i = 0; i < c->palette_stops; i++) {
        const milori_palette_stop *s = &c->palette_stop[i];
        json_array_append_new(colours, json_pack("[ffff]", s->at, s->L, s->a, s->b));
    }
    return json_pack("{soso}", "name", write_name(c->palette_name), "colours", colours);
}

static json_t *write_frame(const milori_choices *c) {
    if (c->whole_sheet)
        return json_string("sheet");
    if (isnan(c->frame_mm[0]))
        return json_string("auto");
    return json_pack("[ff]", c->frame_mm[0], c->frame_mm[1]);
}

static json_t *write_choice(const mil_choice_info *info, const milori_choices *c) {
    const char *field = (const char *)c + info->offset;
    int whole;
    double number;
    switch (info->kind) {
    case MIL_CHOICE_WORD:
        memcpy(&whole, field, sizeof whole);
        return write_word(info, whole);
    case MIL_CHOICE_SWITCH:
        return write_word(info, *(const bool *)field);
    case MIL_CHOICE_WHOLE:
        memcpy(&whole, field, sizeof whole);
        return json_integer(whole);
    case MIL_CHOICE_NUMBER:
        memcpy(&number, field, sizeof number);
        return isnan(number) ? json_string("auto") : json_real(number);
    case MIL_CHOICE_NAME:
        return *field ? write_name(field) : write_word(info, 0);
    case MIL_CHOICE_CURVE:
        return c->curve_points ? write_points(c->curve, c->curve_points) : json_string("none");
    case MIL_CHOICE_PALETTE:
        return write_palette(info, c);
    case MIL_CHOICE_FRAME:
        return write_frame(c);
    case MIL_CHOICE_CORNERS:
        return c->corners_given ? write_points(c->corners_px, 4) : json_string("auto");
    case MIL_CHOICE_SPOTS:
        return c->spots ? write_points(c->spot_px, c->spots) : json_string("none");
    }
    return NULL;
}

/* With the fewest digits that read back exactly: 0.1, and not 0.10000000000000001. */
static char *shortest(const json_t *object) {
    for (size_t digits = 6; digits < 17; digits++) {
        char *text = json_dumps(object, JSON_REAL_PRECISION(digits));
        json_t *back = text ? json_loads(text, 0, NULL) : NULL;
        bool same = back && json_equal(object, back);
        json_decref(back);
        if (same || !text)
            return text;
        free(text);
    }
    return json_dumps(object, JSON_REAL_PRECISION(17));
}

milori_status milori_choices_to_json(milori_context *ctx, const milori_choices *choices,
                                     char **json) {
    size_t count;
    const mil_choice_info *table = mil_choice_table(&count);
    milori_status status = mil_choices_check(ctx, choices);
    if (status)
        return status;
    json_t *object = json_object();
    bool whole = object != NULL;
    for (size_t i = 0; whole && i < count; i++)
        whole = json_object_set_new(object, table[i].name, write_choice(&table[i], choices)) == 0;
    *json = whole ? shortest(object) : NULL;
    json_decref(object);
    return *json ? MILORI_OK : mil_fail(ctx, MILORI_ERR_MEMORY, "choices: no memory to write them");
}

/* ---- reading ------------------------------------------------------------ */

static int hex(char c) {
    return c >= '0' && c <= '9' ? c - '0' : c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

/* Undoes mil_printable(). */
static bool read_name(const json_t *json, char *name) {
    const char *p = json_string_value(json);
    size_t n = 0;
    memset(name, 0, MILORI_PATH_MAX);
    for (; *p; n++) {
        if (n == MILORI_PATH_MAX - 1)
            return false;
        if (*p != '\\') {
            name[n] = *p++;
        } else if (p[1] == '\\') {
            name[n] = '\\';
            p += 2;
        } else {
            if (p[1] != 'x' || hex(p[2]) < 0 || hex(p[3]) < 0)
                return false;
            name[n] = (char)(hex(p[2]) * 16 + hex(p[3]));
            if (!name[n])
                return false;
            p += 4;
        }
    }
    return true;
}

/* An array of n numbers. */
static bool read_numbers(const json_t *json, double *values, size_t n) {
    if (!json_is_array(json) || json_array_size(json) != n)
        return false;
    for (size_t i = 0; i < n; i++) {
        if (!json_is_number(json_array_get(json, i)))
            return false;
        values[i] = json_number_value(json_array_get(json, i));
    }
    return true;
}

/* An array of 1 to most points; 0 if it is not that. */
static size_t read_points(const json_t *json, double (*points)[2], size_t most) {
    size_t count = json_array_size(json);
    memset(points, 0, most * sizeof *points);
    if (count > most)
        return 0;
    for (size_t i = 0; i < count; i++)
        if (!read_numbers(json_array_get(json, i), points[i], 2))
            return 0;
    return count;
}

static bool read_palette(const json_t *json, milori_choices *c) {
    const json_t *name = json_object_get(json, "name");
    const json_t *colours = json_object_get(json, "colours");
    size_t count = json_array_size(colours);
    if (json_object_size(json) != 2 || !json_is_string(name) || !json_is_array(colours) ||
        count > MILORI_PALETTE_MAX || !read_name(name, c->palette_name))
        return false;
    memset(c->palette_stop, 0, sizeof c->palette_stop);
    for (size_t i = 0; i < count; i++) {
        double v[4];
        if (!read_numbers(json_array_get(colours, i), v, 4))
            return false;
        c->palette_stop[i] = (milori_palette_stop){v[0], v[1], v[2], v[3]};
    }
    c->palette = MILORI_PALETTE_FILE;
    c->palette_stops = count;
    return true;
}

static bool read_array(const mil_choice_info *info, const json_t *json, milori_choices *c) {
    switch (info->kind) {
    case MIL_CHOICE_CURVE:
        c->curve_points = read_points(json, c->curve, MILORI_CURVE_MAX);
        return c->curve_points > 0;
    case MIL_CHOICE_FRAME:
        c->whole_sheet = false;
        return read_numbers(json, c->frame_mm, 2);
    case MIL_CHOICE_CORNERS:
        c->corners_given = read_points(json, c->corners_px, 4) == 4;
        return c->corners_given && mil_corners_take(c->corners_px);
    case MIL_CHOICE_SPOTS:
        c->spots = read_points(json, c->spot_px, MILORI_SPOT_MAX);
        return c->spots > 0;
    default:
        return false;
    }
}

/* Strings are what the command would take, but name no file to read now: JSON
 * stands by itself. */
static bool read_text(const mil_choice_info *info, const char *text, milori_choices *c) {
    bool file = info->kind == MIL_CHOICE_CURVE && strcmp(text, "none") != 0;
    int word = info->kind == MIL_CHOICE_PALETTE ? mil_choice_word(info, text) : 0;
    if (file || word < 0 || word == MILORI_PALETTE_FILE)
        return false;
    return mil_choice_parse(NULL, info, text, c) == MILORI_OK;
}

static bool read_choice(const mil_choice_info *info, const json_t *json, milori_choices *c) {
    char text[32], name[MILORI_PATH_MAX];
    bool scalar = info->kind <= MIL_CHOICE_NUMBER;
    switch (json_typeof(json)) {
    case JSON_STRING:
        if (info->kind != MIL_CHOICE_NAME)
            return read_text(info, json_string_value(json), c);
        return read_name(json, name) && read_text(info, name, c);
    case JSON_INTEGER:
    case JSON_REAL:
        mil_format_number(json_number_value(json), text, sizeof text);
        return scalar && read_text(info, text, c);
    case JSON_TRUE:
    case JSON_FALSE:
        return scalar && read_text(info, json_is_true(json) ? "on" : "off", c);
    case JSON_ARRAY:
        return read_array(info, json, c);
    case JSON_OBJECT:
        return info->kind == MIL_CHOICE_PALETTE && read_palette(json, c);
    case JSON_NULL:
        break;
    }
    return false;
}

static milori_status read_object(milori_context *ctx, json_t *object, const char *name,
                                 milori_choices *choices) {
    const char *key;
    json_t *value;
    if (!json_is_object(object))
        return mil_fail(ctx, MILORI_ERR_FORMAT,
                        "%s: holds no JSON object; give {\"grade\": 2} or the like", name);
    json_object_foreach(object, key, value) {
        const mil_choice_info *info = mil_choice_named(key);
        if (!info)
            return mil_fail(ctx, MILORI_ERR_FORMAT,
                            "%s: \"%s\" is no choice; milori-positive(1) names them", name, key);
        if (read_choice(info, value, choices) && mil_choice_fits(info, choices))
            continue;
        char expects[192];
        mil_choice_expects(info, expects, sizeof expects);
        return mil_fail(ctx, MILORI_ERR_ARGUMENT, "%s: \"%s\": give %s", name, key, expects);
    }
    return MILORI_OK;
}

milori_status mil_choices_from_named_json(milori_context *ctx, milori_choices *choices,
                                          const char *json, size_t size, const char *name) {
    milori_status status = mil_choices_sized(ctx, choices);
    if (status)
        return status;
    if (size > JSON_MOST)
        return mil_fail(ctx, MILORI_ERR_LIMIT,
                        "%s: larger than choices can be (%d bytes); shorten it", name, JSON_MOST);
    json_error_t error;
    json_t *object = json_loadb(json, size, JSON_REJECT_DUPLICATES, &error);
    if (!object)
        return mil_fail(ctx, MILORI_ERR_FORMAT, "%s: line %d is not JSON (%s); mend it", name,
                        error.line, error.text);
    milori_choices next = *choices;
    status = read_object(ctx, object, name, &next);
    json_decref(object);
    if (status == MILORI_OK)
        *choices = next;
    return status;
}

milori_status milori_choices_from_json(milori_context *ctx, milori_choices *choices,
                                       const char *json, size_t size) {
    return mil_choices_from_named_json(ctx, choices, json, size, "choices");
}
