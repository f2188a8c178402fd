#include "tone/palette.h"

#include <stdlib.h>
#include <string.h>

enum { FILE_MOST = 64 << 10 };

static const char *stop_fault(const milori_palette_stop *stops, size_t i) {
    const milori_palette_stop *s = &stops[i];
    /* Written so that NaN fails. */
    if (!(s->at >= 0 && s->at <= 1))
        return "the place is to be 0 to 1, or 0% to 100%";
    if (!(s->L >= 0 && s->L <= 100))
        return "L is to be 0 to 100";
    if (!(s->a >= -128 && s->a <= 128 && s->b >= -128 && s->b <= 128))
        return "a and b are to be -128 to 128";
    if (i > 0 && !(s->at > s[-1].at))
        return "the place is to rise from colour to colour";
    if (i > 0 && !(s->L >= s[-1].L))
        return "L is not to fall from colour to colour: the darkest comes first";
    return NULL;
}

static const char *count_fault(size_t count) {
    return count < 2                    ? "a palette needs two colours or more"
           : count > MILORI_PALETTE_MAX ? "a palette has 64 colours at most"
                                        : NULL;
}

const char *mil_palette_fault(const milori_palette_stop *stops, size_t count, size_t *which) {
    *which = 0;
    for (size_t i = 0; i < count && i < MILORI_PALETTE_MAX; i++) {
        *which = i;
        const char *fault = stop_fault(stops, i);
        if (fault)
            return fault;
    }
    return count_fault(count);
}

static bool blank(char c) {
    return c == ' ' || c == '\t' || c == '\r';
}

/* Takes the next word off a line; NULL at its end. */
static char *word(char **rest) {
    char *start = *rest;
    while (blank(*start))
        start++;
    if (!*start)
        return NULL;
    char *end = start;
    while (*end && !blank(*end))
        end++;
    *rest = *end ? end + 1 : end;
    *end = 0;
    return start;
}

/* One line into a stop: 1 if it holds one, 0 if it is empty, -1 if neither. */
static int parse_line(char *line, milori_palette_stop *stop) {
    char *comment = strchr(line, '#');
    if (comment)
        *comment = 0;
    char *at = word(&line);
    if (!at)
        return 0;
    size_t n = strlen(at);
    bool per_cent = at[n - 1] == '%';
    if (per_cent)
        at[n - 1] = 0;
    if (!mil_parse_number(at, &stop->at))
        return -1;
    if (per_cent)
        stop->at /= 100;
    double *const value[3] = {&stop->L, &stop->a, &stop->b};
    for (int c = 0; c < 3; c++) {
        char *text = word(&line);
        if (!text || !mil_parse_number(text, value[c]))
            return -1;
    }
    return word(&line) ? -1 : 1;
}

/* Reads every line of text into stops; line says where it ended. */
static const char *parse(char *text, size_t size, milori_palette_stop *stops, size_t *count,
                         size_t *line) {
    if (strlen(text) != size)
        return "the file is no text";
    if (strncmp(text, "\xef\xbb\xbf", 3) == 0)
        text += 3;
    for (char *next; text; text = next) {
        next = strchr(text, '\n');
        if (next)
            *next++ = 0;
        if (next || *text)
            ++*line;
        milori_palette_stop stop = {0};
        int found = parse_line(text, &stop);
        if (found < 0)
            return "a colour is four numbers: place L a b";
        if (found == 0)
            continue;
        if (*count == MILORI_PALETTE_MAX)
            return count_fault(*count + 1);
        stops[(*count)++] = stop;
        const char *fault = stop_fault(stops, *count - 1);
        if (fault)
            return fault;
    }
    return count_fault(*count);
}

milori_status mil_palette_read(milori_context *ctx, const char *path, milori_choices *choices) {
    uint8_t *text;
    size_t size, count = 0, line = 0;
    milori_palette_stop stops[MILORI_PALETTE_MAX] = {{0}};
    size_t length = strlen(path);
    if (length >= MILORI_PATH_MAX)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT, "the palette file's name is too long");
    milori_status status = mil_read_file(ctx, path, FILE_MOST, &text, &size);
    if (status != MILORI_OK)
        return status;
    const char *fault = parse((char *)text, size, stops, &count, &line);
    free(text);
    if (fault)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT, "%s: line %zu: %s", path, line ? line : 1, fault);
    choices->palette = MILORI_PALETTE_FILE;
    choices->palette_stops = count;
    memcpy(choices->palette_stop, stops, sizeof stops);
    memmove(choices->palette_name, path, length + 1); /* path may be that very name */
    return MILORI_OK;
}
