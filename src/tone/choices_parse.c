#include "base/frames.h"
#include "tone/choices.h"
#include "tone/palette.h"
#include "tone/tone.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char blanks[] = " \t\r\n";

/* A number that goes on to one of the bytes of ends, or the text's end; NULL if
 * there is none, else where it ends. */
static const char *take_number(const char *p, const char *ends, double *value) {
    char word[64];
    p += strspn(p, blanks);
    size_t n = strcspn(p, ends);
    if (n >= sizeof word)
        return NULL;
    memcpy(word, p, n);
    word[n] = 0;
    return mil_parse_number(word, value) ? p + n : NULL;
}

/* "x,y x,y ..."; how many, or 0 if it is not that or more than most. */
static size_t parse_points(const char *text, double (*points)[2], size_t most) {
    size_t count = 0;
    for (const char *p = text + strspn(text, blanks); *p; p += strspn(p, blanks)) {
        if (count == most || !(p = take_number(p, ",", &points[count][0])) || *p != ',' ||
            !(p = take_number(p + 1, blanks, &points[count][1])))
            return 0;
        count++;
    }
    return count;
}

void mil_order_corners(double (*p)[2]) {
    double x = (p[0][0] + p[1][0] + p[2][0] + p[3][0]) / 4;
    double y = (p[0][1] + p[1][1] + p[2][1] + p[3][1]) / 4;
    double sorted[4][2];
    for (int n = 0; n < 4; n++) { /* insertion by angle, clockwise as y points down */
        double angle = atan2(p[n][1] - y, p[n][0] - x);
        int at = n;
        for (; at > 0 && atan2(sorted[at - 1][1] - y, sorted[at - 1][0] - x) > angle; at--)
            memcpy(sorted[at], sorted[at - 1], sizeof sorted[at]);
        memcpy(sorted[at], p[n], sizeof sorted[at]);
    }
    int first = 0;
    for (int i = 1; i < 4; i++)
        if (sorted[i][0] + sorted[i][1] < sorted[first][0] + sorted[first][1])
            first = i;
    for (int i = 0; i < 4; i++)
        memcpy(p[i], sorted[(first + i) % 4], sizeof p[i]);
}

static bool parse_frame(const char *text, milori_choices *choices) {
    double *mm = choices->frame_mm;
    const mil_frame_size *known = mil_frame_named(text);
    choices->whole_sheet = strcmp(text, "sheet") == 0;
    mm[0] = mm[1] = NAN;
    if (choices->whole_sheet || strcmp(text, "auto") == 0)
        return true;
    if (known) {
        mm[0] = known->width_mm;
        mm[1] = known->height_mm;
        return true;
    }
    const char *p = take_number(text, "x", &mm[0]);
    return p && *p == 'x' && take_number(p + 1, "", &mm[1]);
}

static bool parse_corners(const char *text, milori_choices *choices) {
    memset(choices->corners_px, 0, sizeof choices->corners_px);
    choices->corners_given = strcmp(text, "auto") != 0;
    if (!choices->corners_given)
        return true;
    bool four = parse_points(text, choices->corners_px, 4) == 4;
    mil_order_corners(choices->corners_px);
    return four;
}

static bool parse_spots(const char *text, milori_choices *choices) {
    memset(choices->spot_px, 0, sizeof choices->spot_px);
    choices->spots = 0;
    if (strcmp(text, "none") == 0)
        return true;
    choices->spots = parse_points(text, choices->spot_px, MILORI_SPOT_MAX);
    return choices->spots > 0;
}

static milori_status parse_curve(milori_context *ctx, const char *text, milori_choices *choices) {
    memset(choices->curve, 0, sizeof choices->curve);
    choices->curve_points = 0;
    return strcmp(text, "none") == 0 ? MILORI_OK : mil_curve_read(ctx, text, choices);
}

static milori_status parse_palette(milori_context *ctx, const mil_choice_info *info,
                                   const char *text, milori_choices *choices) {
    memset(choices->palette_name, 0, sizeof choices->palette_name);
    memset(choices->palette_stop, 0, sizeof choices->palette_stop);
    choices->palette_stops = 0;
    int word = mil_choice_word(info, text);
    if (word >= 0 && word != MILORI_PALETTE_FILE) {
        choices->palette = (milori_palette)word;
        return MILORI_OK;
    }
    return mil_palette_read(ctx, text, choices);
}

static bool parse_name(const mil_choice_info *info, const char *text, char *field) {
    size_t n = strlen(text);
    if (n >= MILORI_PATH_MAX)
        return false;
    memset(field, 0, MILORI_PATH_MAX);
    if (mil_choice_word(info, text) != 0)
        memcpy(field, text, n);
    return true;
}

static bool parse_number(const mil_choice_info *info, const char *text, double *value) {
    if (strcmp(text, "auto") == 0 && mil_choice_word(info, text) == 0) {
        *value = NAN;
        return true;
    }
    return mil_parse_number(text, value);
}

static bool parse_whole(const mil_choice_info *info, const char *text, int *value) {
    double number;
    if (!mil_parse_number(text, &number) || number != floor(number) || number < info->low ||
        number > info->high)
        return false;
    *value = (int)number;
    return true;
}

static bool parse_word(const mil_choice_info *info, const char *text, void *field) {
    int word = mil_choice_word(info, text);
    if (info->kind == MIL_CHOICE_SWITCH)
        *(bool *)field = word == 1;
    else
        memcpy(field, &word, sizeof word);
    return word >= 0;
}

milori_status mil_choice_parse(milori_context *ctx, const mil_choice_info *info, const char *text,
                               milori_choices *choices) {
    void *field = (char *)choices + info->offset;
    bool read = false;
    switch (info->kind) {
    case MIL_CHOICE_WORD:
    case MIL_CHOICE_SWITCH:
        read = parse_word(info, text, field);
        break;
    case MIL_CHOICE_WHOLE:
        read = parse_whole(info, text, field);
        break;
    case MIL_CHOICE_NUMBER:
        read = parse_number(info, text, field);
        break;
    case MIL_CHOICE_NAME:
        read = parse_name(info, text, field);
        break;
    case MIL_CHOICE_CURVE:
        return parse_curve(ctx, text, choices);
    case MIL_CHOICE_PALETTE:
        return parse_palette(ctx, info, text, choices);
    case MIL_CHOICE_FRAME:
        read = parse_frame(text, choices);
        break;
    case MIL_CHOICE_CORNERS:
        read = parse_corners(text, choices);
        break;
    case MIL_CHOICE_SPOTS:
        read = parse_spots(text, choices);
        break;
    }
    return read ? MILORI_OK : MILORI_ERR_ARGUMENT;
}
