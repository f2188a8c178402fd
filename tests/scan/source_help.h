/* What the tests of the readers share: a folder, a context, whole pictures. */
#ifndef SOURCE_HELP_H
#define SOURCE_HELP_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h> /* needs those above */

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "scan/source.h"

typedef struct help {
    char folder[64];
    milori_context *ctx;
    milori_notes notes;
} help;

static inline int help_setup(void **state) {
    help *h = calloc(1, sizeof *h);
    strcpy(h->folder, "/tmp/milori-source-XXXXXX");
    if (!mkdtemp(h->folder))
        return -1;
    h->ctx = milori_context_new();
    *state = h;
    return 0;
}

static inline int help_teardown(void **state) {
    help *h = *state;
    char command[96];
    snprintf(command, sizeof command, "rm -rf %s", h->folder);
    int failed = system(command);
    mil_notes_free(&h->notes);
    milori_context_free(h->ctx);
    free(h);
    return failed;
}

/* Ready for the next file. */
static inline void help_clear(help *h) {
    milori_clear(h->ctx);
    mil_notes_free(&h->notes);
}

static inline const char *help_path(help *h, const char *name) {
    static char path[256];
    snprintf(path, sizeof path, "%s/%s", h->folder, name);
    return path;
}

/* Anew rather than into the old file, which some file systems flush first. */
static inline void help_write(const char *path, const void *bytes, size_t size) {
    unlink(path);
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    assert_int_equal(fwrite(bytes, 1, size, f), size);
    assert_int_equal(fclose(f), 0);
}

static inline uint8_t *help_load(const char *path, size_t *size) {
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    fseek(f, 0, SEEK_END);
    *size = (size_t)ftell(f);
    rewind(f);
    uint8_t *bytes = malloc(*size + 1);
    assert_int_equal(fread(bytes, 1, *size, f), *size);
    fclose(f);
    return bytes;
}

/* The rest of the rows, step at a time, each batch in a buffer of its exact
 * size so that ASan sees a write past it; NULL after a failure. */
static inline uint16_t *help_rows(mil_source *s, uint32_t step) {
    const mil_source_info *i = mil_source_info_of(s);
    size_t row = (size_t)i->width * (size_t)i->channels;
    uint16_t *all = malloc(row * i->height * 2);
    for (uint32_t y = 0; y < i->height; y += step) {
        uint32_t n = step < i->height - y ? step : i->height - y;
        uint16_t *some = malloc(row * n * 2);
        milori_status status = mil_source_read(s, n, some);
        memcpy(all + row * y, some, row * n * 2);
        free(some);
        if (status != MILORI_OK) {
            free(all);
            return NULL;
        }
    }
    return all;
}

static inline mil_source *help_open(help *h, const char *path) {
    mil_source *s;
    help_clear(h);
    if (mil_source_open(h->ctx, path, &h->notes, &s) != MILORI_OK)
        fail_msg("%s", milori_message(h->ctx));
    return s;
}

/* Opening or reading fails with status, and the line names the file and says
 * word. */
static inline void help_refused(help *h, const char *path, milori_status status, const char *word) {
    mil_source *s;
    help_clear(h);
    if (mil_source_open(h->ctx, path, &h->notes, &s) == MILORI_OK) {
        uint16_t *all = help_rows(s, 7);
        free(all);
        mil_source_close(s);
        if (all)
            fail_msg("%s was read", path);
    } else {
        assert_null(s);
    }
    const char *line = milori_message(h->ctx);
    if (milori_failure(h->ctx) != status || !strstr(line, word) ||
        strncmp(line, path, strlen(path)))
        fail_msg("%s: wanted status %d and \"%s\", got %d: %s", path, (int)status, word,
                 (int)milori_failure(h->ctx), line);
}

/* Reads the file twice, in batches of different sizes, and compares. */
static inline void help_same(help *h, const char *path, const uint16_t *want, size_t samples) {
    mil_source *s = help_open(h, path);
    const mil_source_info *i = mil_source_info_of(s);
    assert_int_equal((size_t)i->width * i->height * (size_t)i->channels, samples);
    for (uint32_t turn = 0; turn < 2; turn++) {
        uint16_t *got = help_rows(s, turn ? 5 : i->height);
        if (!got)
            fail_msg("%s", milori_message(h->ctx));
        for (size_t k = 0; k < samples; k++)
            if (got[k] != want[k])
                fail_msg("%s, reading %u, sample %zu: %u, not %u", path, turn, k, got[k], want[k]);
        free(got);
        assert_int_equal(mil_source_rewind(s), MILORI_OK);
    }
    mil_source_close(s);
}

#endif
