/* What was chosen for each sheet, kept in a file of its own as it is chosen. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "scan/sink.h"
#include "tone/choices.h"
#include "view/session_private.h"

enum { FILE_MOST = 1 << 20 };

static char *file_of(mil_session *session, size_t scan, int sheet) {
    const mil_easel_scan *s = &session->scan[scan];
    return mil_stem_path(session->ctx, session->folder, s->names.stem, sheet + 1, s->sheets,
                         ".choices.json");
}

/* Takes up the sheet's file if there is one. */
static milori_status read_file(mil_session *session, const char *path, mil_sitting *sitting) {
    uint8_t *bytes = NULL;
    size_t size = 0;
    if (access(path, F_OK) != 0 && errno == ENOENT)
        return MILORI_OK;
    milori_status status = mil_read_file(session->ctx, path, FILE_MOST, &bytes, &size);
    if (status == MILORI_OK)
        status = mil_choices_from_named_json(session->ctx, &sitting->choices, (const char *)bytes,
                                             size, path);
    sitting->kept = status == MILORI_OK;
    free(bytes);
    return status;
}

milori_status mil_session_sitting(mil_session *session, size_t scan, int sheet,
                                  mil_sitting **sitting) {
    int sheets = 0;
    milori_status status = mil_session_sheets(session, scan, &sheets);
    if (status != MILORI_OK)
        return status;
    if (sheet < 0 || sheet >= sheets)
        return mil_fail(session->ctx, MILORI_ERR_ARGUMENT, "%s: there is no sheet %d; there are %d",
                        session->scan[scan].names.shown, sheet + 1, sheets);
    *sitting = &session->scan[scan].sitting[sheet];
    if ((*sitting)->read)
        return MILORI_OK;
    (*sitting)->choices = *session->first;
    char *path = file_of(session, scan, sheet);
    status = path ? read_file(session, path, *sitting) : MILORI_ERR_MEMORY;
    (*sitting)->read = status == MILORI_OK;
    free(path);
    return status;
}

milori_status mil_session_choices(mil_session *session, size_t scan, int sheet,
                                  milori_choices *choices, bool *kept) {
    mil_sitting *sitting = NULL;
    milori_status status = mil_session_sitting(session, scan, sheet, &sitting);
    if (status != MILORI_OK)
        return status;
    *choices = sitting->choices;
    if (kept)
        *kept = sitting->kept;
    return MILORI_OK;
}

milori_status mil_session_choose(mil_session *session, size_t scan, int sheet,
                                 const milori_choices *choices) {
    mil_sitting *sitting = NULL;
    char *json = NULL, *path = NULL;
    milori_status status = mil_session_sitting(session, scan, sheet, &sitting);
    if (status == MILORI_OK)
        status = milori_choices_to_json(session->ctx, choices, &json);
    if (status == MILORI_OK) {
        path = file_of(session, scan, sheet);
        status =
            path ? mil_write_file(session->ctx, path, json, strlen(json), true) : MILORI_ERR_MEMORY;
    }
    if (status == MILORI_OK) {
        sitting->choices = *choices;
        sitting->kept = true;
    }
    free(json);
    free(path);
    return status;
}

milori_status mil_session_allows(mil_session *session, const milori_choices *choices) {
    const char *const wanted[] = {choices->profile, choices->dodge};
    const char *const named[] = {session->first->profile, session->first->dodge};
    for (int i = 0; i < 2; i++)
        if (wanted[i][0] && strcmp(wanted[i], named[i]) != 0)
            return mil_fail(session->ctx, MILORI_ERR_ARGUMENT,
                            "that file was not named when the easel was started; start it with it");
    return MILORI_OK;
}
