#include "print/layout.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "print/paper.h"

/* An eye resolves about a minute of arc: 0.073 mm at 25 cm, or 349 to the inch (computed). 360 is
 * the nearest of the resolutions that inkjet printers work in (common practice, no source). */
static const double DPI = 360;
/* Wider than what most printers cannot reach, and a border to hold the sheet by. */
static const double MARGIN_MM = 15;
static const double SLACK = 1e-6; /* mm: what rounding makes of equal lengths */

void mil_layout_default(mil_layout_wish *wish) {
    *wish = (mil_layout_wish){.paper_mm = {210, 297}, .dpi = DPI};
    for (int i = 0; i < 4; i++)
        wish->margin_mm[i] = MARGIN_MM;
}

/* ---- the user's texts --------------------------------------------------------- */

milori_status mil_layout_size(milori_context *ctx, const char *text, mil_layout_wish *wish) {
    static const struct {
        const char *word;
        mil_side side;
    } sides[] = {{"long=", MIL_SIDE_LONG},
                 {"short=", MIL_SIDE_SHORT},
                 {"width=", MIL_SIDE_WIDTH},
                 {"height=", MIL_SIDE_HEIGHT}};
    wish->side = strcmp(text, "pixels") == 0 ? MIL_SIDE_PIXELS : MIL_SIDE_FIT;
    if (wish->side == MIL_SIDE_PIXELS || strcmp(text, "fit") == 0)
        return MILORI_OK;
    const char *length = text;
    wish->side = MIL_SIDE_LONG;
    for (size_t i = 0; i < sizeof sides / sizeof *sides; i++)
        if (strncmp(text, sides[i].word, strlen(sides[i].word)) == 0) {
            wish->side = sides[i].side;
            length = text + strlen(sides[i].word);
        }
    if (mil_length_mm(length, &wish->side_mm) && wish->side_mm >= 1 && wish->side_mm <= 10000)
        return MILORI_OK;
    return mil_fail_option(
        ctx, "size", text,
        "fit, pixels, or a length of the long side as 180mm, 18cm or 7in; or that of "
        "another as short=, width= or height= before it");
}

/* Lengths between commas; how many, 0 if one is none or there are more than most. */
static size_t lengths(const char *text, size_t most, double *mm) {
    size_t count = 0;
    for (const char *end; text; text = end ? end + 1 : NULL) {
        char part[32];
        end = strchr(text, ',');
        size_t n = end ? (size_t)(end - text) : strlen(text);
        if (count == most || n >= sizeof part)
            return 0;
        memcpy(part, text, n);
        part[n] = 0;
        if (!mil_length_mm(part, &mm[count++]))
            return 0;
    }
    return count;
}

milori_status mil_layout_margin(milori_context *ctx, const char *text, mil_layout_wish *wish) {
    double mm[4];
    size_t count = lengths(text, 4, mm);
    bool good = count == 1 || count == 2 || count == 4;
    for (size_t i = 0; i < count; i++)
        good = good && mm[i] >= 0 && mm[i] <= 2000;
    for (size_t i = 0; i < 4 && good; i++)
        wish->margin_mm[i] = mm[i % count];
    return good ? MILORI_OK
                : mil_fail_option(
                      ctx, "margin", text,
                      "one length as 15mm, two (above and below, then at the sides) or four "
                      "(clockwise from above) with commas");
}

milori_status mil_layout_place(milori_context *ctx, const char *text, mil_layout_wish *wish) {
    static const char *const words[3][3] = {{"top-left", "top", "top-right"},
                                            {"left", "centre", "right"},
                                            {"bottom-left", "bottom", "bottom-right"}};
    wish->placed = false;
    for (int i = 0; i < 9; i++)
        if (strcmp(text, words[i / 3][i % 3]) == 0) {
            wish->across = i % 3 - 1;
            wish->down = i / 3 - 1;
            return MILORI_OK;
        }
    wish->placed = lengths(text, 2, wish->place_mm) == 2;
    if (wish->placed && wish->place_mm[0] >= 0 && wish->place_mm[1] >= 0)
        return MILORI_OK;
    return mil_fail_option(
        ctx, "place", text,
        "centre, top, bottom, left, right, top-left and so on, or how far its corner lies "
        "from the paper's left and top as 20mm,30mm");
}

/* ---- lengths ------------------------------------------------------------------ */

void mil_layout_room(const mil_layout_wish *wish, double mm[2]) {
    mm[0] = wish->paper_mm[0] - wish->margin_mm[3] - wish->margin_mm[1];
    mm[1] = wish->paper_mm[1] - wish->margin_mm[0] - wish->margin_mm[2];
}

static void set_size(const mil_layout_wish *wish, const double room[2], const double px[2],
                     double mm[2]) {
    double scale = 1, wider = fmax(px[0], px[1]), narrower = fmin(px[0], px[1]);
    switch (wish->side) {
    case MIL_SIDE_FIT:
        scale = fmin(room[0] / px[0], room[1] / px[1]);
        break;
    case MIL_SIDE_LONG:
        scale = wish->side_mm / wider;
        break;
    case MIL_SIDE_SHORT:
        scale = wish->side_mm / narrower;
        break;
    case MIL_SIDE_WIDTH:
        scale = wish->side_mm / px[0];
        break;
    case MIL_SIDE_HEIGHT:
        scale = wish->side_mm / px[1];
        break;
    case MIL_SIDE_PIXELS:
        scale = 25.4 / wish->dpi;
        break;
    }
    mm[0] = px[0] * scale;
    mm[1] = px[1] * scale;
}

