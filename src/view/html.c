#include "view/html.h"

#include <stdlib.h>

#include "scan/jpeg_bytes.h"

enum { QUALITY = 86 };

void mil_html_words(FILE *out, const char *words) {
    for (; *words; words++)
        switch (*words) {
        case '&':
            fputs("&amp;", out);
            break;
        case '<':
            fputs("&lt;", out);
            break;
        case '>':
            fputs("&gt;", out);
            break;
        case '"':
            fputs("&quot;", out);
            break;
        default:
            fputc(*words, out);
        }
}

/* RFC 4648, section 4 */
static void base64(FILE *out, const uint8_t *bytes, size_t size) {
    static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    for (size_t i = 0; i < size; i += 3) {
        size_t n = size - i < 3 ? size - i : 3;
        uint32_t v = (uint32_t)bytes[i] << 16;
        v |= n > 1 ? (uint32_t)bytes[i + 1] << 8 : 0;
        v |= n > 2 ? bytes[i + 2] : 0;
        for (size_t k = 0; k < 4; k++)
            fputc(k <= n ? digits[v >> (18 - 6 * k) & 63] : '=', out);
    }
}

milori_status mil_html_picture(milori_context *ctx, FILE *out, uint32_t width, uint32_t height,
                               const uint8_t *rgb, const char *alt) {
    uint8_t *bytes = NULL;
    size_t size = 0;
    milori_status status = mil_jpeg_bytes(ctx, width, height, rgb, QUALITY, &bytes, &size);
    if (status != MILORI_OK)
        return status;
    fprintf(out, "<img width=\"%u\" height=\"%u\" alt=\"", width, height);
    mil_html_words(out, alt);
    fputs("\" src=\"data:image/jpeg;base64,", out);
    base64(out, bytes, size);
    fputs("\">", out);
    free(bytes);
    return MILORI_OK;
}
