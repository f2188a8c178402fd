#include "base/base.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct milori_context {
    size_t memory_limit, memory_held;
    uint64_t pixel_limit;
    int threads;
    bool (*cancel)(void *);
    void *cancel_data;
    void (*progress)(double, void *);
    void *progress_data;
    milori_status failure;
    char message[1024 + MILORI_PATH_MAX];
};

milori_context *milori_context_new(void) {
    milori_context *ctx = calloc(1, sizeof *ctx);
    if (ctx) {
        ctx->memory_limit = (size_t)1 << 30;
        ctx->pixel_limit = (uint64_t)1 << 31;
    }
    return ctx;
}

void milori_context_free(milori_context *ctx) {
    free(ctx);
}

void milori_set_memory_limit(milori_context *ctx, size_t bytes) {
    ctx->memory_limit = bytes;
}

void milori_set_pixel_limit(milori_context *ctx, uint64_t pixels) {
    ctx->pixel_limit = pixels;
}

void milori_set_threads(milori_context *ctx, int threads) {
    ctx->threads = threads < 0 ? 0 : threads > 64 ? 64 : threads;
}

void milori_set_cancel(milori_context *ctx, bool (*asked)(void *), void *data) {
    ctx->cancel = asked;
    ctx->cancel_data = data;
}

void milori_set_progress(milori_context *ctx, void (*tell)(double, void *), void *data) {
    ctx->progress = tell;
    ctx->progress_data = data;
}

milori_status milori_failure(const milori_context *ctx) {
    return ctx->failure;
}

const char *milori_message(const milori_context *ctx) {
    return ctx->message;
}

void milori_clear(milori_context *ctx) {
    ctx->failure = MILORI_OK;
    ctx->message[0] = 0;
}

const char *milori_version(void) {
    return MILORI_VERSION;
}

milori_status mil_fail(milori_context *ctx, milori_status status, const char *format, ...) {
    if (ctx->failure != MILORI_OK)
        return status;
    va_list args;
    va_start(args, format);
    vsnprintf(ctx->message, sizeof ctx->message, format, args);
    va_end(args);
    /* One line, and nothing that a terminal would obey. */
    for (char *p = ctx->message; *p; p++)
        if ((unsigned char)*p < 0x20 || *p == 0x7f)
            *p = '?';
    ctx->failure = status;
    return status;
}

void *mil_alloc(milori_context *ctx, size_t count, size_t size) {
    void *memory = calloc(count ? count : 1, size ? size : 1);
    if (!memory)
        mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: close other programs and try again");
    return memory;
}

milori_status mil_charge(milori_context *ctx, size_t bytes, const char *path, const char *why) {
    if (bytes > ctx->memory_limit || ctx->memory_held > ctx->memory_limit - bytes)
        return mil_fail(ctx, MILORI_ERR_LIMIT,
                        "%s: %s takes %zu MiB, over the limit of %zu MiB; raise it with --memory",
                        path, why, (bytes >> 20) + 1, ctx->memory_limit >> 20);
    ctx->memory_held += bytes;
    return MILORI_OK;
}

void mil_release(milori_context *ctx, size_t bytes) {
    ctx->memory_held -= bytes < ctx->memory_held ? bytes : ctx->memory_held;
}

size_t mil_memory_limit(const milori_context *ctx) {
    return ctx->memory_limit;
}

uint64_t mil_pixel_limit(const milori_context *ctx) {
    return ctx->pixel_limit;
}

int mil_threads(const milori_context *ctx) {
    if (ctx->threads > 0)
        return ctx->threads;
    long n = sysconf(_SC_NPROCESSORS_ONLN);
    return n < 1 ? 1 : n > 64 ? 64 : (int)n;
}

milori_status mil_check_cancel(milori_context *ctx) {
    if (ctx->cancel && ctx->cancel(ctx->cancel_data))
        return mil_fail(ctx, MILORI_ERR_CANCELLED, "stopped");
    return MILORI_OK;
}

void mil_progress(milori_context *ctx, double done) {
    if (ctx->progress)
        ctx->progress(done, ctx->progress_data);
}
