#define _GNU_SOURCE /* memmem() */
#include "scan/packet.h"

#include <exempi/xmp.h>
#include <exempi/xmpconsts.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "scan/source.h"

/* A name, not an address: .invalid never resolves (RFC 2606). */
static const char ours[] = "https://milori.invalid/ns/1.0/";

/* Far above what milori writes; what an editor added may stay within. */
#define PACKET_MOST ((size_t)4 << 20)
/* exempi recurses, an element a level: 50,000 overflow an 8 MiB stack. */
#define ELEMENTS_MOST 2000

/* exempi keeps global tables and its last error; one thread at a time. */
static pthread_mutex_t exempi = PTHREAD_MUTEX_INITIALIZER;
static pthread_once_t once = PTHREAD_ONCE_INIT;
static bool ready;

static void start_exempi(void) {
    ready = xmp_init() && xmp_register_namespace(ours, "milori", NULL);
}

static bool enter_exempi(milori_context *ctx) {
    pthread_once(&once, start_exempi);
    if (!ready) {
        mil_fail(ctx, MILORI_ERR_MEMORY, "the XMP library does not start: reinstall libexempi8");
        return false;
    }
    pthread_mutex_lock(&exempi);
    return true;
}

static void leave_exempi(void) {
    pthread_mutex_unlock(&exempi);
}

/* ---- writing --------------------------------------------------------------- */

/* Bytes of the character at s if XML 1.0 and exempi carry it unchanged, else 0:
 * valid UTF-8, no control but tab, newline and return, no U+FFFE or U+FFFF. */
static size_t carried(const char *s) {
    uint32_t code;
    size_t n = mil_utf8(s, &code);
    bool blank = code == '\t' || code == '\n' || code == '\r';
    bool control = (code < 0x20 && !blank) || code == 0x7f;
    return control || code == 0xfffe || code == 0xffff ? 0 : n;
}

static milori_status check_text(milori_context *ctx, const char *name, const char *text) {
    if (!text || !*text)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT, "no %s to record in the positive", name);
    for (const char *s = text; *s;) {
        size_t n = carried(s);
        if (n == 0)
            return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                            "the %s to record in the positive holds bytes that are no text; rename "
                            "the file that it names",
                            name);
        s += n;
    }
    return MILORI_OK;
}

static bool fill(XmpPtr meta, const mil_packet *p) {
    return xmp_set_property(meta, NS_XAP, "CreatorTool", p->version, 0) &&
           xmp_set_property(meta, NS_DC, "source", p->source, 0) &&
           xmp_set_property(meta, ours, "Version", p->version, 0) &&
           xmp_set_property(meta, ours, "Source", p->source, 0) &&
           xmp_set_property(meta, ours, "Digest", p->digest, 0) &&
           xmp_set_property_int32(meta, ours, "SheetNumber", p->number, 0) &&
           xmp_set_property(meta, ours, "Choices", p->choices, 0) &&
           xmp_set_property(meta, ours, "SheetFound", p->sheet, 0) &&
           (!p->dodge || xmp_set_property(meta, ours, "DodgeDigest", p->dodge, 0)) &&
           (!p->profile || xmp_set_property(meta, ours, "ProfileDigest", p->profile, 0));
}

static milori_status serialize(milori_context *ctx, const mil_packet *packet, char **xmp,
                               size_t *size) {
    milori_status status = MILORI_ERR_MEMORY;
    XmpPtr meta = xmp_new_empty();
    XmpStringPtr text = xmp_string_new();
    if (!meta || !text || !fill(meta, packet) ||
        !xmp_serialize(meta, text, XMP_SERIAL_READONLYPACKET | XMP_SERIAL_USECOMPACTFORMAT, 0)) {
        mil_fail(ctx, status, "the record of choices cannot be made (XMP error %d)",
                 xmp_get_error());
        goto done;
    }
    *size = strlen(xmp_string_cstr(text));
    *xmp = mil_strdup(ctx, xmp_string_cstr(text));
    if (*xmp)
        status = MILORI_OK;
done:
    if (text)
        xmp_string_free(text);
    if (meta)
        xmp_free(meta);
    return status;
}

