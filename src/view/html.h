/* Pieces of an HTML page. */
#ifndef MILORI_HTML_H
#define MILORI_HTML_H

#include <stdio.h>

#include "base/base.h"

/* Words with what means something to HTML escaped. */
void mil_html_words(FILE *out, const char *words);
/* An <img> that holds its own picture, rgb as mil_jpeg_bytes() takes it. */
milori_status mil_html_picture(milori_context *ctx, FILE *out, uint32_t width, uint32_t height,
                               const uint8_t *rgb, const char *alt);

#endif
