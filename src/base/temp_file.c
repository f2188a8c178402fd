#include "base/temp_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static milori_status disk_error(milori_context *ctx, const mil_temp_file *file, const char *doing) {
    return mil_fail(ctx, MILORI_ERR_WRITE,
                    "cannot %s a temporary file in %s (%s); free space there or set TMPDIR", doing,
                    file->folder, strerror(errno));
}

milori_status mil_temp_file_open(milori_context *ctx, mil_temp_file *file) {
    const char *folder = getenv("TMPDIR");
    if (!folder || !*folder)
        folder = "/tmp";
    char name[sizeof file->folder + 16];
    snprintf(file->folder, sizeof file->folder, "%s", folder);
    snprintf(name, sizeof name, "%s/milori.XXXXXX", file->folder);
    file->fd = mkstemp(name);
    if (file->fd < 0)
        return disk_error(ctx, file, "make");
    unlink(name);
    fcntl(file->fd, F_SETFD, FD_CLOEXEC);
    return MILORI_OK;
}

milori_status mil_temp_file_write(milori_context *ctx, const mil_temp_file *file, const void *bytes,
                                  size_t size, uint64_t at) {
    const char *p = bytes;
    while (size > 0) {
        ssize_t n = pwrite(file->fd, p, size, (off_t)at);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0) {
            errno = n == 0 ? ENOSPC : errno;
            return disk_error(ctx, file, "write");
        }
        p += n;
        at += (uint64_t)n;
        size -= (size_t)n;
    }
    return MILORI_OK;
}

milori_status mil_temp_file_read(milori_context *ctx, const mil_temp_file *file, void *bytes,
                                 size_t size, uint64_t at) {
    char *p = bytes;
    while (size > 0) {
        ssize_t n = pread(file->fd, p, size, (off_t)at);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0) {
            errno = n == 0 ? EIO : errno;
            return disk_error(ctx, file, "read back");
        }
        p += n;
        at += (uint64_t)n;
        size -= (size_t)n;
    }
    return MILORI_OK;
}

milori_status mil_temp_file_size(milori_context *ctx, const mil_temp_file *file, uint64_t size) {
    int result;
    do
        result = ftruncate(file->fd, (off_t)size);
    while (result != 0 && errno == EINTR);
    return result == 0 ? MILORI_OK : disk_error(ctx, file, "write");
}

void mil_temp_file_close(mil_temp_file *file) {
    if (file->fd >= 0)
        close(file->fd);
    file->fd = -1;
}
