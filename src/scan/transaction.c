#define _GNU_SOURCE /* renameat2() */
#include "scan/transaction.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "scan/sink.h"

#define PART_PREFIX ".milori-"
#define PART_SUFFIX ".part"
#define PART_DIGITS 16
#define PART_SIZE (sizeof PART_PREFIX + PART_DIGITS + sizeof PART_SUFFIX)
/* Codecs write a few bytes at a time; the system is asked less often. */
#define BUFFER_SIZE ((size_t)256 << 10)

struct mil_transaction {
    milori_context *ctx;
    char *path;
    char *shown;      /* path for messages */
    const char *name; /* path's last part */
    char part[PART_SIZE];
    int folder, file;
    bool replace;
    int error;      /* errno of the first failure; sticky */
    uint64_t start; /* of the buffer in the file */
    uint64_t size;
    size_t used;
    uint8_t *buffer;
};

/* What can be done about an errno met while writing. */
static const char *advice(int error) {
    switch (error) {
    case ENOSPC:
    case EDQUOT:
        return "free some space and run again";
    case EFBIG:
        return "raise the file size limit or write to another disk";
    case EACCES:
    case EPERM:
    case EROFS:
        return "choose a folder that you may write to";
    case ENOENT:
        return "make the folder first";
    case ENOTDIR:
        return "a part of its path is not a folder; choose another";
    case ENAMETOOLONG:
        return "choose a shorter name";
    case EISDIR:
        return "name a file";
    default:
        return "check the disk and run again";
    }
}

static milori_status fail_errno(milori_context *ctx, const char *path, int error) {
    if (error == EEXIST)
        return mil_fail(ctx, MILORI_ERR_EXISTS,
                        "%s: is there already and is not to be replaced; move it away or choose "
                        "another folder",
                        path);
    return mil_fail(ctx, MILORI_ERR_WRITE, "%s: cannot be written (%s); %s", path, strerror(error),
                    advice(error));
}

milori_status mil_transaction_fail(mil_transaction *tx, const char *codec_reason) {
    if (tx->error)
        return fail_errno(tx->ctx, tx->shown, tx->error);
    return mil_fail(tx->ctx, MILORI_ERR_WRITE,
                    "%s: cannot be written (%s); run again or choose another --format", tx->shown,
                    codec_reason);
}

static void free_transaction(mil_transaction *tx) {
    if (tx->file >= 0)
        close(tx->file); /* gives the lock back */
    if (tx->folder >= 0)
        close(tx->folder);
    free(tx->buffer);
    free(tx->path);
    free(tx->shown);
    free(tx);
}

void mil_transaction_abort(mil_transaction *tx) {
    if (!tx)
        return;
    if (tx->file >= 0)
        unlinkat(tx->folder, tx->part, 0);
    free_transaction(tx);
}

/* Opens the folder of path; the last part of path becomes tx->name. */
static int open_folder(mil_transaction *tx) {
    char *slash = strrchr(tx->path, '/');
    tx->name = slash ? slash + 1 : tx->path;
    if (!*tx->name || strcmp(tx->name, ".") == 0 || strcmp(tx->name, "..") == 0)
        return EISDIR;
    char *folder = slash == tx->path ? strdup("/")
                   : slash           ? strndup(tx->path, (size_t)(slash - tx->path))
                                     : strdup(".");
    if (!folder)
        return ENOMEM;
    tx->folder = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    int error = tx->folder < 0 ? errno : 0;
    free(folder);
    return error;
}

/* What stands under the name: 0 if it may be written, else an errno. */
static int look_at_target(const mil_transaction *tx) {
    struct stat st;
    if (fstatat(tx->folder, tx->name, &st, AT_SYMLINK_NOFOLLOW) != 0)
        return errno == ENOENT ? 0 : errno;
    if (S_ISDIR(st.st_mode))
        return EISDIR;
    /* A device is not ours to replace, whoever runs this. */
    bool replaceable = S_ISREG(st.st_mode) || S_ISLNK(st.st_mode);
    return tx->replace && replaceable ? 0 : EEXIST;
}

/* A name of our own that no file has, the file locked. A sweep in another
 * process may come between the two: then the file is gone and another made. */
