#include "command/batch.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "command/messages.h"
#include "scan/packet.h"

static const char *skip_zeros(const char *s) {
    while (s[0] == '0' && isdigit((unsigned char)s[1]))
        s++;
    return s;
}

static size_t digits(const char *s) {
    size_t n = 0;
    while (isdigit((unsigned char)s[n]))
        n++;
    return n;
}

/* Compares two runs of digits by value and steps over them. */
static int compare_runs(const char **a, const char **b) {
    const char *x = skip_zeros(*a), *y = skip_zeros(*b);
    size_t n = digits(x), m = digits(y);
    *a = x + n;
    *b = y + m;
    return n != m ? (n < m ? -1 : 1) : memcmp(x, y, n);
}

int mil_natural_order(const char *a, const char *b) {
    const char *s = a, *t = b;
    while (*s && *t) {
        int order;
        if (isdigit((unsigned char)*s) && isdigit((unsigned char)*t)) {
            order = compare_runs(&s, &t);
        } else {
            order = tolower((unsigned char)*s++) - tolower((unsigned char)*t++);
        }
        if (order)
            return order;
    }
    return *s ? 1 : *t ? -1 : strcmp(a, b);
}

static int by_name(const void *a, const void *b) {
    return mil_natural_order(*(char *const *)a, *(char *const *)b);
}

static const char *file_name(const char *path) {
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* The extension's dot, or the name's end; a leading dot starts no extension. */
static const char *extension(const char *name) {
    const char *dot = strrchr(name, '.');
    return dot && dot != name ? dot : name + strlen(name);
}

static bool looks_like_scan(const char *name) {
    static const char *const known[] = {".tif", ".tiff", ".png", ".jpg", ".jpeg"};
    if (name[0] == '.')
        return false;
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (strcasecmp(extension(name), known[i]) == 0)
            return true;
    return false;
}

void mil_entry_free(mil_entry *entry) {
    free(entry->path);
    free(entry->shown);
    free(entry->name);
    free(entry->stem);
    memset(entry, 0, sizeof *entry);
}

static milori_status add(milori_context *ctx, mil_batch *batch, const char *path,
                         const struct stat *st) {
    const char *name = file_name(path);
    mil_entry entry = {.path = mil_strdup(ctx, path),
                       .shown = mil_printable(path),
                       .name = mil_printable(name),
                       .stem = strndup(name, (size_t)(extension(name) - name)),
                       .device = st->st_dev,
                       .inode = st->st_ino};
    bool whole = entry.path && entry.shown && entry.name && entry.stem;
    mil_entry *grown = whole ? realloc(batch->entry, (batch->count + 1) * sizeof *grown) : NULL;
    if (!grown) {
        mil_entry_free(&entry);
        return mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: name fewer scans at once");
    }
    batch->entry = grown;
    grown[batch->count++] = entry;
    return MILORI_OK;
}

static void refuse(mil_batch *batch, const char *path, const char *what) {
    char *shown = mil_printable(path);
    mil_error("%s: %s", shown ? shown : "a name", what);
    free(shown);
    batch->failed++;
}

/* The names in folder that look like scans, in order. */
static milori_status read_folder(milori_context *ctx, DIR *folder, char ***names, size_t *count) {
    *names = NULL;
    *count = 0;
    for (struct dirent *item; (item = readdir(folder));) {
        if (!looks_like_scan(item->d_name))
            continue;
        char **grown = realloc(*names, (*count + 1) * sizeof *grown);
        if (!grown)
            return mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: name fewer scans at once");
        *names = grown;
        grown[*count] = mil_strdup(ctx, item->d_name);
        if (!grown[*count])
            return MILORI_ERR_MEMORY;
        ++*count;
    }
    if (*count)
        qsort(*names, *count, sizeof **names, by_name);
    return MILORI_OK;
}

static bool is_positive(const char *path) {
    milori_context *ctx = milori_context_new();
    mil_packet packet = {0};
    bool own = ctx && mil_packet_of_file(ctx, path, &packet) == MILORI_OK;
    if (own)
        mil_packet_free(&packet);
    milori_context_free(ctx);
    return own;
}

/* Adds one name of a folder; what is no file is passed over. */
static milori_status add_from_folder(milori_context *ctx, mil_batch *batch, const char *folder,
                                     const char *name, bool is_output) {
    size_t size = strlen(folder) + strlen(name) + 2;
    char *path = mil_alloc(ctx, size, 1);
    if (!path)
        return MILORI_ERR_MEMORY;
    bool slash = folder[0] && folder[strlen(folder) - 1] == '/';
    snprintf(path, size, "%s%s%s", folder, slash ? "" : "/", name);
    struct stat st;
    milori_status status = MILORI_OK;
    if (stat(path, &st) != 0)
        refuse(batch, path, "is a link that leads nowhere; remove it or put the scan back");
    else if (S_ISREG(st.st_mode) && !(is_output && is_positive(path)))
        status = add(ctx, batch, path, &st);
    free(path);
    return status;
}

static milori_status list_folder(milori_context *ctx, mil_batch *batch, const char *path,
                                 bool is_output) {
    DIR *folder = opendir(path);
    if (!folder) {
        refuse(batch, path, "the folder cannot be read; check its permissions");
        return MILORI_OK;
    }
    char **names;
    size_t count, before = batch->count;
    int failed = batch->failed;
    milori_status status = read_folder(ctx, folder, &names, &count);
    closedir(folder);
    for (size_t i = 0; i < count && status == MILORI_OK; i++)
        status = add_from_folder(ctx, batch, path, names[i], is_output);
    if (status == MILORI_OK && count == 0 && batch->count == before && batch->failed == failed)
        refuse(batch, path,
               "the folder holds no TIFF, PNG or JPEG (folders inside are not read); name the "
               "folder of the scans");
    for (size_t i = 0; i < count; i++)
        free(names[i]);
    free(names);
    return status;
}

static milori_status list_name(milori_context *ctx, mil_batch *batch, const char *path,
                               const char *output) {
    struct stat st, out;
    if (!path[0]) {
        refuse(batch, "\"\"", "is no name; name a scan or a folder");
        return MILORI_OK;
    }
    if (stat(path, &st) != 0) {
        mil_fail_open(ctx, path, errno);
        mil_error_of(ctx);
        milori_clear(ctx);
        batch->failed++;
        return MILORI_OK;
    }
    if (S_ISDIR(st.st_mode)) {
        bool is_output =
            output && stat(output, &out) == 0 && out.st_dev == st.st_dev && out.st_ino == st.st_ino;
        return list_folder(ctx, batch, path, is_output);
    }
    if (S_ISREG(st.st_mode))
        return add(ctx, batch, path, &st);
    refuse(batch, path, "is neither a file nor a folder; name a scan");
    return MILORI_OK;
}

milori_status mil_batch_list(milori_context *ctx, char *const *names, size_t count,
                             const char *output, mil_batch *batch) {
    memset(batch, 0, sizeof *batch);
    for (size_t i = 0; i < count; i++) {
        milori_status status = list_name(ctx, batch, names[i], output);
        if (status != MILORI_OK)
            return status;
    }
    return mil_batch_sort(ctx, batch);
}

void mil_batch_free(mil_batch *batch) {
    for (size_t i = 0; i < batch->count; i++)
        mil_entry_free(&batch->entry[i]);
    free(batch->entry);
    free(batch->by_stem);
    free(batch->by_file);
    memset(batch, 0, sizeof *batch);
}
