/* What the readers behind source.h share. For src/scan alone. */
#ifndef MILORI_SOURCE_READER_H
#define MILORI_SOURCE_READER_H

#include <stdio.h>

#include "scan/source.h"

/* One format. open fills source->info and may leave source->codec, which close
 * frees; both are called once. read and rewind need not look at next_row. */
typedef struct mil_reader {
    milori_status (*open)(mil_source *source, milori_notes *notes);
    milori_status (*read)(mil_source *source, uint32_t count, uint16_t *rows);
    milori_status (*rewind)(mil_source *source);
    void (*close)(mil_source *source);
} mil_reader;

extern const mil_reader mil_reader_tiff, mil_reader_png, mil_reader_jpeg;

struct mil_source {
    milori_context *ctx;
    char *path;
    char *name; /* path for messages */
    FILE *file;
    uint64_t file_size;
    const mil_reader *reader;
    void *codec;
    mil_source_info info;
    uint8_t *icc;
    char *xmp, *software;
    uint32_t next_row;
    bool failed; /* since the last rewind */
};

/* Takes width and height into info after the pixel limit; call before anything
 * is allocated for pixels. */
milori_status mil_source_size(mil_source *source, uint32_t width, uint32_t height);
/* Charges bytes of a file that cannot be streamed; fewer than 16 MiB count as
 * the working buffers that streaming needs too. */
milori_status mil_source_hold(mil_source *source, size_t bytes, const char *why);
/* Copies into the source; an empty piece is none. The first of each is kept. */
milori_status mil_source_keep_icc(mil_source *source, const void *bytes, size_t size);
milori_status mil_source_keep_xmp(mil_source *source, const void *bytes, size_t size);
milori_status mil_source_keep_software(mil_source *source, const void *bytes, size_t size);
/* MILORI_ERR_DAMAGED; detail is the codec's own words, perhaps "". */
milori_status mil_source_damaged(mil_source *source, const char *detail);
/* MILORI_ERR_UNSUPPORTED: "a ... file", and what to save it as. */
milori_status mil_source_refuse(mil_source *source, const char *what);
void mil_source_note_alpha(milori_notes *notes);

#endif
