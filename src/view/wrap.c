#include "view/wrap.h"

#include <string.h>

enum { WIDE = 80 };

static size_t step(const char *s) {
    uint32_t code;
    size_t n = mil_utf8(s, &code);
    return n ? n : 1;
}

size_t mil_columns(const char *text) {
    size_t n = 0;
    for (; *text; text += step(text))
        n++;
    return n;
}

/* Bytes of the words that fit into room columns: at least one word. */
static size_t fitting(const char *text, size_t room) {
    size_t fit = 0, column = 0;
    for (const char *s = text;; s += step(s), column++) {
        if ((*s == ' ' || !*s) && (column <= room || !fit))
            fit = (size_t)(s - text);
        if (!*s || (column > room && fit))
            return fit;
    }
}

void mil_wrap(FILE *out, const char *lead, const char *text) {
    size_t indent = mil_columns(lead);
    while (*text) {
        size_t take = fitting(text, WIDE - indent);
        fprintf(out, "%s%.*s\n", lead, (int)take, text);
        text += take;
        text += strspn(text, " ");
        static const char blanks[] = "                                        ";
        lead =
            blanks + sizeof blanks - 1 - (indent < sizeof blanks - 1 ? indent : sizeof blanks - 1);
    }
}

void mil_pad(FILE *out, const char *text, size_t width) {
    size_t columns = mil_columns(text);
    if (columns > width) {
        for (; columns >= width; columns--)
            text += step(text);
        fprintf(out, "\xe2\x80\xa6%s", text);
        return;
    }
    fprintf(out, "%s%*s", text, (int)(width - columns), "");
}
