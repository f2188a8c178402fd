/* Words as masks: FreeType, with fontconfig to find the font. */
#ifndef MILORI_LABEL_H
#define MILORI_LABEL_H

#include "draw/mask.h"

typedef struct mil_font mil_font;

/* The system's sans serif font; MILORI_ERR_OPEN says which package brings one. */
milori_status mil_font_open(milori_context *ctx, mil_font **font);
void mil_font_free(mil_font *font);
/* A line of words (UTF-8; what is none shows as mil_printable() has it), height px
 * from the font's highest letter with an accent to the foot of its deepest: a
 * capital is about 0.62 of it. The mask is that high and as wide as the words, or
 * at most wide most where they are longer (0: no limit): then cut, with an
 * ellipsis. Characters stand one after another as they come: no script that joins
 * its letters or runs from right to left is set as it should be. What the font has
 * no letter for shows as its empty box. */
milori_status mil_label(milori_context *ctx, mil_font *font, const char *words, uint32_t height,
                        uint32_t most, mil_mask *mask);
/* The width it would have. */
milori_status mil_label_width(milori_context *ctx, mil_font *font, const char *words,
                              uint32_t height, uint32_t *width);

#endif
