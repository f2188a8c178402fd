#include "base/frames.h"
#include "tone/choices.h"

#include <stdio.h>
#include <string.h>

#define AT(field) offsetof(milori_choices, field)

static const mil_choice_info table[] = {
    {"format", "tiff|png|jpeg", "tiff", "kind of file written", MIL_CHOICE_WORD, AT(format), 0, 0,
     false},
    {"depth", "auto|8|16", "auto", "bits a sample; auto: 16, or 8 for JPEG", MIL_CHOICE_WORD,
     AT(depth), 0, 0, false},
    {"quality", "N", "95", "of JPEG, 1 to 100", MIL_CHOICE_WHOLE, AT(quality), 1, 100, false},
    {"profile", "sRGB|FILE", "sRGB", "ICC profile of the positive", MIL_CHOICE_NAME, AT(profile), 0,
     0, false},
    {"intent", "perceptual|relative|saturation|absolute", "relative",
     "rendering intent into that profile", MIL_CHOICE_WORD, AT(intent), 0, 0, false},
    {"black-point", "off|on", "on", "black point compensation", MIL_CHOICE_SWITCH, AT(black_point),
     0, 0, false},
    {"stops", "N", "0", "+ lighter, - darker, beyond the automatic", MIL_CHOICE_NUMBER, AT(stops),
     -10, 10, false},
    {"grade", "auto|N", "auto", "0 very soft to 5 extra hard; -2 to 8", MIL_CHOICE_NUMBER,
     AT(grade), -2, 8, false},
    {"soften-shadows", "N", "0", "let the dark end run out more gently, 0 to 1", MIL_CHOICE_NUMBER,
     AT(soften_shadows), 0, 1, false},
    {"soften-lights", "N", "0", "let the light end run out more gently, 0 to 1", MIL_CHOICE_NUMBER,
     AT(soften_lights), 0, 1, false},
    {"veil", "auto|PERCENT", "auto", "take off evenly spread light, 0 to 95 per cent of the range",
     MIL_CHOICE_NUMBER, AT(veil), 0, 95, false},
    {"curve", "none|FILE", "none", "tones in and out, a pair a line, applied last",
     MIL_CHOICE_CURVE, AT(curve_points), 0, 0, false},
    {"dodge", "none|FILE", "none", "grey picture over the frame: its white lightens",
     MIL_CHOICE_NAME, AT(dodge), 0, 0, false},
    {"dodge-stops", "N", "1", "what its white adds and its black takes", MIL_CHOICE_NUMBER,
     AT(dodge_stops), -10, 10, false},
    {"palette", "neutral|amber|blue|FILE", "neutral", "colours that the tones run along",
     MIL_CHOICE_PALETTE, AT(palette), 0, 0, false},
    {"sun", "black|white", "black", "what a sun reversal becomes", MIL_CHOICE_WORD, AT(sun), 0, 0,
     false},
    {"reading", "right|as-scanned", "right", "undo the lateral reversal, or keep it",
     MIL_CHOICE_SWITCH, AT(as_scanned), 0, 0, false},
    {"turn", "0|90|180|270", "0", "degrees clockwise; up cannot be known", MIL_CHOICE_WORD,
     AT(turn), 0, 0, false},
    {"dpi", "auto|N", "auto", "resolution of the scan, if its file tells none or wrongly",
     MIL_CHOICE_NUMBER, AT(dpi), 30, 20000, false},
    {"shape", "auto|rectangle|round", "auto", "of the camera's frame", MIL_CHOICE_WORD, AT(shape),
     0, 0, false},
    {"frame", "auto|sheet|SIZE", "auto",
     "frame size: 6x6, 4x5 and so on, or WxH in mm; sheet: all the paper", MIL_CHOICE_FRAME,
     AT(frame_mm), 20, 1000, false},
    {"corners", "auto|\"X,Y X,Y X,Y X,Y\"", "auto",
     "the frame's corners in turn, px of the upright scan", MIL_CHOICE_CORNERS, AT(corners_given),
     -1e6, 1e6, true},
    {"unexposed", "none|\"X,Y ...\"", "none", "spots without light, px of the upright scan",
     MIL_CHOICE_SPOTS, AT(spots), -1e6, 1e6, true},
};
enum { COUNT = sizeof table / sizeof *table };

