#include "base/base.h"

#include <ctype.h>
#include <errno.h>
#include <fcntl.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* Numbers read and written in the C locale whatever the program's: the locale
 * is switched for this thread alone and back. */
static locale_t c_locale_enter(locale_t *c) {
    *c = newlocale(LC_NUMERIC_MASK, "C", (locale_t)0);
    return *c ? uselocale(*c) : (locale_t)0;
}

static void c_locale_leave(locale_t c, locale_t before) {
    if (c) {
        uselocale(before);
        freelocale(c);
    }
}

bool mil_parse_number(const char *text, double *value) {
    locale_t c;
    locale_t before = c_locale_enter(&c);
    char *end;
    double v = strtod(text, &end);
    c_locale_leave(c, before);
    if (end == text || !isfinite(v))
        return false;
    while (isspace((unsigned char)*end))
        end++;
    if (*end)
        return false;
    *value = v;
    return true;
}

void mil_format_number(double value, char *text, size_t size) {
    locale_t c;
    locale_t before = c_locale_enter(&c);
    for (int digits = 6; digits <= 17; digits++) {
        snprintf(text, size, "%.*g", digits, value);
        if (strtod(text, NULL) == value)
            break;
    }
    c_locale_leave(c, before);
}

size_t mil_utf8(const char *text, uint32_t *code) {
    const unsigned char *s = (const unsigned char *)text;
    *code = s[0];
    if (s[0] < 0x80)
        return 1;
    if (s[0] < 0xc2 || s[0] > 0xf4)
        return 0;
    size_t n = s[0] >= 0xf0 ? 4 : s[0] >= 0xe0 ? 3 : 2;
    *code &= 0xffu >> (n + 1);
    for (size_t i = 1; i < n; i++) {
        if ((s[i] & 0xc0) != 0x80)
            return 0;
        *code = *code << 6 | (s[i] & 0x3f);
    }
    static const uint32_t least[5] = {0, 0, 0x80, 0x800, 0x10000};
    bool surrogate = *code >= 0xd800 && *code <= 0xdfff;
    return *code < least[n] || *code > 0x10ffff || surrogate ? 0 : n;
}

/* Bytes of the character at s if it may be shown as it is, else 0. */
static size_t shown(const char *s) {
    uint32_t code;
    size_t n = mil_utf8(s, &code);
    bool control = code < 0x20 || (code >= 0x7f && code < 0xa0);
    return control || code == '\\' ? 0 : n;
}

char *mil_printable(const char *name) {
    char *out = malloc(4 * strlen(name) + 1);
    if (!out)
        return NULL;
    char *o = out;
    for (const char *s = name; *s;) {
        size_t n = shown(s);
        if (n) {
            memcpy(o, s, n);
            o += n;
            s += n;
        } else if (*s == '\\') {
            *o++ = '\\';
            *o++ = '\\';
            s++;
        } else {
            o += snprintf(o, 5, "\\x%02x", (unsigned char)*s++);
        }
    }
    *o = 0;
    return out;
}

char *mil_strdup(milori_context *ctx, const char *text) {
    size_t n = strlen(text) + 1;
    char *copy = mil_alloc(ctx, n, 1);
    if (copy)
        memcpy(copy, text, n);
    return copy;
}

milori_status mil_fail_open(milori_context *ctx, const char *path, int error) {
    const char *remedy = "check the name";
    if (error == EACCES || error == EPERM)
        remedy = "check its permissions";
    else if (error == EMFILE || error == ENFILE || error == ENOMEM)
        remedy = "close other programs";
    else if (error == EIO)
        remedy = "check the disk";
    return mil_fail(ctx, MILORI_ERR_OPEN, "%s: cannot be opened (%s); %s", path, strerror(error),
                    remedy);
}

static milori_status read_all(milori_context *ctx, const char *path, int fd, size_t most,
                              uint8_t **buffer, size_t *size) {
    struct stat st;
    if (fstat(fd, &st) != 0 || !S_ISREG(st.st_mode))
        return mil_fail(ctx, MILORI_ERR_OPEN, "%s: not a regular file; name a file", path);
    if ((uintmax_t)st.st_size > most)
        return mil_fail(
            ctx, MILORI_ERR_LIMIT,
            "%s: larger than the %zu bytes allowed here; check that it is the right file", path,
            most);
    size_t want = (size_t)st.st_size, have = 0;
    uint8_t *bytes = mil_alloc(ctx, want + 1, 1);
    if (!bytes)
        return MILORI_ERR_MEMORY;
    while (have < want) {
        ssize_t n = read(fd, bytes + have, want - have);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            break;
        have += (size_t)n;
    }
    if (have < want) {
        free(bytes);
        return mil_fail(ctx, MILORI_ERR_OPEN, "%s: cannot be read to its end; copy it again", path);
    }
    *buffer = bytes;
    *size = want;
    return MILORI_OK;
}

milori_status mil_read_file(milori_context *ctx, const char *path, size_t most, uint8_t **buffer,
                            size_t *size) {
    /* O_NONBLOCK: a fifo must not hold us up; it is refused after fstat. */
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (fd < 0)
        return mil_fail_open(ctx, path, errno);
    milori_status status = read_all(ctx, path, fd, most, buffer, size);
    close(fd);
    return status;
}

milori_status mil_fail_option(milori_context *ctx, const char *option, const char *text,
                              const char *expected) {
    char *shown = mil_printable(text);
    mil_fail(ctx, MILORI_ERR_ARGUMENT, "--%s: \"%s\" is to be %s", option, shown ? shown : "",
             expected);
    free(shown);
    return MILORI_ERR_ARGUMENT;
}
