/* Pictures of the session's sheets: amounts are kept, tones are tried on them. */
#include <stdlib.h>
#include <string.h>

#include "view/session_private.h"

static milori_status make_plan(mil_session *session, const mil_session_wish *wish) {
    milori_choices choices = wish->choices;
    milori_status status = mil_session_measured(session, wish->scan, &choices);
    if (status != MILORI_OK)
        return status;
    if (wish->sheet < 0 || wish->sheet >= session->scan[wish->scan].sheets)
        return mil_fail(session->ctx, MILORI_ERR_ARGUMENT, "there is no sheet %d", wish->sheet + 1);
    /* The page shows sRGB, whatever profile the positive will be in. */
    choices.profile[0] = 0;
    if (session->plan && (session->plan_scan != wish->scan || session->plan_sheet != wish->sheet)) {
        mil_plan_free(session->plan);
        session->plan = NULL;
    }
    session->plan_scan = wish->scan;
    session->plan_sheet = wish->sheet;
    if (!session->plan)
        return mil_plan_new(session->ctx, mil_scan_measured(session->scan[wish->scan].scan),
                            wish->sheet, &choices, &session->plan);
    status = mil_plan_change(session->ctx, session->plan, &choices);
    if (status != MILORI_OK) {
        mil_plan_free(session->plan);
        session->plan = NULL;
    }
    return status;
}

static bool same_part(bool in_part, const mil_part_rect *a, const mil_part_rect *b) {
    return !in_part || (a->x == b->x && a->y == b->y && a->w == b->w && a->h == b->h);
}

static double scale_of(const mil_session *session, const mil_session_wish *wish) {
    uint32_t width, height;
    mil_plan_size(session->plan, &width, &height);
    double w = wish->in_part ? wish->part.w : width, h = wish->in_part ? wish->part.h : height;
    double longer = w > h ? w : h;
    return wish->most == 0 || longer <= wish->most ? 1 : wish->most / longer;
}

static mil_kept_view *view_of(mil_session *session, const mil_session_wish *wish, double scale) {
    mil_kept_view *oldest = &session->view[0];
    for (int i = 0; i < MIL_VIEWS; i++) {
        mil_kept_view *v = &session->view[i];
        if (v->held && v->scan == wish->scan && v->sheet == wish->sheet && v->scale == scale &&
            v->in_part == wish->in_part && same_part(wish->in_part, &v->part, &wish->part) &&
            mil_held_fits(v->held, session->plan))
            return v;
        if (v->used < oldest->used)
            oldest = v;
    }
    mil_held_free(oldest->held);
    *oldest = (mil_kept_view){wish->scan, wish->sheet, wish->in_part, wish->part, scale, NULL, 0};
    return oldest;
}

static void drop_all_views(mil_session *session) {
    for (int i = 0; i < MIL_VIEWS; i++) {
        mil_held_free(session->view[i].held);
        session->view[i].held = NULL;
        session->view[i].used = 0;
    }
    milori_clear(session->ctx);
}

static milori_status hold(mil_session *session, const mil_session_wish *wish, double scale,
                          mil_kept_view *view) {
    mil_source *source = mil_scan_measured(session->scan[wish->scan].scan)->source;
    const mil_part_rect *part = wish->in_part ? &wish->part : NULL;
    milori_status status = mil_hold(session->ctx, session->plan, source, part, scale, &view->held);
    if (status != MILORI_ERR_LIMIT)
        return status;
    drop_all_views(session); /* what is kept for later gives way */
    return mil_hold(session->ctx, session->plan, source, part, scale, &view->held);
}

static milori_status room_for(mil_session *session, size_t count) {
    if (count <= session->places_size)
        return MILORI_OK;
    free(session->places);
    session->places_size = 0;
    session->places = mil_alloc(session->ctx, count, sizeof *session->places);
    if (!session->places)
        return MILORI_ERR_MEMORY;
    session->places_size = count;
    return MILORI_OK;
}

milori_status mil_session_plan(mil_session *session, const mil_session_wish *wish,
                               mil_session_picture *picture) {
    milori_status status = make_plan(session, wish);
    if (status != MILORI_OK)
        return status;
    const mil_measured *measured = mil_scan_measured(session->scan[wish->scan].scan);
    *picture = (mil_session_picture){.plan = session->plan,
                                     .separation = &measured->separation[wish->sheet]};
    mil_plan_size(session->plan, &picture->width, &picture->height);
    return MILORI_OK;
}

milori_status mil_session_picture_of(mil_session *session, const mil_session_wish *wish,
                                     mil_session_picture *picture) {
    milori_status status = mil_session_plan(session, wish, picture);
    if (status != MILORI_OK)
        return status;
    double scale = scale_of(session, wish);
    mil_kept_view *view = view_of(session, wish, scale);
    if (!view->held)
        status = hold(session, wish, scale, view);
    if (status != MILORI_OK)
        return status;
    view->used = ++session->clock;
    mil_held_size(view->held, &picture->width, &picture->height);
    status = room_for(session, (size_t)picture->width * picture->height);
    if (status == MILORI_OK)
        status = mil_held_places(session->ctx, view->held, session->plan, session->places);
    picture->places = session->places;
    return status;
}

milori_status mil_session_scan_view(mil_session *session, size_t scan, const mil_part_rect *part,
                                    uint32_t most, const mil_scan_sight **view) {
    milori_status status = mil_session_open(session, scan);
    mil_kept_scan_view *oldest = &session->scan_view[0];
    for (int i = 0; i < MIL_SCAN_VIEWS && status == MILORI_OK; i++) {
        mil_kept_scan_view *v = &session->scan_view[i];
        if (v->view.rgb && v->scan == scan && v->most == most && v->in_part == (part != NULL) &&
            same_part(part != NULL, &v->part, part)) {
            v->used = ++session->clock;
            *view = &v->view;
            return MILORI_OK;
        }
        if (v->used < oldest->used)
            oldest = v;
    }
    if (status != MILORI_OK)
        return status;
    mil_scan_sight_free(&oldest->view);
    *oldest = (mil_kept_scan_view){.scan = scan, .in_part = part != NULL, .most = most};
    if (part)
        oldest->part = *part;
    status = mil_scan_view(session->ctx, mil_scan_measured(session->scan[scan].scan), part, most,
                           &oldest->view);
    oldest->used = status == MILORI_OK ? ++session->clock : 0;
    *view = &oldest->view;
    return status;
}
