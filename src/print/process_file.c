/* The process file: JSON (RFC 8259), its format and version named in it. */
#include "print/process.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scan/sink.h"

enum { FILE_MOST = 256 << 10, VERSION = 1 };
static const char FORMAT[] = "milori process curve";

/* ---- writing ------------------------------------------------------------ */

static json_t *triple(const double v[3]) {
    return json_pack("[fff]", v[0], v[1], v[2]);
}

static json_t *number(double value) {
    return isfinite(value) ? json_real(value) : json_null();
}

static json_t *points(const mil_process *p) {
    json_t *array = json_array();
    for (size_t i = 0; i < p->count; i++)
        json_array_append_new(array, json_pack("[fff]", p->ink[i], p->L[i], p->sigma[i]));
    return array;
}

static json_t *object_of(const mil_process *p, const char *name) {
    json_t *object =
        json_pack("{sssisosisosososososo}", "format", FORMAT, "version", (int)VERSION, "name",
                  json_string(name), "round", p->round, "repeat_sigma", number(p->repeat_sigma),
                  "coat_sigma", number(p->coat_sigma), "ink_rgb", triple(p->ink_rgb), "blue_lab",
                  triple(p->blue_lab), "paper_lab", triple(p->paper_lab), "ink_L_sigma", points(p));
    return object;
}

milori_status mil_process_write(milori_context *ctx, const mil_process *process, const char *path,
                                bool replace) {
    const char *fault = mil_process_fault(process);
    if (fault)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT, "%s: is not written, for %s", path, fault);
    char *name = mil_printable(process->name);
    if (name && strlen(name) >= sizeof process->name)
        name[0] = 0; /* bytes that are no text, and too many of them to spell out */
    json_t *object = name ? object_of(process, name) : NULL;
    free(name);
    char *text =
        object ? json_dumps(object, JSON_REAL_PRECISION(17) | JSON_INDENT(1) | JSON_ENSURE_ASCII)
               : NULL;
    json_decref(object);
    if (!text)
        return mil_fail(ctx, MILORI_ERR_MEMORY, "%s: no memory to write it; close other programs",
                        path);
    milori_status status = mil_write_file(ctx, path, text, strlen(text), replace);
    free(text);
    return status;
}

/* ---- reading ------------------------------------------------------------ */

static bool take_numbers(const json_t *array, size_t count, double *values) {
    if (!json_is_array(array) || json_array_size(array) != count)
        return false;
    for (size_t i = 0; i < count; i++) {
        const json_t *value = json_array_get(array, i);
        if (!json_is_number(value))
            return false;
        values[i] = json_number_value(value);
    }
    return true;
}

static bool take_points(const json_t *array, mil_process *p) {
    if (!json_is_array(array) || json_array_size(array) > MIL_PROCESS_MOST)
        return false;
    p->count = json_array_size(array);
    for (size_t i = 0; i < p->count; i++) {
        double v[3];
        if (!take_numbers(json_array_get(array, i), 3, v))
            return false;
        p->ink[i] = v[0];
        p->L[i] = v[1];
        p->sigma[i] = v[2];
    }
    return true;
}

/* NULL, or the key whose value is not what it should be. */
static const char *take(const json_t *object, mil_process *p) {
    const json_t *name = json_object_get(object, "name"), *round = json_object_get(object, "round");
    const json_t *repeat = json_object_get(object, "repeat_sigma");
    const json_t *coat = json_object_get(object, "coat_sigma");
    if (!json_is_string(name) || json_string_length(name) >= sizeof p->name)
        return "name";
    memcpy(p->name, json_string_value(name), json_string_length(name) + 1);
    if (!json_is_integer(round) || json_integer_value(round) > MIL_PROCESS_ROUNDS ||
        json_integer_value(round) < 1)
        return "round";
    p->round = (int)json_integer_value(round);
    if (!json_is_number(repeat))
        return "repeat_sigma";
    p->repeat_sigma = json_number_value(repeat);
    if (!json_is_number(coat) && !json_is_null(coat))
        return "coat_sigma";
    p->coat_sigma = json_is_null(coat) ? NAN : json_number_value(coat);
    return !take_numbers(json_object_get(object, "ink_rgb"), 3, p->ink_rgb)       ? "ink_rgb"
           : !take_numbers(json_object_get(object, "blue_lab"), 3, p->blue_lab)   ? "blue_lab"
           : !take_numbers(json_object_get(object, "paper_lab"), 3, p->paper_lab) ? "paper_lab"
           : !take_points(json_object_get(object, "ink_L_sigma"), p)              ? "ink_L_sigma"
                                                                                  : NULL;
}

static milori_status take_object(milori_context *ctx, const char *path, const json_t *object,
                                 mil_process *p) {
    const char *format = json_string_value(json_object_get(object, "format"));
    const json_t *version = json_object_get(object, "version");
    if (!format || strcmp(format, FORMAT) != 0)
        return mil_fail(ctx, MILORI_ERR_FORMAT,
                        "%s: is no process curve; milori target read makes one", path);
    if (!json_is_integer(version) || json_integer_value(version) != VERSION)
        return mil_fail(ctx, MILORI_ERR_UNSUPPORTED,
                        "%s: a process curve of a version this milori does not know; read the "
                        "target again",
                        path);
    const char *key = take(object, p);
    if (key)
        return mil_fail(ctx, MILORI_ERR_FORMAT,
                        "%s: \"%s\" is missing or not what it should be; read the target again",
                        path, key);
    const char *fault = mil_process_fault(p);
    if (fault)
        return mil_fail(ctx, MILORI_ERR_FORMAT, "%s: %s; read the target again", path, fault);
    return MILORI_OK;
}

milori_status mil_process_read(milori_context *ctx, const char *path, mil_process *process) {
    uint8_t *text = NULL;
    size_t size = 0;
    milori_status status = mil_read_file(ctx, path, FILE_MOST, &text, &size);
    if (status != MILORI_OK)
        return status;
    json_error_t error;
    json_t *object = json_loadb((const char *)text, size, JSON_REJECT_DUPLICATES, &error);
    free(text);
    if (!object)
        return mil_fail(ctx, MILORI_ERR_FORMAT,
                        "%s: line %d is not JSON (%s); it is no process "
                        "curve, or was damaged",
                        path, error.line, error.text);
    mil_process read = {0};
    status = take_object(ctx, path, object, &read);
    json_decref(object);
    if (status == MILORI_OK)
        *process = read;
    return status;
}
