/* One picture on one sheet of paper, in ink. */
#ifndef MILORI_INK_PRINT_H
#define MILORI_INK_PRINT_H

#include "print/gamut.h"
#include "print/layout.h"
#include "print/page_write.h"
#include "print/picture.h"

typedef struct mil_ink_print mil_ink_print;

/* Draws the page: a canvas of one channel, 2 bytes a px, in a file if it is large.
 * sharpen_mm: sigma on the print, 0 none. picture and output must outlive it. */
milori_status mil_ink_print_new(milori_context *ctx, mil_picture *picture, const mil_layout *layout,
                                double sharpen_mm, const mil_output *output, mil_ink_print **print);
void mil_ink_print_free(mil_ink_print *print);
/* Of the picture's px; what stays unprinted is not counted. */
milori_status mil_ink_print_gamut(const mil_ink_print *print, mil_gamut *gamut);
/* How it will look, as a PNG (page_write.h). */
milori_status mil_ink_print_look(const mil_ink_print *print, const char *path, bool replace);
/* file: dpi and output are the print's own. */
milori_status mil_ink_print_write(const mil_ink_print *print, const mil_page_file *file);

#endif