/* What does not fit, and what would. */
static milori_status too_large(milori_context *ctx, const mil_layout_wish *wish,
                               const double room[2], const double mm[2]) {
    double whole[2] = {mm[0] + wish->margin_mm[1] + wish->margin_mm[3],
                       mm[1] + wish->margin_mm[0] + wish->margin_mm[2]};
    double fits = fmin(room[0] / mm[0], room[1] / mm[1]) * fmax(mm[0], mm[1]);
    const char *paper = wish->placed ? NULL : mil_paper_for(whole);
    char larger[64] = "";
    if (paper)
        snprintf(larger, sizeof larger, ", or --paper %s", paper);
    if (wish->placed)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "a picture of %.0f x %.0f mm does not lie on paper of %.0f x %.0f mm at "
                        "the --place given; make it smaller or move it",
                        mm[0], mm[1], wish->paper_mm[0], wish->paper_mm[1]);
    return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                    "a picture of %.0f x %.0f mm does not fit within the margins, %.0f x %.0f mm; "
                    "give --size %.0fmm or less, a smaller --margin%s",
                    mm[0], mm[1], room[0], room[1], floor(fits), larger);
}

static milori_status check_room(milori_context *ctx, const mil_layout_wish *wish,
                                const double room[2]) {
    if (room[0] >= 10 && room[1] >= 10)
        return MILORI_OK;
    return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                    "the margins leave %.0f x %.0f mm of %.0f x %.0f mm paper; give a smaller "
                    "--margin or a larger --paper",
                    fmax(room[0], 0), fmax(room[1], 0), wish->paper_mm[0], wish->paper_mm[1]);
}

/* ---- px ----------------------------------------------------------------------- */

static void to_px(const mil_layout_wish *wish, const double at[2], const double px[2],
                  mil_layout *layout) {
    for (int i = 0; i < 2; i++) {
        layout->picture[i] = wish->side == MIL_SIDE_PIXELS
                                 ? (uint32_t)px[i]
                                 : mil_px_of_mm(layout->picture_mm[i], wish->dpi);
        layout->picture[i] = layout->picture[i] ? layout->picture[i] : 1;
        layout->page[i] =
            wish->no_paper ? layout->picture[i] : mil_px_of_mm(layout->paper_mm[i], wish->dpi);
        /* Each is rounded alone; what touches an edge must not pass it by a px. */
        if (layout->picture[i] > layout->page[i])
            layout->picture[i] = layout->page[i];
        layout->at[i] = mil_px_of_mm(at[i], wish->dpi);
        if (layout->at[i] > layout->page[i] - layout->picture[i])
            layout->at[i] = layout->page[i] - layout->picture[i];
    }
}

/* Paper that may be turned is turned as the picture lies. */
static mil_layout_wish turned(const mil_layout_wish *wish, const double px[2]) {
    mil_layout_wish w = *wish;
    bool across = px[0] > px[1], lies_across = w.paper_mm[0] > w.paper_mm[1];
    if (!w.paper_lies && across != lies_across) {
        w.paper_mm[0] = wish->paper_mm[1];
        w.paper_mm[1] = wish->paper_mm[0];
    }
    return w;
}

void mil_layout_picture(const mil_layout_wish *wish, uint32_t width, uint32_t height,
                        double mm[2]) {
    const double px[2] = {width, height};
    double room[2];
    mil_layout_wish w = turned(wish, px);
    mil_layout_room(&w, room);
    set_size(&w, room, px, mm);
}

static milori_status alone(milori_context *ctx, const mil_layout_wish *wish, const double px[2],
                           mil_layout *layout) {
    static const double corner[2] = {0, 0};
    if (wish->side == MIL_SIDE_FIT)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "without paper the picture needs a size of its own; give --size 180mm");
    set_size(wish, corner, px, layout->picture_mm);
    memcpy(layout->paper_mm, layout->picture_mm, sizeof layout->paper_mm);
    to_px(wish, corner, px, layout);
    return MILORI_OK;
}

milori_status mil_layout_make(milori_context *ctx, const mil_layout_wish *wish, uint32_t width,
                              uint32_t height, mil_layout *layout) {
    const double px[2] = {width, height};
    *layout = (mil_layout){.dpi = wish->dpi};
    if (wish->no_paper)
        return alone(ctx, wish, px, layout);
    mil_layout_wish w = turned(wish, px);
    double room[2], at[2], *mm = layout->picture_mm;
    mil_layout_room(&w, room);
    milori_status status = check_room(ctx, &w, room);
    if (status != MILORI_OK)
        return status;
    set_size(&w, room, px, mm);
    memcpy(layout->paper_mm, w.paper_mm, sizeof layout->paper_mm);
    for (int i = 0; i < 2; i++) {
        int where = i == 0 ? w.across : w.down;
        double start = w.margin_mm[i == 0 ? 3 : 0], end = w.paper_mm[i];
        at[i] = w.placed ? w.place_mm[i] : start + (room[i] - mm[i]) * (where + 1) / 2;
        if (mm[i] > (w.placed ? end - at[i] : room[i]) + SLACK)
            return too_large(ctx, &w, room, mm);
    }
    to_px(&w, at, px, layout);
    return MILORI_OK;
}
