/* A folder of a test's own, a picture with grain, and outside programs. */
#ifndef TEST_SINK_HELP_H
#define TEST_SINK_HELP_H

#include <dirent.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "scan/sink.h"
#include "temp_folder.h"

/* A path in the folder; one of a few buffers in turn. */
static inline const char *in_folder(const char *name) {
    static char paths[4][512];
    static int turn;
    char *path = paths[turn++ % 4];
    snprintf(path, sizeof paths[0], "%s/%s", folder, name);
    return path;
}

/* How many files there are, or with parts only our temporaries. */
static inline int count_files(bool parts) {
    int n = 0;
    DIR *list = opendir(folder);
    assert_non_null(list);
    for (struct dirent *e; (e = readdir(list));)
        if (strcmp(e->d_name, ".") != 0 && strcmp(e->d_name, "..") != 0)
            n += !parts || strncmp(e->d_name, ".milori-", 8) == 0;
    closedir(list);
    return n;
}

/* What a shell command prints, its first line; the command must succeed. */
static inline const char *said_by(const char *format, ...) {
    static char line[4096];
    char command[2048];
    va_list args;
    va_start(args, format);
    vsnprintf(command, sizeof command, format, args);
    va_end(args);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    line[0] = 0;
    if (fgets(line, sizeof line, pipe))
        line[strcspn(line, "\n")] = 0;
    char rest[4096];
    while (fgets(rest, sizeof rest, pipe))
        ;
    if (pclose(pipe) != 0)
        fail_msg("failed: %s: %s", command, line);
    return line;
}

static inline uint8_t *slurp(const char *path, size_t *size) {
    FILE *file = fopen(path, "rb");
    if (!file)
        fail_msg("cannot open %s", path);
    fseek(file, 0, SEEK_END);
    *size = (size_t)ftell(file);
    rewind(file);
    uint8_t *bytes = malloc(*size + 1);
    assert_int_equal(fread(bytes, 1, *size, file), *size);
    fclose(file);
    return bytes;
}

static inline void spill(const char *path, const void *bytes, size_t size) {
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, size, file), size);
    assert_int_equal(fclose(file), 0);
}

static inline size_t picture_size(const mil_sink_options *o) {
    return (size_t)o->width * o->height * (size_t)o->channels * (size_t)o->bits / 8;
}

/* Soft waves with grain: samples as o->bits says. */
static inline void *make_picture(const mil_sink_options *o) {
    uint8_t *bytes = malloc(picture_size(o));
    uint64_t r = 88172645463325252u;
    double most = o->bits == 16 ? 65535 : 255;
    size_t i = 0;
    for (uint32_t y = 0; y < o->height; y++)
        for (uint32_t x = 0; x < o->width; x++)
            for (int c = 0; c < o->channels; c++, i++) {
                r ^= r << 13, r ^= r >> 7, r ^= r << 17;
                double grain = (double)(r >> 40) / (1 << 24) - 0.5;
                double v = 0.5 + 0.4 * sin(x / 40.0 + c) * cos(y / 30.0) + 0.06 * grain;
                uint16_t code = (uint16_t)lrint(v * most);
                if (o->bits == 16)
                    memcpy(bytes + 2 * i, &code, 2);
                else
                    bytes[i] = (uint8_t)code;
            }
    return bytes;
}

/* Gives all rows, an odd number at a time, and commits. */
static inline milori_status write_picture(milori_context *ctx, const char *path,
                                          const mil_sink_options *o, const void *picture) {
    mil_sink *sink;
    milori_status status = mil_sink_open(ctx, path, o, &sink);
    if (status != MILORI_OK)
        return status;
    size_t row = picture_size(o) / o->height;
    for (uint32_t y = 0; y < o->height && status == MILORI_OK; y += 37) {
        uint32_t n = o->height - y < 37 ? o->height - y : 37;
        status = mil_sink_write(sink, n, (const uint8_t *)picture + row * y);
    }
    if (status != MILORI_OK) {
        mil_sink_abort(sink);
        return status;
    }
    return mil_sink_commit(sink);
}

#define assert_ok(ctx, call)                                                                       \
    do {                                                                                           \
        if ((call) != MILORI_OK)                                                                   \
            fail_msg("%s: %s", #call, milori_message(ctx));                                        \
    } while (0)

#endif
