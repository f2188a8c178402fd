#include "base/base.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bool mil_notes_have(const milori_notes *notes, const char *code) {
    for (size_t i = 0; i < notes->count; i++)
        if (strcmp(notes->note[i].code, code) == 0)
            return true;
    return false;
}

static bool have_text(const milori_notes *notes, const char *code, const char *text) {
    for (size_t i = 0; i < notes->count; i++)
        if (strcmp(notes->note[i].code, code) == 0 && strcmp(notes->note[i].text, text) == 0)
            return true;
    return false;
}

void mil_note(milori_notes *notes, const char *code, const char *format, ...) {
    char text[1024];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    if (have_text(notes, code, text))
        return;
    milori_note *grown = realloc(notes->note, (notes->count + 1) * sizeof *grown);
    if (!grown)
        return;
    notes->note = grown;
    milori_note *note = &grown[notes->count];
    note->text = strdup(text);
    if (!note->text)
        return;
    snprintf(note->code, sizeof note->code, "%s", code);
    notes->count++;
}

void mil_notes_free(milori_notes *notes) {
    for (size_t i = 0; i < notes->count; i++)
        free(notes->note[i].text);
    free(notes->note);
    memset(notes, 0, sizeof *notes);
}
