/* Questions whose answers are seen: pictures and curves. */
#include <math.h>
#include <stdlib.h>

#include "view/curves.h"
#include "view/easel_private.h"

/* Pictures go to the page as they are, 4 bytes a px: red, green, blue in sRGB and a mark. */
enum { MOST_SIDE = 4096, MOST_PIXELS = 1 << 24 };
/* Marks in the fourth byte: a tone that a print keeps, and ones that run out in black or white. */
enum { KEPT = 255, LOST_DARK = 254, LOST_LIGHT = 253 };
/* Places on the palette from which on tones no longer stand apart: 1 in 255, a step of 8 bits. */
enum { DARK_END = 257, LIGHT_END = 65535 - 257 };

static void set_size(mil_answer *answer, uint32_t width, uint32_t height) {
    snprintf(answer->extra, sizeof answer->extra, "%u %u", width, height);
    answer->status = 200;
    answer->type = "application/octet-stream";
}

static uint8_t byte_of(uint16_t code) {
    return (uint8_t)((code * 255u + 32767u) / 65535u);
}

static milori_status as_bytes(milori_context *ctx, const mil_session_picture *picture,
                              mil_answer *answer) {
    const uint16_t *codes = mil_plan_codes(picture->plan);
    size_t count = (size_t)picture->width * picture->height;
    uint8_t(*px)[4] = mil_alloc(ctx, count, sizeof *px);
    if (!px)
        return MILORI_ERR_MEMORY;
    for (size_t i = 0; i < count; i++) {
        uint16_t place = picture->places[i];
        for (size_t c = 0; c < 3; c++)
            px[i][c] = byte_of(codes[(size_t)place * 3 + c]);
        px[i][3] = place <= DARK_END ? LOST_DARK : place >= LIGHT_END ? LOST_LIGHT : KEPT;
    }
    answer->body = px;
    answer->size = count * sizeof *px;
    return MILORI_OK;
}

/* 16 bit codes, low byte first, 3 a px: what a 16 bit positive in sRGB holds. */
static milori_status as_words(milori_context *ctx, const mil_session_picture *picture,
                              mil_answer *answer) {
    const uint16_t *codes = mil_plan_codes(picture->plan);
    size_t count = (size_t)picture->width * picture->height;
    uint8_t *bytes = mil_alloc(ctx, count, 6);
    if (!bytes)
        return MILORI_ERR_MEMORY;
    for (size_t i = 0; i < count; i++)
        for (size_t c = 0; c < 3; c++) {
            uint16_t code = codes[picture->places[i] * (size_t)3 + c];
            bytes[6 * i + 2 * c] = (uint8_t)(code & 255);
            bytes[6 * i + 2 * c + 1] = (uint8_t)(code >> 8);
        }
    answer->body = bytes;
    answer->size = count * 6;
    return MILORI_OK;
}

static milori_status read_wish(mil_easel *easel, const json_t *in, mil_session_wish *wish) {
    int64_t most = 1024;
    milori_status status = mil_ask_sheet(easel, in, &wish->scan, &wish->sheet);
    if (status == MILORI_OK)
        status = mil_ask_choices(easel, in, "choices", &wish->choices);
    if (status == MILORI_OK)
        status = mil_ask_part(easel, in, &wish->in_part, &wish->part);
    if (status == MILORI_OK)
        status = mil_ask_whole(easel, in, "most", 0, MOST_SIDE, &most);
    wish->most = (uint32_t)most;
    return status;
}

/* At full scale no more than can be shown; and within the positive. */
static milori_status check_wish(mil_easel *easel, const mil_session_wish *wish) {
    mil_session_picture whole;
    milori_status status = mil_session_plan(easel->session, wish, &whole);
    if (status != MILORI_OK)
        return status;
    double w = wish->in_part ? wish->part.w : whole.width;
    double h = wish->in_part ? wish->part.h : whole.height;
    if (wish->in_part &&
        (wish->part.x + wish->part.w > whole.width || wish->part.y + wish->part.h > whole.height))
        return mil_fail(easel->ctx, MILORI_ERR_ARGUMENT, "that part lies outside the picture");
    if (wish->most == 0 && w * h > MOST_PIXELS)
        return mil_fail(easel->ctx, MILORI_ERR_ARGUMENT, "ask for a smaller part at full scale");
    return MILORI_OK;
}

