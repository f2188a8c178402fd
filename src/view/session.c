#include "view/session_private.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

milori_status mil_session_new(milori_context *ctx, const mil_session_scan *scans, size_t count,
                              const char *folder, const milori_choices *first, mil_session **out) {
    mil_session *session = mil_alloc(ctx, 1, sizeof *session);
    if (!session)
        return MILORI_ERR_MEMORY;
    *session = (mil_session){.ctx = ctx, .folder = folder, .first = first, .count = count};
    session->scan = mil_alloc(ctx, count, sizeof *session->scan);
    session->opened = mil_alloc(ctx, count, sizeof *session->opened);
    if (!session->scan || !session->opened) {
        session->count = 0;
        mil_session_free(session);
        return MILORI_ERR_MEMORY;
    }
    for (size_t i = 0; i < count; i++)
        session->scan[i].names = scans[i];
    *out = session;
    return MILORI_OK;
}

void mil_session_free(mil_session *session) {
    if (!session)
        return;
    for (size_t i = 0; i < session->count; i++) {
        mil_session_forget(session, i);
        free(session->scan[i].sitting);
    }
    for (int i = 0; i < MIL_SCAN_VIEWS; i++)
        mil_scan_sight_free(&session->scan_view[i].view);
    free(session->scan);
    free(session->opened);
    free(session->places);
    free(session);
}

size_t mil_session_count(const mil_session *session) {
    return session->count;
}

const mil_session_scan *mil_session_scan_of(const mil_session *session, size_t scan) {
    return &session->scan[scan].names;
}

const char *mil_session_folder(const mil_session *session) {
    return session->folder;
}

/* ---- scans open ------------------------------------------------------------- */

static void forget_views(mil_session *session, size_t scan) {
    for (int i = 0; i < MIL_VIEWS; i++)
        if (session->view[i].held && session->view[i].scan == scan) {
            mil_held_free(session->view[i].held);
            session->view[i] = (mil_kept_view){0};
        }
    if (session->plan && session->plan_scan == scan) {
        mil_plan_free(session->plan);
        session->plan = NULL;
    }
}

void mil_session_forget(mil_session *session, size_t scan) {
    forget_views(session, scan);
    milori_scan_close(session->scan[scan].scan);
    session->scan[scan].scan = NULL;
    session->scan[scan].measured = false;
}

/* Open files and their grids are few at a time: the longest unused goes. */
static void make_room(mil_session *session, size_t wanted) {
    size_t open = 0, oldest = wanted;
    for (size_t i = 0; i < session->count; i++) {
        if (!session->scan[i].scan || i == wanted)
            continue;
        open++;
        if (oldest == wanted || session->opened[i] < session->opened[oldest])
            oldest = i;
    }
    if (open >= MIL_OPEN_SCANS)
        mil_session_forget(session, oldest);
}

static bool same_number(double a, double b) {
    return a == b || (isnan(a) && isnan(b));
}

/* Whether both say the same of what the sheet is. */
static bool same_sheet(const milori_choices *a, const milori_choices *b) {
    return same_number(a->dpi, b->dpi) && a->shape == b->shape &&
           same_number(a->frame_mm[0], b->frame_mm[0]) &&
           same_number(a->frame_mm[1], b->frame_mm[1]) && a->corners_given == b->corners_given &&
           (!a->corners_given || memcmp(a->corners_px, b->corners_px, sizeof a->corners_px) == 0) &&
           a->spots == b->spots &&
           memcmp(a->spot_px, b->spot_px, a->spots * sizeof *a->spot_px) == 0;
}

static milori_status measure(mil_session *session, mil_easel_scan *s,
                             const milori_choices *choices) {
    forget_views(session, (size_t)(s - session->scan));
    s->measured = false;
    milori_status status = milori_scan_measure(s->scan, choices);
    if (status != MILORI_OK)
        return status;
    int sheets = milori_scan_facts_of(s->scan)->sheets;
    s->measured = true;
    s->sheet_of = *choices;
    if (sheets == s->sheets)
        return MILORI_OK;
    /* Another number of sheets: what was chosen is read from its files again. */
    free(s->sitting);
    s->sitting = mil_alloc(session->ctx, (size_t)sheets, sizeof *s->sitting);
    s->sheets = s->sitting ? sheets : 0;
    return s->sitting ? MILORI_OK : MILORI_ERR_MEMORY;
}

milori_status mil_session_measured(mil_session *session, size_t scan,
                                   const milori_choices *choices) {
    milori_status status = MILORI_OK;
    if (scan >= session->count)
        return mil_fail(session->ctx, MILORI_ERR_ARGUMENT, "there is no scan %zu", scan);
    mil_easel_scan *s = &session->scan[scan];
    session->opened[scan] = ++session->clock;
    if (!s->scan) {
        make_room(session, scan);
        status = milori_scan_open(session->ctx, s->names.path, &s->scan);
    }
    if (status == MILORI_OK && !(s->measured && same_sheet(&s->sheet_of, choices)))
        status = measure(session, s, choices);
    return status;
}

milori_status mil_session_open(mil_session *session, size_t scan) {
    if (scan < session->count && session->scan[scan].measured) {
        session->opened[scan] = ++session->clock;
        return MILORI_OK;
    }
    return mil_session_measured(session, scan, session->first);
}

milori_status mil_session_sheets(mil_session *session, size_t scan, int *sheets) {
    *sheets = scan < session->count ? session->scan[scan].sheets : 0;
    if (*sheets)
        return MILORI_OK;
    milori_status status = mil_session_open(session, scan);
    if (status == MILORI_OK)
        *sheets = session->scan[scan].sheets;
    return status;
}

milori_status mil_session_measured_json(mil_session *session, size_t scan, int sheet, char **json) {
    *json = NULL;
    milori_status status = mil_session_open(session, scan);
    return status == MILORI_OK ? milori_scan_sheet_json(session->scan[scan].scan, sheet, json)
                               : status;
}

milori_status mil_session_scan_size(mil_session *session, size_t scan, uint32_t *width,
                                    uint32_t *height) {
    milori_status status = mil_session_open(session, scan);
    if (status == MILORI_OK) {
        const milori_scan_facts *facts = milori_scan_facts_of(session->scan[scan].scan);
        *width = facts->width;
        *height = facts->height;
    }
    return status;
}
