/* Questions about scans and what is chosen for them. */
#include <stdlib.h>
#include <string.h>

#include "tone/choices.h"
#include "view/easel_private.h"

/* ---- scans and sheets ----------------------------------------------------------- */

/* A sheet number is known only of scans that have been read: the page asks for the others one by
 * one, as it shows them. */
milori_status mil_ask_scans(mil_easel *easel, const json_t *in, mil_answer *answer) {
    json_t *scans = json_array();
    (void)in;
    for (size_t i = 0; i < mil_session_count(easel->session); i++)
        json_array_append_new(
            scans, json_pack("{ss}", "name", mil_session_scan_of(easel->session, i)->shown));
    char *folder = mil_printable(mil_session_folder(easel->session));
    mil_answer_json(answer, json_pack("{so ss}", "scans", scans, "folder", folder ? folder : ""));
    free(folder);
    return MILORI_OK;
}

milori_status mil_ask_about_sheet(mil_easel *easel, const json_t *in, mil_answer *answer) {
    size_t scan;
    int sheet, sheets = 0;
    bool kept = false;
    uint32_t width = 0, height = 0;
    char *text = NULL;
    mil_session_wish wish = {0};
    mil_session_picture picture = {0};
    milori_status status = mil_ask_sheet(easel, in, &scan, &sheet);
    if (status == MILORI_OK)
        status = mil_session_choices(easel->session, scan, sheet, &wish.choices, &kept);
    if (status == MILORI_OK && json_object_get(in, "choices"))
        status = mil_ask_choices(easel, in, "choices", &wish.choices);
    wish.scan = scan;
    wish.sheet = sheet;
    if (status == MILORI_OK)
        status = mil_session_plan(easel->session, &wish, &picture);
    if (status == MILORI_OK)
        status = mil_session_sheets(easel->session, scan, &sheets);
    if (status == MILORI_OK)
        status = mil_session_measured_json(easel->session, scan, sheet, &text);
    if (status == MILORI_OK)
        status = mil_session_scan_size(easel->session, scan, &width, &height);
    json_t *choices = status == MILORI_OK ? mil_choices_object(easel->ctx, &wish.choices) : NULL;
    if (choices)
        mil_answer_json(answer, json_pack("{si so* so sb s[ii] s[ii]}", "sheets", sheets, "sheet",
                                          json_loads(text, 0, NULL), "choices", choices, "kept",
                                          kept, "size", (int)picture.width, (int)picture.height,
                                          "scan_size", (int)width, (int)height));
    else if (status == MILORI_OK)
        status = MILORI_ERR_MEMORY;
    free(text);
    return status;
}

/* ---- choices ---------------------------------------------------------------------- */

milori_status mil_ask_table(mil_easel *easel, const json_t *in, mil_answer *answer) {
    size_t count;
    const mil_choice_info *table = mil_choice_table(&count);
    json_t *rows = json_array();
    (void)in;
    for (size_t i = 0; i < count; i++)
        json_array_append_new(rows, json_pack("{ss ss ss ss sb}", "name", table[i].name, "values",
                                              table[i].values, "first", table[i].first, "help",
                                              table[i].help, "file",
                                              strstr(table[i].values, "FILE") != NULL));
    json_t *first = mil_choices_object(easel->ctx, easel->first);
    if (!first) {
        json_decref(rows);
        return MILORI_ERR_MEMORY;
    }
    mil_answer_json(answer, json_pack("{so so}", "table", rows, "first", first));
    return MILORI_OK;
}

/* A choice typed in the command's own words. What would read a file is refused. */
milori_status mil_ask_typed(mil_easel *easel, const json_t *in, mil_answer *answer) {
    const char *name = json_string_value(json_object_get(in, "name"));
    const char *text = json_string_value(json_object_get(in, "text"));
    milori_choices choices;
    milori_status status = mil_ask_choices(easel, in, "choices", &choices);
    if (status != MILORI_OK)
        return status;
    const mil_choice_info *info = name ? mil_choice_named(name) : NULL;
    if (!info || !text)
        return mil_fail(easel->ctx, MILORI_ERR_ARGUMENT, "there is no choice of that name");
    if (strstr(info->values, "FILE") && mil_choice_word(info, text) < 0)
        return mil_fail(easel->ctx, MILORI_ERR_ARGUMENT,
                        "%s: a file is named when the easel is started, not here", name);
    status = milori_choice_set(easel->ctx, &choices, name, text);
    if (status == MILORI_OK)
        status = mil_choices_check(easel->ctx, &choices);
    json_t *object = status == MILORI_OK ? mil_choices_object(easel->ctx, &choices) : NULL;
    if (!object)
        return status == MILORI_OK ? MILORI_ERR_MEMORY : status;
    mil_answer_json(answer, json_pack("{so}", "choices", object));
    return MILORI_OK;
}

