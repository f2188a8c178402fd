/* Drawing a chart: for its own files only. */
#ifndef MILORI_TARGET_DRAW_H
#define MILORI_TARGET_DRAW_H

#include "draw/canvas.h"
#include "draw/label.h"
#include "print/target_parts.h"

typedef struct mil_drawing {
    milori_context *ctx;
    const mil_target *target;
    mil_canvas *canvas; /* three channels, as the print reads */
    mil_font *font;
    double px_mm, origin[2]; /* of the first bead, mm */
    const char *film_name;
    const mil_process *process; /* NULL none */
} mil_drawing;

/* Codes of an amount of ink: encoded values, no colour management. */
void mil_target_code(const mil_drawing *drawing, int group, double ink, uint16_t code[3]);
/* A line of words in full ink, its left top or middle at (x, y); smaller where it
 * would be longer than most mm. */
milori_status mil_target_words(const mil_drawing *drawing, const char *words, double x, double y,
                               double high, double most, bool centred);
milori_status mil_target_draw(const mil_drawing *drawing);

#endif