static int create_part(mil_transaction *tx) {
    for (int tries = 0; tries < 100; tries++) {
        uint64_t random;
        if (getentropy(&random, sizeof random) != 0)
            return errno;
        snprintf(tx->part, sizeof tx->part, PART_PREFIX "%016llx" PART_SUFFIX,
                 (unsigned long long)random);
        int fd = openat(tx->folder, tx->part, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (fd < 0 && errno == EEXIST)
            continue;
        if (fd < 0)
            return errno;
        bool taken = flock(fd, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK;
        struct stat st;
        if (!taken && fstat(fd, &st) == 0 && st.st_nlink > 0) {
            tx->file = fd;
            return 0;
        }
        close(fd);
    }
    return EBUSY;
}

milori_status mil_transaction_open(milori_context *ctx, const char *path, bool replace,
                                   mil_transaction **transaction) {
    *transaction = NULL;
    mil_transaction *tx = mil_alloc(ctx, 1, sizeof *tx);
    if (!tx)
        return MILORI_ERR_MEMORY;
    tx->ctx = ctx;
    tx->folder = tx->file = -1;
    tx->replace = replace;
    tx->path = mil_strdup(ctx, path);
    tx->shown = mil_printable(path);
    tx->buffer = mil_alloc(ctx, BUFFER_SIZE, 1);
    milori_status status = MILORI_ERR_MEMORY;
    if (!tx->path || !tx->shown || !tx->buffer) {
        mil_fail(ctx, status, "out of memory: close other programs and try again");
        goto failed;
    }
    int error = open_folder(tx);
    if (!error)
        error = look_at_target(tx);
    if (!error)
        error = create_part(tx);
    if (!error) {
        *transaction = tx;
        return MILORI_OK;
    }
    status = fail_errno(ctx, tx->shown, error);
failed:
    mil_transaction_abort(tx);
    return status;
}

milori_context *mil_transaction_context(const mil_transaction *tx) {
    return tx->ctx;
}

const char *mil_transaction_name(const mil_transaction *tx) {
    return tx->shown;
}

static bool write_out(mil_transaction *tx, const uint8_t *bytes, size_t size, uint64_t place) {
    while (size > 0 && !tx->error) {
        ssize_t n = pwrite(tx->file, bytes, size, (off_t)place);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0) {
            tx->error = n < 0 ? errno : ENOSPC;
            break;
        }
        bytes += n;
        place += (uint64_t)n;
        size -= (size_t)n;
    }
    return !tx->error;
}

static bool flush(mil_transaction *tx) {
    bool whole = write_out(tx, tx->buffer, tx->used, tx->start);
    tx->start += tx->used;
    tx->used = 0;
    return whole;
}

bool mil_transaction_write(mil_transaction *tx, const void *bytes, size_t size) {
    if (tx->error || (size > BUFFER_SIZE - tx->used && !flush(tx)))
        return false;
    if (size > BUFFER_SIZE) {
        if (!write_out(tx, bytes, size, tx->start))
            return false;
        tx->start += size;
    } else if (size > 0) {
        memcpy(tx->buffer + tx->used, bytes, size);
        tx->used += size;
    }
    if (tx->start + tx->used > tx->size)
        tx->size = tx->start + tx->used;
    return true;
}

bool mil_transaction_seek(mil_transaction *tx, uint64_t place) {
    if (tx->error)
        return false;
    if (place == tx->start + tx->used)
        return true;
    if (place > INT64_MAX) {
        tx->error = EFBIG;
        return false;
    }
    if (!flush(tx))
        return false;
    tx->start = place;
    return true;
}

uint64_t mil_transaction_place(const mil_transaction *tx) {
    return tx->start + tx->used;
}

uint64_t mil_transaction_size(const mil_transaction *tx) {
    return tx->size;
}

/* Everything on the disk. Some file systems tell of a failed write only at
 * close(), which closing a copy asks for while the lock stays ours. */
static int make_durable(mil_transaction *tx) {
    if (!flush(tx))
        return tx->error;
    if (fsync(tx->file) != 0)
        return errno;
    int copy = dup(tx->file);
    if (copy < 0 || close(copy) != 0)
        return errno;
    return 0;
}

static int rename_part(mil_transaction *tx) {
    if (tx->replace)
        return renameat(tx->folder, tx->part, tx->folder, tx->name) == 0 ? 0 : errno;
    if (renameat2(tx->folder, tx->part, tx->folder, tx->name, RENAME_NOREPLACE) == 0)
        return 0;
    if (errno != EINVAL && errno != ENOSYS)
        return errno;
    /* Network file systems cannot do that but have links. */
    if (linkat(tx->folder, tx->part, tx->folder, tx->name, 0) != 0)
        return errno;
    unlinkat(tx->folder, tx->part, 0);
    return 0;
}

milori_status mil_transaction_commit(mil_transaction *tx) {
    int error = make_durable(tx);
    if (!error)
        error = rename_part(tx);
    if (error) {
        milori_status status = fail_errno(tx->ctx, tx->shown, error);
        mil_transaction_abort(tx);
        return status;
    }
    /* The file is whole under its name whatever this says; many file systems
     * have no fsync for folders. */
    (void)fsync(tx->folder);
    free_transaction(tx);
    return MILORI_OK;
}

milori_status mil_write_file(milori_context *ctx, const char *path, const void *bytes, size_t size,
                             bool replace) {
    mil_transaction *tx;
    milori_status status = mil_transaction_open(ctx, path, replace, &tx);
    if (status != MILORI_OK)
        return status;
    if (mil_transaction_write(tx, bytes, size))
        return mil_transaction_commit(tx);
    status = mil_transaction_fail(tx, "");
    mil_transaction_abort(tx);
    return status;
}

static bool is_part_name(const char *name) {
    const size_t prefix = sizeof PART_PREFIX - 1;
    return strncmp(name, PART_PREFIX, prefix) == 0 &&
           strspn(name + prefix, "0123456789abcdef") == PART_DIGITS &&
           strcmp(name + prefix + PART_DIGITS, PART_SUFFIX) == 0;
}

/* Removes a temporary that nobody holds. */
static bool sweep_part(int folder, const char *name) {
    int fd = openat(folder, name, O_RDWR | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    if (fd < 0)
        return false;
    struct stat st;
    bool dead = fstat(fd, &st) == 0 && S_ISREG(st.st_mode) && flock(fd, LOCK_EX | LOCK_NB) == 0;
    bool removed = dead && unlinkat(folder, name, 0) == 0;
    close(fd);
    return removed;
}

int mil_sink_sweep(const char *folder) {
    DIR *list = opendir(folder);
    if (!list)
        return -1;
    int removed = 0;
    for (struct dirent *entry; (entry = readdir(list));)
        if (is_part_name(entry->d_name) && sweep_part(dirfd(list), entry->d_name))
            removed++;
    closedir(list);
    return removed;
}