milori_status mil_ask_choose(mil_easel *easel, const json_t *in, mil_answer *answer) {
    size_t scan;
    int sheet;
    milori_choices choices;
    milori_status status = mil_ask_sheet(easel, in, &scan, &sheet);
    if (status == MILORI_OK)
        status = mil_ask_choices(easel, in, "choices", &choices);
    if (status == MILORI_OK)
        status = mil_session_choose(easel->session, scan, sheet, &choices);
    if (status == MILORI_OK)
        mil_answer_json(answer, json_pack("{sb}", "kept", true));
    return status;
}

/* ---- making ------------------------------------------------------------------------ */

static mil_job_item item_of(mil_easel *easel, size_t scan, int sheet,
                            const milori_choices *choices) {
    const mil_session_scan *names = mil_session_scan_of(easel->session, scan);
    return (mil_job_item){names->path, names->shown, names->stem, sheet, *choices};
}

/* The scans that are named, or all, like this one: with its choices but what is true of one sheet
 * only. */
static milori_status gather(mil_easel *easel, const json_t *in, const milori_choices *choices,
                            mil_job_item *items, size_t *count) {
    const json_t *chosen = json_object_get(in, "scans");
    size_t most = mil_session_count(easel->session);
    milori_choices like = *choices;
    mil_choices_forget_sheet(&like);
    *count = 0;
    if (json_array_size(chosen) > most)
        return mil_fail(easel->ctx, MILORI_ERR_ARGUMENT, "there are not so many scans");
    for (size_t i = 0; i < (chosen ? json_array_size(chosen) : most); i++) {
        const json_t *number = json_array_get(chosen, i);
        json_int_t scan = chosen ? json_integer_value(number) : (json_int_t)i;
        if ((chosen && !json_is_integer(number)) || scan < 0 || (size_t)scan >= most)
            return mil_fail(easel->ctx, MILORI_ERR_ARGUMENT, "there is no such scan");
        items[(*count)++] = item_of(easel, (size_t)scan, -1, &like);
    }
    return MILORI_OK;
}

milori_status mil_ask_make(mil_easel *easel, const json_t *in, mil_answer *answer) {
    size_t scan, count = 1;
    int sheet;
    milori_choices choices;
    const char *what = json_string_value(json_object_get(in, "what"));
    milori_status status = mil_ask_sheet(easel, in, &scan, &sheet);
    if (status == MILORI_OK)
        status = mil_ask_choices(easel, in, "choices", &choices);
    if (status != MILORI_OK)
        return status;
    mil_job_item *items = mil_alloc(easel->ctx, mil_session_count(easel->session), sizeof *items);
    if (!items)
        return MILORI_ERR_MEMORY;
    if (what && strcmp(what, "this") == 0)
        items[0] = item_of(easel, scan, sheet, &choices);
    else if (what && strcmp(what, "like") == 0)
        status = gather(easel, in, &choices, items, &count);
    else
        status = mil_fail(easel->ctx, MILORI_ERR_ARGUMENT, "what is to be made: this, or like?");
    if (status == MILORI_OK)
        status = mil_job_start(easel->ctx, easel->job, items, count);
    free(items);
    return status == MILORI_OK ? mil_ask_job(easel, in, answer) : status;
}

milori_status mil_ask_job(mil_easel *easel, const json_t *in, mil_answer *answer) {
    mil_job_state state;
    (void)in;
    mil_job_look(easel->job, &state);
    mil_answer_json(answer, json_pack("{sb si si si si sf ss}", "running", state.running, "items",
                                      state.items, "done", state.done, "made", state.made, "failed",
                                      state.failed, "part", state.part, "words", state.words));
    return MILORI_OK;
}

milori_status mil_ask_stop_job(mil_easel *easel, const json_t *in, mil_answer *answer) {
    mil_job_stop(easel->job);
    return mil_ask_job(easel, in, answer);
}