milori_status mil_ask_picture(mil_easel *easel, const json_t *in, mil_answer *answer) {
    mil_session_wish wish = {0};
    mil_session_picture picture;
    int64_t depth = 8;
    milori_status status = read_wish(easel, in, &wish);
    if (status == MILORI_OK)
        status = mil_ask_whole(easel, in, "depth", 8, 16, &depth);
    if (status == MILORI_OK)
        status = check_wish(easel, &wish);
    if (status == MILORI_OK)
        status = mil_session_picture_of(easel->session, &wish, &picture);
    if (status != MILORI_OK)
        return status;
    set_size(answer, picture.width, picture.height);
    return depth == 16 ? as_words(easel->ctx, &picture, answer)
                       : as_bytes(easel->ctx, &picture, answer);
}

milori_status mil_ask_scan_picture(mil_easel *easel, const json_t *in, mil_answer *answer) {
    size_t scan;
    int sheet;
    int64_t most = 1024;
    bool in_part = false;
    mil_part_rect part;
    const mil_scan_sight *view = NULL;
    milori_status status = mil_ask_sheet(easel, in, &scan, &sheet);
    if (status == MILORI_OK)
        status = mil_ask_part(easel, in, &in_part, &part);
    if (status == MILORI_OK)
        status = mil_ask_whole(easel, in, "most", 16, MOST_SIDE, &most);
    if (status == MILORI_OK)
        status = mil_session_scan_view(easel->session, scan, in_part ? &part : NULL, (uint32_t)most,
                                       &view);
    if (status != MILORI_OK)
        return status;
    size_t count = (size_t)view->width * view->height;
    uint8_t(*px)[4] = mil_alloc(easel->ctx, count, sizeof *px);
    if (!px)
        return MILORI_ERR_MEMORY;
    for (size_t i = 0; i < count; i++) {
        for (int c = 0; c < 3; c++)
            px[i][c] = view->rgb[3 * i + (size_t)c];
        px[i][3] = KEPT;
    }
    set_size(answer, view->width, view->height);
    answer->body = px;
    answer->size = count * sizeof *px;
    return MILORI_OK;
}

static json_t *number(double value) {
    return isfinite(value) ? json_real(value) : json_null();
}

static json_t *samples(const double *value) {
    json_t *array = json_array();
    for (int i = 0; i < MIL_CURVE_SAMPLES; i++)
        json_array_append_new(array, number(value[i]));
    return array;
}

milori_status mil_ask_curves(mil_easel *easel, const json_t *in, mil_answer *answer) {
    mil_session_wish wish = {0};
    mil_session_picture picture;
    mil_curves curves;
    milori_status status = read_wish(easel, in, &wish);
    if (status == MILORI_OK)
        status = mil_session_plan(easel->session, &wish, &picture);
    if (status != MILORI_OK)
        return status;
    const mil_tone *tone = mil_plan_tone(picture.plan);
    status = mil_curves_make(easel->ctx, tone, picture.separation, &wish.choices, &curves);
    if (status != MILORI_OK)
        return status;
    mil_answer_json(
        answer, json_pack("{so so so so so so so so so so so so}", "light", samples(curves.light),
                          "density", samples(curves.density), "amount", samples(curves.amount),
                          "place", samples(curves.place), "lightness", samples(curves.lightness),
                          "dark", number(curves.dark), "light_tones", number(curves.light_tones),
                          "grain", number(curves.grain), "fog_density", number(curves.fog_density),
                          "grade", number(tone->grade), "automatic_stops",
                          number(tone->automatic_stops), "veil", number(picture.separation->veil)));
    return MILORI_OK;
}
