#include "print/test_strip.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tone/choices.h"

/* What is not looked at in strips: the file, the place, and what the sheet is. */
static const char *const outside[] = {"format",  "depth", "quality", "profile", "turn",     "dpi",
                                      "reading", "shape", "frame",   "corners", "unexposed"};

static milori_status bad(milori_context *ctx, const char *text, const char *why) {
    char *shown = mil_printable(text);
    mil_fail(ctx, MILORI_ERR_ARGUMENT, "--test-strip: \"%s\" %s", shown ? shown : "", why);
    free(shown);
    return MILORI_ERR_ARGUMENT;
}

static void add(mil_strip_wish *wish, const char *value, size_t length) {
    snprintf(wish->value[wish->count++], sizeof *wish->value, "%.*s", (int)length, value);
}

/* Words between marks; false if there are too many or one is too long. */
static bool add_words(mil_strip_wish *wish, const char *text, char mark) {
    for (const char *end; text; text = end ? end + 1 : NULL) {
        end = strchr(text, mark);
        size_t n = end ? (size_t)(end - text) : strlen(text);
        if (wish->count == MIL_STRIPS_MOST || n == 0 || n >= sizeof *wish->value)
            return false;
        add(wish, text, n);
    }
    return true;
}

/* Values round what is chosen, for those who name none; false if there are none. */
static bool add_own(mil_strip_wish *wish, const mil_choice_info *info,
                    const milori_choices *choices) {
    if (strcmp(info->name, "stops") == 0) {
        for (int i = -2; i <= 2; i++)
            snprintf(wish->value[wish->count++], sizeof *wish->value, "%+g",
                     choices->stops + i * 0.5);
        return true;
    }
    if (strcmp(info->name, "grade") == 0)
        return add_words(wish, "0,1,2,3,4", ',');
    if (strcmp(info->name, "palette") == 0)
        return add_words(wish, "neutral,amber,blue", ',');
    if (strncmp(info->name, "soften-", 7) == 0)
        return add_words(wish, "0,0.25,0.5,0.75,1", ',');
    if (strcmp(info->name, "veil") == 0)
        return add_words(wish, "0,5,10,20", ',');
    bool words = info->kind == MIL_CHOICE_WORD || info->kind == MIL_CHOICE_SWITCH;
    return words && add_words(wish, info->values, '|');
}

milori_status mil_strip_read(milori_context *ctx, const char *text, const milori_choices *choices,
                             mil_strip_wish *wish) {
    char name[32];
    size_t n = strcspn(text, "=");
    snprintf(name, sizeof name, "%.*s", (int)(n < sizeof name ? n : 0), text);
    const mil_choice_info *info = mil_choice_named(name);
    for (size_t i = 0; info && i < sizeof outside / sizeof *outside; i++)
        if (strcmp(outside[i], name) == 0)
            info = NULL;
    if (!info)
        return bad(ctx, text, "is to be a choice of tones or colours: stops, grade, palette ...");
    wish->choice = info->name;
    wish->count = 0;
    if (text[n] == 0)
        return add_own(wish, info, choices)
                   ? MILORI_OK
                   : bad(ctx, text, "needs its values after it: =VALUE,VALUE,...");
    if (!add_words(wish, text + n + 1, ','))
        return bad(ctx, text, "is to have 1 to 12 values, with commas between them");
    return MILORI_OK;
}
