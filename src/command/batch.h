/* Which scans a command works on, in which order, and what their positives are called. */
#ifndef MILORI_BATCH_H
#define MILORI_BATCH_H

#include <sys/types.h>

#include "base/base.h"

typedef struct mil_entry {
    char *path;  /* as given, or folder/name */
    char *shown; /* path as messages show it */
    char *name;  /* the file's own name as messages show it */
    char *stem;  /* what its positives are called before "-1" and the extension */
    dev_t device;
    ino_t inode;
} mil_entry;

typedef struct mil_batch {
    size_t count;
    mil_entry *entry;
    const mil_entry **by_stem, **by_file; /* count each: sorted, for look-ups among thousands */
    int failed;                           /* names given that are no scan; each has had its line */
} mil_batch;

/* Lists the names given: a folder one level deep in natural order (TIFF, PNG and
 * JPEG by extension, nothing hidden), a file always. The same file under the
 * same stem is taken once. In the folder output (or NULL), which positives are
 * written to, milori's own positives are not taken for scans. A name that cannot
 * be used gets a line on standard error and counts as failed; only a lack of
 * memory fails the call. */
milori_status mil_batch_list(milori_context *ctx, char *const *names, size_t count,
                             const char *output, mil_batch *batch);
/* Drops what is listed twice, the later one, and sorts by_stem and by_file. */
milori_status mil_batch_sort(milori_context *ctx, mil_batch *batch);
void mil_entry_free(mil_entry *entry);
void mil_batch_free(mil_batch *batch);

/* Whether the positive number of entry bears the name of another entry's positive. */
const mil_entry *mil_result_clash(const mil_batch *batch, const mil_entry *entry, int number,
                                  int of);
/* The scan that the file at path is, through any link; NULL if none. */
const mil_entry *mil_batch_same_file(const mil_batch *batch, const char *path);

/* Below zero, zero, above zero: runs of digits by their value ("bed 2" before
 * "bed 10"), letters without their case, ties by bytes. */
int mil_natural_order(const char *a, const char *b);

#endif