milori_status mil_packet_write(milori_context *ctx, const mil_packet *packet, char **xmp,
                               size_t *size) {
    *xmp = NULL;
    *size = 0;
    const struct {
        const char *name, *text;
        bool may_lack;
    } part[] = {{"source", packet->source, false},
                {"digest", packet->digest, false},
                {"version", packet->version, false},
                {"choices", packet->choices, false},
                {"sheet", packet->sheet, false},
                {"dodge's digest", packet->dodge, true},
                {"profile's digest", packet->profile, true}};
    for (size_t i = 0; i < sizeof part / sizeof *part; i++) {
        milori_status status = part[i].may_lack && !part[i].text
                                   ? MILORI_OK
                                   : check_text(ctx, part[i].name, part[i].text);
        if (status != MILORI_OK)
            return status;
    }
    if (!enter_exempi(ctx))
        return MILORI_ERR_MEMORY;
    milori_status status = serialize(ctx, packet, xmp, size);
    leave_exempi();
    return status;
}

/* ---- reading --------------------------------------------------------------- */

/* Cheap bounds on what exempi must stand: our namespace at all (exempi prints
 * its complaints, which other programs' packets must not cause), only UTF-8 (no
 * NUL bytes), few elements, so that nesting is bounded too. It refuses document
 * types, and so entities, itself. */
static bool promising(const char *xmp, size_t size) {
    if (size == 0 || size > PACKET_MOST || memchr(xmp, 0, size) ||
        !memmem(xmp, size, ours, sizeof ours - 1))
        return false;
    size_t elements = 0;
    for (const char *p = xmp, *end = xmp + size; (p = memchr(p, '<', (size_t)(end - p))); p++)
        if ((end - p < 2 || p[1] != '/') && ++elements > ELEMENTS_MOST)
            return false;
    return true;
}

/* A copy of a plain property; NULL if there is none. */
static char *get_text(XmpPtr meta, const char *name) {
    XmpStringPtr value = xmp_string_new();
    uint32_t bits = 0;
    char *copy = NULL;
    if (value && xmp_get_property(meta, ours, name, value, &bits) && XMP_IS_PROP_SIMPLE(bits))
        copy = strdup(xmp_string_cstr(value));
    if (value)
        xmp_string_free(value);
    return copy;
}

/* 1 to 999999, or 0. exempi's own parser of numbers prints what it dislikes. */
static int get_number(XmpPtr meta, const char *name) {
    char *text = get_text(meta, name);
    size_t digits = text ? strspn(text, "0123456789") : 0;
    int number = digits >= 1 && digits <= 6 && !text[digits] ? atoi(text) : 0;
    free(text);
    return number;
}

static bool take(XmpPtr meta, mil_packet *p) {
    p->source = get_text(meta, "Source");
    p->digest = get_text(meta, "Digest");
    p->version = get_text(meta, "Version");
    p->choices = get_text(meta, "Choices");
    p->sheet = get_text(meta, "SheetFound");
    p->dodge = get_text(meta, "DodgeDigest");
    p->profile = get_text(meta, "ProfileDigest");
    p->number = get_number(meta, "SheetNumber");
    return p->number >= 1 && p->source && p->digest && p->version && p->choices && p->sheet;
}

milori_status mil_packet_read(milori_context *ctx, const char *path, const char *xmp, size_t size,
                              mil_packet *packet) {
    memset(packet, 0, sizeof *packet);
    while (size > 0 && xmp[size - 1] == 0)
        size--; /* padding of some writers */
    bool read = false;
    if (promising(xmp, size)) {
        if (!enter_exempi(ctx))
            return MILORI_ERR_MEMORY;
        XmpPtr meta = xmp_new(xmp, size);
        if (meta) {
            read = take(meta, packet);
            xmp_free(meta);
        }
        leave_exempi();
    }
    if (read)
        return MILORI_OK;
    mil_packet_free(packet);
    return mil_fail(ctx, MILORI_ERR_FORMAT,
                    "%s: holds no record of milori's choices; name a positive that milori made",
                    path);
}

milori_status mil_packet_of_file(milori_context *ctx, const char *path, mil_packet *packet) {
    memset(packet, 0, sizeof *packet);
    milori_notes notes = {0};
    mil_source *source = NULL;
    milori_status status = mil_source_open(ctx, path, &notes, &source);
    mil_notes_free(&notes);
    if (status != MILORI_OK)
        return status;
    const mil_source_info *info = mil_source_info_of(source);
    status = mil_packet_read(ctx, path, info->xmp, info->xmp ? info->xmp_size : 0, packet);
    mil_source_close(source);
    return status;
}

void mil_packet_free(mil_packet *packet) {
    free(packet->source);
    free(packet->digest);
    free(packet->version);
    free(packet->choices);
    free(packet->sheet);
    free(packet->dodge);
    free(packet->profile);
    memset(packet, 0, sizeof *packet);
}
