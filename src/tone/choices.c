#include "tone/choices.h"
#include "sheet/geometry.h"
#include "tone/palette.h"
#include "tone/tone.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

_Static_assert(sizeof(milori_format) == sizeof(int) && sizeof(milori_intent) == sizeof(int) &&
                   sizeof(milori_shape) == sizeof(int) && sizeof(milori_sun) == sizeof(int) &&
                   sizeof(milori_palette) == sizeof(int),
               "words are stored through int");

static bool within(double x, double low, double high) {
    return x >= low && x <= high;
}

static bool points_fit(const mil_choice_info *info, const double (*points)[2], size_t count) {
    for (size_t i = 0; i < count; i++)
        if (!within(points[i][0], info->low, info->high) ||
            !within(points[i][1], info->low, info->high))
            return false;
    return true;
}

static bool palette_fits(const milori_choices *c) {
    if (c->palette != MILORI_PALETTE_FILE)
        return c->palette == MILORI_NEUTRAL || c->palette == MILORI_AMBER ||
               c->palette == MILORI_BLUE;
    size_t which;
    return memchr(c->palette_name, 0, sizeof c->palette_name) &&
           !mil_palette_fault(c->palette_stop, c->palette_stops, &which);
}

static bool frame_fits(const mil_choice_info *info, const milori_choices *c) {
    if (isnan(c->frame_mm[0]) && isnan(c->frame_mm[1]))
        return true;
    return !c->whole_sheet && points_fit(info, &c->frame_mm, 1);
}

bool mil_choice_fits(const mil_choice_info *info, const milori_choices *choices) {
    const void *field = (const char *)choices + info->offset;
    char word[16];
    int whole;
    double number;
    mil_rect rect;
    switch (info->kind) {
    case MIL_CHOICE_WORD:
        memcpy(&whole, field, sizeof whole);
        return mil_choice_word_of(info, whole, word, sizeof word);
    case MIL_CHOICE_SWITCH:
        return true;
    case MIL_CHOICE_WHOLE:
        memcpy(&whole, field, sizeof whole);
        return within(whole, info->low, info->high);
    case MIL_CHOICE_NUMBER:
        memcpy(&number, field, sizeof number);
        return within(number, info->low, info->high) ||
               (isnan(number) && mil_choice_word(info, "auto") == 0);
    case MIL_CHOICE_NAME:
        return memchr(field, 0, MILORI_PATH_MAX) != NULL;
    case MIL_CHOICE_CURVE:
        return choices->curve_points == 0 || mil_curve_valid(choices->curve, choices->curve_points);
    case MIL_CHOICE_PALETTE:
        return palette_fits(choices);
    case MIL_CHOICE_FRAME:
        return frame_fits(info, choices);
    case MIL_CHOICE_CORNERS:
        return !choices->corners_given || (points_fit(info, choices->corners_px, 4) &&
                                           mil_rect_fit(choices->corners_px, &rect));
    case MIL_CHOICE_SPOTS:
        return choices->spots <= MILORI_SPOT_MAX &&
               points_fit(info, choices->spot_px, choices->spots);
    }
    return false;
}

void milori_choices_default(milori_choices *choices) {
    size_t count;
    const mil_choice_info *table = mil_choice_table(&count);
    memset(choices, 0, sizeof *choices);
    choices->struct_size = sizeof *choices;
    for (size_t i = 0; i < count; i++)
        mil_choice_parse(NULL, &table[i], table[i].first, choices);
}

milori_status mil_choices_sized(milori_context *ctx, const milori_choices *choices) {
    if (choices->struct_size == sizeof *choices)
        return MILORI_OK;
    return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                    "choices: not made by milori_choices_default() of this version; start there");
}

/* "; write 0.5" for a number with a decimal comma, else "". */
static void point_hint(const mil_choice_info *info, const char *text, char *hint, size_t size) {
    char number[64];
    double value;
    const char *comma = strchr(text, ',');
    hint[0] = 0;
    if (info->kind != MIL_CHOICE_NUMBER || !comma || strlen(text) >= sizeof number)
        return;
    snprintf(number, sizeof number, "%.*s.%s", (int)(comma - text), text, comma + 1);
    if (mil_parse_number(number, &value))
        snprintf(hint, size, "; write %s", number);
}

milori_status milori_choice_set(milori_context *ctx, milori_choices *choices, const char *name,
                                const char *text) {
    milori_status status = mil_choices_sized(ctx, choices);
    if (status)
        return status;
    const mil_choice_info *info = mil_choice_named(name);
    if (!info)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "--%s: no such choice; milori-positive(1) names them", name);
    milori_choices next = *choices;
    status = mil_choice_parse(ctx, info, text, &next);
    if (status == MILORI_OK && mil_choice_fits(info, &next)) {
        *choices = next;
        return MILORI_OK;
    }
    if (status && status != MILORI_ERR_ARGUMENT) /* of the file that text names */
        return status;
    char expects[192], hint[96];
    mil_choice_expects(info, expects, sizeof expects);
    point_hint(info, text, hint, sizeof hint);
    return mil_fail(ctx, MILORI_ERR_ARGUMENT, "--%s %s: give %s%s", name, text, expects, hint);
}

int mil_choices_depth(const milori_choices *choices) {
    if (choices->depth)
        return choices->depth;
    return choices->format == MILORI_JPEG ? 8 : 16;
}

milori_status mil_choices_check(milori_context *ctx, const milori_choices *choices) {
    size_t count;
    const mil_choice_info *table = mil_choice_table(&count);
    milori_status status = mil_choices_sized(ctx, choices);
    if (status)
        return status;
    for (size_t i = 0; i < count; i++) {
        if (mil_choice_fits(&table[i], choices))
            continue;
        char expects[192];
        mil_choice_expects(&table[i], expects, sizeof expects);
        return mil_fail(ctx, MILORI_ERR_ARGUMENT, "--%s: give %s", table[i].name, expects);
    }
    if (choices->format == MILORI_JPEG && choices->depth == 16)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "--depth 16: JPEG holds 8 bits; give --depth 8, or --format tiff or png");
    return MILORI_OK;
}

void mil_choices_forget_sheet(milori_choices *choices) {
    size_t count;
    const mil_choice_info *table = mil_choice_table(&count);
    for (size_t i = 0; i < count; i++)
        if (table[i].one_sheet)
            mil_choice_parse(NULL, &table[i], table[i].first, choices);
}
