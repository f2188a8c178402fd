/* What the parts of a plot share. */
#ifndef MILORI_PLOT_PARTS_H
#define MILORI_PLOT_PARTS_H

#include "draw/plot_axis.h"

/* 160 x 110 mm, four units a mm; KEY: the key's width, LETTERS: of a name in it. */
enum { WIDE = 640, HIGH = 440, LEFT = 66, TOP = 48, FOOT = 58, EDGE = 16, KEY = 132, LETTERS = 21 };

#define MIL_INK "#1c3350"
#define MIL_BAND_LIGHT "#e4e4e4"
#define MIL_BAND_DARK "#d2d6db"

typedef struct mil_plot_sheet {
    FILE *out;
    const mil_plot *plot;
    mil_scale_line x, y;
    double w, h; /* of the field */
} mil_plot_sheet;

/* Words as XML 1.0 text; what is no UTF-8 or a control as mil_printable() shows it. most: letters
 * kept, the last an ellipsis where there are more; 0 all. */
void mil_svg_words(FILE *out, const char *text, size_t most);
/* An attribute in units. */
void mil_svg_place(FILE *out, const char *name, double value);
void mil_svg_line(FILE *out, double x1, double y1, double x2, double y2);
/* The sign of the row of points that is the which-th: circle, square, triangle, diamond, each
 * filled and open. */
void mil_svg_mark(FILE *out, size_t which, double x, double y);
/* The dashes of the which-th line. */
const char *mil_svg_dash(size_t which);
/* All rows: bands lie under lines, lines under points. */
void mil_svg_field(const mil_plot_sheet *s);

#endif
