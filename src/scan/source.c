#include "scan/source.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "scan/source_reader.h"

enum { WORKING_BYTES = 16 << 20 };

milori_status mil_source_size(mil_source *s, uint32_t width, uint32_t height) {
    if (width == 0 || height == 0)
        return mil_source_damaged(s, "no pixels");
    uint64_t limit = mil_pixel_limit(s->ctx);
    if (width > limit / height)
        return mil_fail(s->ctx, MILORI_ERR_LIMIT,
                        "%s: %u x %u px, over the limit of %llu px; scan it at a lower resolution, "
                        "or raise the limit with --pixels",
                        s->name, width, height, (unsigned long long)limit);
    s->info.width = width;
    s->info.height = height;
    return MILORI_OK;
}

milori_status mil_source_hold(mil_source *s, size_t bytes, const char *why) {
    if (bytes < WORKING_BYTES)
        return MILORI_OK;
    milori_status status = mil_charge(s->ctx, bytes, s->name, why);
    if (status == MILORI_OK)
        s->info.held += bytes;
    return status;
}

/* One byte more than size, so that text ends in a NUL. */
static milori_status keep(mil_source *s, const void *bytes, size_t size, uint8_t **copy) {
    if (!bytes || size == 0 || *copy)
        return MILORI_OK;
    *copy = mil_alloc(s->ctx, size + 1, 1);
    if (!*copy)
        return MILORI_ERR_MEMORY;
    memcpy(*copy, bytes, size);
    return MILORI_OK;
}

milori_status mil_source_keep_icc(mil_source *s, const void *bytes, size_t size) {
    milori_status status = keep(s, bytes, size, &s->icc);
    if (s->icc && !s->info.icc) {
        s->info.icc = s->icc;
        s->info.icc_size = size;
        s->info.space = MIL_SPACE_ICC;
    }
    return status;
}

milori_status mil_source_keep_xmp(mil_source *s, const void *bytes, size_t size) {
    milori_status status = keep(s, bytes, size, (uint8_t **)&s->xmp);
    if (s->xmp && !s->info.xmp) {
        s->info.xmp = s->xmp;
        s->info.xmp_size = size;
    }
    return status;
}

milori_status mil_source_keep_software(mil_source *s, const void *bytes, size_t size) {
    milori_status status = keep(s, bytes, size, (uint8_t **)&s->software);
    s->info.software = s->software && s->software[0] ? s->software : NULL;
    return status;
}

milori_status mil_source_damaged(mil_source *s, const char *detail) {
    return mil_fail(s->ctx, MILORI_ERR_DAMAGED,
                    "%s: cut off or damaged%s%s%s; copy it again or scan the sheet again", s->name,
                    detail[0] ? " (" : "", detail, detail[0] ? ")" : "");
}

milori_status mil_source_refuse(mil_source *s, const char *what) {
    return mil_fail(s->ctx, MILORI_ERR_UNSUPPORTED,
                    "%s: %s, which milori does not read; save it as RGB, 16 bit", s->name, what);
}

void mil_source_note_alpha(milori_notes *notes) {
    mil_note(notes, "alpha", "transparent parts were laid on white");
}

/* By the first bytes, whatever the name ends in. */
static const mil_reader *reader_of(const uint8_t *magic, size_t size, milori_format *format) {
    static const uint8_t tiffs[4][4] = {
        {'I', 'I', 42, 0}, {'M', 'M', 0, 42}, {'I', 'I', 43, 0}, {'M', 'M', 0, 43}};
    static const uint8_t png[8] = {0x89, 'P', 'N', 'G', '\r', '\n', 0x1a, '\n'};
    static const uint8_t jpeg[3] = {0xff, 0xd8, 0xff};
    *format = MILORI_TIFF;
    for (int i = 0; i < 4; i++)
        if (size >= 4 && memcmp(magic, tiffs[i], 4) == 0)
            return &mil_reader_tiff;
    *format = MILORI_PNG;
    if (size >= sizeof png && memcmp(magic, png, sizeof png) == 0)
        return &mil_reader_png;
    *format = MILORI_JPEG;
    if (size >= sizeof jpeg && memcmp(magic, jpeg, sizeof jpeg) == 0)
        return &mil_reader_jpeg;
    return NULL;
}

