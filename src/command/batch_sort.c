/* Finding a scan among the batch's by its file or its positives' name. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "command/batch.h"

static int compare_files(dev_t device, ino_t inode, const mil_entry *b) {
    if (device != b->device)
        return device < b->device ? -1 : 1;
    return inode == b->inode ? 0 : inode < b->inode ? -1 : 1;
}

/* Of equal ones the first listed stands first: entries lie in that order. */
static int by_place(const mil_entry *a, const mil_entry *b) {
    return a < b ? -1 : a > b;
}

static int by_stem(const void *a, const void *b) {
    const mil_entry *x = *(const mil_entry *const *)a, *y = *(const mil_entry *const *)b;
    int order = strcmp(x->stem, y->stem);
    return order ? order : by_place(x, y);
}

static int by_file(const void *a, const void *b) {
    const mil_entry *x = *(const mil_entry *const *)a, *y = *(const mil_entry *const *)b;
    int order = compare_files(x->device, x->inode, y);
    return order ? order : by_stem(a, b);
}

static void sort(const mil_batch *batch, const mil_entry **view,
                 int (*order)(const void *, const void *)) {
    for (size_t i = 0; i < batch->count; i++)
        view[i] = &batch->entry[i];
    qsort(view, batch->count, sizeof *view, order);
}

/* The same file under the same stem: the later one goes. */
static void drop_doubles(mil_batch *batch) {
    const mil_entry **v = batch->by_file;
    for (size_t i = 1, first = 0; i < batch->count; i++) {
        if (compare_files(v[i]->device, v[i]->inode, v[first]) != 0 ||
            strcmp(v[i]->stem, v[first]->stem) != 0)
            first = i;
        else
            mil_entry_free(&batch->entry[v[i] - batch->entry]);
    }
    size_t kept = 0;
    for (size_t i = 0; i < batch->count; i++)
        if (batch->entry[i].path)
            batch->entry[kept++] = batch->entry[i];
    batch->count = kept;
}

milori_status mil_batch_sort(milori_context *ctx, mil_batch *batch) {
    if (batch->count == 0)
        return MILORI_OK;
    batch->by_stem = mil_alloc(ctx, batch->count, sizeof *batch->by_stem);
    batch->by_file = mil_alloc(ctx, batch->count, sizeof *batch->by_file);
    if (!batch->by_stem || !batch->by_file)
        return MILORI_ERR_MEMORY;
    sort(batch, batch->by_file, by_file);
    drop_doubles(batch);
    sort(batch, batch->by_file, by_file);
    sort(batch, batch->by_stem, by_stem);
    return MILORI_OK;
}

/* strcmp() of text with head and tail joined. */
static int compare_joined(const char *text, const char *head, const char *tail) {
    size_t length = strlen(head);
    int order = strncmp(text, head, length);
    return order ? order : strcmp(text + length, tail);
}

const mil_entry *mil_result_clash(const mil_batch *batch, const mil_entry *entry, int number,
                                  int of) {
    char tail[16] = "";
    if (of > 1)
        snprintf(tail, sizeof tail, "-%d", number);
    size_t low = 0, high = batch->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (compare_joined(batch->by_stem[middle]->stem, entry->stem, tail) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    for (; low < batch->count; low++) {
        const mil_entry *other = batch->by_stem[low];
        if (compare_joined(other->stem, entry->stem, tail) != 0)
            return NULL;
        if (other != entry)
            return other;
    }
    return NULL;
}

const mil_entry *mil_batch_same_file(const mil_batch *batch, const char *path) {
    struct stat st;
    if (stat(path, &st) != 0)
        return NULL;
    size_t low = 0, high = batch->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (compare_files(st.st_dev, st.st_ino, batch->by_file[middle]) > 0)
            low = middle + 1;
        else
            high = middle;
    }
    bool found =
        low < batch->count && compare_files(st.st_dev, st.st_ino, batch->by_file[low]) == 0;
    return found ? batch->by_file[low] : NULL;
}
