#include "view/easel_private.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tone/choices.h"
#include "view/assets.h"

milori_status mil_easel_new(milori_context *ctx, const mil_session_scan *scans, size_t count,
                            const char *folder, const milori_choices *first, mil_easel **out) {
    mil_easel *easel = mil_alloc(ctx, 1, sizeof *easel);
    if (!easel)
        return MILORI_ERR_MEMORY;
    *easel = (mil_easel){.ctx = ctx, .first = first};
    milori_status status = mil_session_new(ctx, scans, count, folder, first, &easel->session);
    if (status == MILORI_OK)
        status = mil_job_new(ctx, folder, &easel->job);
    if (status != MILORI_OK) {
        mil_easel_free(easel);
        return status;
    }
    *out = easel;
    return MILORI_OK;
}

void mil_easel_free(mil_easel *easel) {
    if (!easel)
        return;
    mil_job_free(easel->job);
    mil_session_free(easel->session);
    free(easel);
}

/* ---- answers ------------------------------------------------------------------ */

static void no_memory(mil_answer *answer) {
    static const char words[] = "{\"error\":\"out of memory: close other programs\"}";
    *answer = (mil_answer){.status = 500,
                           .type = "application/json",
                           .body = words,
                           .size = sizeof words - 1,
                           .kept = true};
}

void mil_answer_json(mil_answer *answer, json_t *object) {
    char *text = object ? json_dumps(object, JSON_COMPACT | JSON_REAL_PRECISION(12)) : NULL;
    json_decref(object);
    if (!text) {
        no_memory(answer);
        return;
    }
    *answer =
        (mil_answer){.status = 200, .type = "application/json", .body = text, .size = strlen(text)};
}

void mil_answer_failure(milori_context *ctx, mil_answer *answer) {
    bool ours = milori_failure(ctx) == MILORI_ERR_MEMORY || milori_failure(ctx) == MILORI_ERR_WRITE;
    mil_answer_json(answer, json_pack("{ss}", "error", milori_message(ctx)));
    answer->status = ours ? 500 : 400;
    milori_clear(ctx);
}

/* ---- questions ---------------------------------------------------------------- */

static milori_status no_such(mil_easel *easel, const char *key) {
    return mil_fail(easel->ctx, MILORI_ERR_ARGUMENT, "%s is missing or not what it should be", key);
}

milori_status mil_ask_whole(mil_easel *easel, const json_t *in, const char *key, int64_t low,
                            int64_t high, int64_t *value) {
    const json_t *number = json_object_get(in, key);
    if (!number)
        return MILORI_OK;
    if (!json_is_integer(number) || json_integer_value(number) < low ||
        json_integer_value(number) > high)
        return no_such(easel, key);
    *value = json_integer_value(number);
    return MILORI_OK;
}

milori_status mil_ask_sheet(mil_easel *easel, const json_t *in, size_t *scan, int *sheet) {
    int64_t which = -1, number = 0;
    int64_t last = (int64_t)mil_session_count(easel->session) - 1;
    milori_status status = mil_ask_whole(easel, in, "scan", 0, last, &which);
    if (status == MILORI_OK)
        status = mil_ask_whole(easel, in, "sheet", 0, 9999, &number);
    if (status == MILORI_OK && which < 0)
        status = no_such(easel, "scan");
    *scan = (size_t)which;
    *sheet = (int)number;
    return status;
}

milori_status mil_ask_choices(mil_easel *easel, const json_t *in, const char *key,
                              milori_choices *choices) {
    const json_t *object = json_object_get(in, key);
    *choices = *easel->first;
    if (!object)
        return MILORI_OK;
    char *text = json_is_object(object) ? json_dumps(object, JSON_REAL_PRECISION(17)) : NULL;
    if (!text)
        return no_such(easel, key);
    milori_status status =
        mil_choices_from_named_json(easel->ctx, choices, text, strlen(text), "these choices");
    free(text);
    if (status == MILORI_OK)
        status = mil_choices_check(easel->ctx, choices);
    return status == MILORI_OK ? mil_session_allows(easel->session, choices) : status;
}

milori_status mil_ask_part(mil_easel *easel, const json_t *in, bool *has, mil_part_rect *part) {
    const json_t *array = json_object_get(in, "part");
    double v[4];
    *has = array != NULL;
    if (!array)
        return MILORI_OK;
    for (size_t i = 0; i < 4; i++) {
        const json_t *number = json_array_get(array, i);
        v[i] = json_number_value(number);
        if (json_array_size(array) != 4 || !json_is_number(number) || !(fabs(v[i]) < 1e6))
            return no_such(easel, "part");
    }
    if (v[0] < 0 || v[1] < 0 || v[2] < 1 || v[3] < 1)
        return no_such(easel, "part");
    *part = (mil_part_rect){v[0], v[1], v[2], v[3]};
    return MILORI_OK;
}

json_t *mil_choices_object(milori_context *ctx, const milori_choices *choices) {
    char *text = NULL;
    if (milori_choices_to_json(ctx, choices, &text) != MILORI_OK)
        return NULL;
    json_t *object = json_loads(text, 0, NULL);
    free(text);
    if (!object)
        mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: close other programs");
    return object;
}

/* ---- what is asked -------------------------------------------------------------- */

static const struct {
    const char *path;
    mil_question *question;
} questions[] = {{"api/scans", mil_ask_scans},       {"api/sheet", mil_ask_about_sheet},
                 {"api/table", mil_ask_table},       {"api/picture", mil_ask_picture},
                 {"api/scan", mil_ask_scan_picture}, {"api/curves", mil_ask_curves},
                 {"api/typed", mil_ask_typed},       {"api/choose", mil_ask_choose},
                 {"api/make", mil_ask_make},         {"api/job", mil_ask_job},
                 {"api/stop", mil_ask_stop_job}};

static void not_found(mil_answer *answer) {
    *answer = (mil_answer){
        .status = 404, .type = "text/plain", .body = "not here\n", .size = 9, .kept = true};
}

static void give_file(const char *path, mil_answer *answer) {
    const mil_asset *file = mil_asset_of(*path ? path : "index.html");
    if (!file) {
        not_found(answer);
        return;
    }
    *answer = (mil_answer){
        .status = 200, .type = file->type, .body = file->bytes, .size = file->size, .kept = true};
}

void mil_easel_answer(void *data, const mil_request *request, mil_answer *answer) {
    mil_easel *easel = data;
    if (!request->post) {
        give_file(request->path, answer);
        return;
    }
    mil_question *question = NULL;
    for (size_t i = 0; i < sizeof questions / sizeof *questions; i++)
        if (strcmp(request->path, questions[i].path) == 0)
            question = questions[i].question;
    if (!question) {
        not_found(answer);
        return;
    }
    json_t *in = json_loadb(request->body, request->size, JSON_REJECT_DUPLICATES, NULL);
    milori_status status = MILORI_ERR_ARGUMENT;
    if (json_is_object(in))
        status = question(easel, in, answer);
    else
        mil_fail(easel->ctx, status, "what was sent is not a JSON object");
    if (status != MILORI_OK)
        mil_answer_failure(easel->ctx, answer);
    json_decref(in);
}