static milori_status check_kind(mil_source *s, int fd) {
    struct stat st;
    if (fstat(fd, &st) != 0)
        return mil_fail(s->ctx, MILORI_ERR_OPEN, "%s: cannot be read (%s)", s->name,
                        strerror(errno));
    if (!S_ISREG(st.st_mode))
        return mil_fail(s->ctx, MILORI_ERR_OPEN, "%s: %s, not a file; name a picture file", s->name,
                        S_ISDIR(st.st_mode) ? "a folder" : "a device or pipe");
    if (st.st_size == 0)
        return mil_fail(s->ctx, MILORI_ERR_FORMAT, "%s: empty; copy or scan it again", s->name);
    s->file_size = (uint64_t)st.st_size;
    return MILORI_OK;
}

static milori_status open_file(mil_source *s) {
    /* O_NONBLOCK: a pipe must not hold us up before fstat can tell it. */
    int fd = open(s->path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);
    if (fd < 0)
        return mil_fail_open(s->ctx, s->name, errno);
    milori_status status = check_kind(s, fd);
    if (status == MILORI_OK && !(s->file = fdopen(fd, "rb")))
        status =
            mil_fail(s->ctx, MILORI_ERR_MEMORY, "%s: out of memory; close other programs", s->name);
    if (!s->file)
        close(fd);
    return status;
}

static milori_status open_reader(mil_source *s, milori_notes *notes) {
    uint8_t magic[8];
    size_t n = fread(magic, 1, sizeof magic, s->file);
    if (ferror(s->file))
        return mil_fail(s->ctx, MILORI_ERR_OPEN, "%s: cannot be read; check the disk", s->name);
    s->reader = reader_of(magic, n, &s->info.format);
    if (!s->reader)
        return mil_fail(s->ctx, MILORI_ERR_FORMAT,
                        "%s: not a TIFF, PNG or JPEG; save the scan as one of them", s->name);
    rewind(s->file);
    s->info.path = s->path;
    s->info.orientation = 1;
    s->info.pages = 1;
    return s->reader->open(s, notes);
}

milori_status mil_source_open(milori_context *ctx, const char *path, milori_notes *notes,
                              mil_source **source) {
    *source = NULL;
    mil_source *s = mil_alloc(ctx, 1, sizeof *s);
    if (!s)
        return MILORI_ERR_MEMORY;
    s->ctx = ctx;
    s->path = mil_strdup(ctx, path);
    s->name = mil_printable(path);
    milori_status status = MILORI_OK;
    if (!s->path || !s->name)
        status = mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory; close other programs");
    if (status == MILORI_OK)
        status = open_file(s);
    if (status == MILORI_OK)
        status = open_reader(s, notes);
    if (status == MILORI_OK)
        *source = s;
    else
        mil_source_close(s);
    return status;
}

const mil_source_info *mil_source_info_of(const mil_source *s) {
    return &s->info;
}

milori_status mil_source_read(mil_source *s, uint32_t count, uint16_t *rows) {
    if (s->failed)
        return mil_source_damaged(s, "");
    if (count > s->info.height - s->next_row)
        return mil_fail(s->ctx, MILORI_ERR_ARGUMENT, "%s: rows past its end were asked for",
                        s->name);
    milori_status status = count ? s->reader->read(s, count, rows) : MILORI_OK;
    s->failed = status != MILORI_OK;
    s->next_row += count;
    return status;
}

milori_status mil_source_rewind(mil_source *s) {
    s->next_row = 0;
    milori_status status = s->reader->rewind(s);
    s->failed = status != MILORI_OK;
    return status;
}

void mil_source_close(mil_source *s) {
    if (!s)
        return;
    if (s->reader)
        s->reader->close(s);
    mil_release(s->ctx, s->info.held);
    if (s->file)
        fclose(s->file);
    free(s->icc);
    free(s->xmp);
    free(s->software);
    free(s->path);
    free(s->name);
    free(s);
}
