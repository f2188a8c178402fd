/* An unlinked file in $TMPDIR or /tmp, for what is too much to hold in memory. */
#ifndef MILORI_TEMP_FILE_H
#define MILORI_TEMP_FILE_H

#include "base/base.h"

typedef struct mil_temp_file {
    int fd; /* -1: closed */
    char folder[512];
} mil_temp_file;

/* It is gone when closed, or when the program ends, however that is. */
milori_status mil_temp_file_open(milori_context *ctx, mil_temp_file *file);
/* size bytes at a place; what was never written reads as 0, up to where writing or
 * mil_temp_file_size() went. MILORI_ERR_WRITE names the folder and the reason. */
milori_status mil_temp_file_write(milori_context *ctx, const mil_temp_file *file, const void *bytes,
                                  size_t size, uint64_t at);
milori_status mil_temp_file_read(milori_context *ctx, const mil_temp_file *file, void *bytes,
                                 size_t size, uint64_t at);
milori_status mil_temp_file_size(milori_context *ctx, const mil_temp_file *file, uint64_t size);
void mil_temp_file_close(mil_temp_file *file);

#endif