const mil_choice_info *mil_choice_table(size_t *count) {
    *count = COUNT;
    return table;
}

const mil_choice_info *mil_choice_named(const char *name) {
    for (size_t i = 0; i < COUNT; i++)
        if (strcmp(table[i].name, name) == 0)
            return &table[i];
    return NULL;
}

/* Word number place of "a|b|c" and its value; false if there are not so many or
 * it is as long as size. */
static bool nth_word(const char *values, int place, char *word, size_t size, int *value) {
    for (int i = 0; i < place; i++) {
        values = strchr(values, '|');
        if (!values)
            return false;
        values++;
    }
    size_t n = strcspn(values, "|");
    double number;
    if (n >= size)
        return false;
    memcpy(word, values, n);
    word[n] = 0;
    *value = mil_parse_number(word, &number) ? (int)number : place;
    return true;
}

int mil_choice_word(const mil_choice_info *info, const char *text) {
    char word[16];
    int value;
    for (int place = 0; nth_word(info->values, place, word, sizeof word, &value); place++)
        if (strcmp(word, text) == 0)
            return value;
    return -1;
}

bool mil_choice_word_of(const mil_choice_info *info, int value, char *word, size_t size) {
    int its;
    for (int place = 0; nth_word(info->values, place, word, size, &its); place++)
        if (its == value)
            return true;
    return false;
}

/* "a|b|c" as "a, b or c" */
static void list_words(const char *values, char *text, size_t size) {
    size_t used = 0;
    for (const char *v = values; *v && used + 5 < size; v++) {
        if (*v == '|')
            used += (size_t)snprintf(text + used, size - used, strchr(v + 1, '|') ? ", " : " or ");
        else
            text[used++] = *v;
    }
    text[used] = 0;
}

static void list_sizes(const mil_choice_info *info, char *text, size_t size) {
    size_t count, used = (size_t)snprintf(text, size, "auto, sheet");
    const mil_frame_size *known = mil_frame_sizes(&count);
    for (size_t i = 0; i < count && used < size; i++)
        used += (size_t)snprintf(text + used, size - used, ", %s", known[i].name);
    if (used < size)
        snprintf(text + used, size - used, ", or width x height in mm (%d to %d), such as 56x84",
                 (int)info->low, (int)info->high);
}

void mil_choice_expects(const mil_choice_info *info, char *text, size_t size) {
    bool automatic = strncmp(info->values, "auto|", 5) == 0;
    const char *other = automatic ? "auto or " : "";
    switch (info->kind) {
    case MIL_CHOICE_WORD:
    case MIL_CHOICE_SWITCH:
        list_words(info->values, text, size);
        return;
    case MIL_CHOICE_WHOLE:
        snprintf(text, size, "a whole number from %d to %d", (int)info->low, (int)info->high);
        return;
    case MIL_CHOICE_NUMBER:
        snprintf(text, size, "%sa number from %d to %d", other, (int)info->low, (int)info->high);
        return;
    case MIL_CHOICE_NAME:
        snprintf(text, size, "%.*s or a file name of under %d bytes",
                 (int)strcspn(info->values, "|"), info->values, MILORI_PATH_MAX);
        return;
    case MIL_CHOICE_CURVE:
        snprintf(text, size, "none or 2 to %d pairs of tones, 0 to 1, the first of each rising",
                 MILORI_CURVE_MAX);
        return;
    case MIL_CHOICE_PALETTE:
        snprintf(text, size, "neutral, amber, blue or 2 to %d colours from dark to light",
                 MILORI_PALETTE_MAX);
        return;
    case MIL_CHOICE_FRAME:
        list_sizes(info, text, size);
        return;
    case MIL_CHOICE_CORNERS:
        snprintf(text, size,
                 "auto or the four corners of the frame, one after the other round it, as \"x,y "
                 "x,y x,y x,y\"");
        return;
    case MIL_CHOICE_SPOTS:
        snprintf(text, size, "none or 1 to %d places as \"x,y x,y\"", MILORI_SPOT_MAX);
        return;
    }
}
