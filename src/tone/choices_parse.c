#include "base/frames.h"
#include "sheet/geometry.h"
#include "tone/choices.h"
#include "tone/palette.h"
#include "tone/tone.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

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

/* text in small letters without its blanks; false if it is as long as size. */
static bool squeeze(const char *text, char *word, size_t size) {
    size_t n = 0;
    for (; *text; text++) {
        if (strchr(blanks, *text))
            continue;
        if (n + 1 >= size)
            return false;
        word[n++] = (char)tolower((unsigned char)*text);
    }
    word[n] = 0;
    return true;
}

static bool parse_frame(const char *given, milori_choices *choices) {
    double *mm = choices->frame_mm;
    char text[64];
    mm[0] = mm[1] = NAN;
    choices->whole_sheet = false;
    if (!squeeze(given, text, sizeof text))
        return false;
    const mil_frame_size *known = mil_frame_named(text);
    choices->whole_sheet = strcmp(text, "sheet") == 0;
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

static milori_status parse_corners(milori_context *ctx, const char *text, milori_choices *choices) {
    memset(choices->corners_px, 0, sizeof choices->corners_px);
    choices->corners_given = strcmp(text, "auto") != 0;
    if (!choices->corners_given)
        return MILORI_OK;
    if (parse_points(text, choices->corners_px, 4) != 4)
        return MILORI_ERR_ARGUMENT;
    if (mil_corners_take(choices->corners_px))
        return MILORI_OK;
    if (ctx)
        mil_fail(ctx, MILORI_ERR_ARGUMENT,
                 "--corners %s: these are no frame: two fall together, lie in line or their sides "
                 "cross; give the corners one after the other round the frame",
                 text);
    return MILORI_ERR_ARGUMENT;
}

bool mil_corners_take(double (*corners)[2]) {
    int turns = 0;
    for (int i = 0; i < 4; i++) {
        const double *a = corners[i], *b = corners[(i + 1) % 4], *c = corners[(i + 2) % 4];
        double turn = (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]);
        turns += (turn > 0) - (turn < 0);
    }
    mil_rect rect;
    mil_corners_sort(corners);
    return (turns == 4 || turns == -4) && mil_rect_fit(corners, &rect);
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

/* What is rather a word misspelt than the name of a file. */
static bool is_word(const char *text) {
    return !strchr(text, '/') && !strchr(text, '.');
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
    if (ctx && is_word(text) && access(text, F_OK) != 0)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "--palette %s: give neutral, amber, blue or the name of a palette file",
                        text);
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
        return parse_corners(ctx, text, choices);
    case MIL_CHOICE_SPOTS:
        read = parse_spots(text, choices);
        break;
    }
    return read ? MILORI_OK : MILORI_ERR_ARGUMENT;
}
