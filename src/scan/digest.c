#include "scan/source.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <xxhash.h>

#define BLOCK ((size_t)256 << 10)

static milori_status digest_open_file(milori_context *ctx, const char *shown, int fd,
                                      XXH3_state_t *state, uint8_t *block) {
    struct stat st;
    if (fstat(fd, &st) != 0 || !S_ISREG(st.st_mode))
        return mil_fail(ctx, MILORI_ERR_OPEN, "%s: not a regular file; name a file", shown);
    for (;;) {
        ssize_t n = read(fd, block, BLOCK);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return mil_fail(ctx, MILORI_ERR_OPEN, "%s: cannot be read (%s); check the disk", shown,
                            strerror(errno));
        if (n == 0)
            return MILORI_OK;
        XXH3_128bits_update(state, block, (size_t)n);
    }
}

/* In the canonical (big-endian) order, as `xxhsum -H2` prints it. */
static void write_hex(XXH128_hash_t hash, char digest[33]) {
    XXH128_canonical_t canonical;
    XXH128_canonicalFromHash(&canonical, hash);
    for (size_t i = 0; i < sizeof canonical.digest; i++)
        snprintf(digest + 2 * i, 3, "%02x", canonical.digest[i]);
}

milori_status mil_file_digest(milori_context *ctx, const char *path, char digest[33]) {
    milori_status status = MILORI_ERR_MEMORY;
    int fd = -1;
    XXH3_state_t *state = XXH3_createState();
    uint8_t *block = mil_alloc(ctx, BLOCK, 1);
    char *shown = mil_printable(path); /* for messages */
    if (!state || !block || !shown || XXH3_128bits_reset(state) != XXH_OK) {
        mil_fail(ctx, status, "out of memory: close other programs and try again");
        goto done;
    }
    /* O_NONBLOCK: a fifo must not hold us up; it is refused after fstat. */
    fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (fd < 0)
        status = mil_fail_open(ctx, shown, errno);
    else
        status = digest_open_file(ctx, shown, fd, state, block);
    if (status == MILORI_OK)
        write_hex(XXH3_128bits_digest(state), digest);
done:
    if (fd >= 0)
        close(fd);
    free(shown);
    free(block);
    XXH3_freeState(state);
    return status;
}
