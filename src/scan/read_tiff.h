/* TIFF through libtiff: what its two files share. */
#ifndef MILORI_READ_TIFF_H
#define MILORI_READ_TIFF_H

#include <tiffio.h>

#include "scan/source_pixels.h"
#include "scan/source_reader.h"

enum { TIFF_PLANES = 4 }; /* colours and alpha */

typedef struct tiff_reader tiff_reader;

/* One libtiff decoder over the shared file, with a place of its own in it. */
typedef struct tiff_handle {
    tiff_reader *reader;
    uint64_t place;
    TIFF *tiff;
} tiff_handle;

struct tiff_reader {
    mil_source *source;
    char message[256]; /* libtiff's first error, or warning of damage */
    bool reading;      /* pixels: warnings now mean damage */
    bool damaged;
    bool profile_lost; /* its tag is there and cannot be read */
    tdir_t page;

    mil_layout layout; /* of a row once planes are joined */
    uint16_t compression;
    uint16_t stored_samples; /* a pixel */
    bool tiled, separate;
    bool straight;               /* uncompressed strips, read without libtiff */
    uint32_t planes;             /* parts a row is read in: 1, or the samples used */
    uint16_t plane[TIFF_PLANES]; /* the sample each is */
    uint32_t strip_rows;         /* or a tile's */
    size_t row_bytes;            /* of one plane's row; of all its tiles if tiled */
    uint32_t tile_width;
    tmsize_t tile_row_bytes;
    uint8_t *rows;     /* a row of a plane; a row of tiles of every plane if tiled */
    uint8_t *tile;     /* one decoded tile */
    uint16_t *samples; /* an unpacked row, if it cannot go straight out */
    uint32_t tile_row; /* which row of tiles is in rows, from 1; 0 none */
    uint32_t next;
    uint32_t handles;
    tiff_handle handle[TIFF_PLANES];
};

/* Opens the handle at the reader's page. */
milori_status mil_tiff_handle_open(tiff_reader *reader, tiff_handle *handle);
void mil_tiff_handle_close(tiff_handle *handle);
/* Fails with libtiff's words. */
milori_status mil_tiff_failure(tiff_reader *reader);

/* Bytes of the file from place, fewer at its end, -1 on an error. */
tmsize_t mil_tiff_bytes(tiff_reader *reader, uint64_t place, void *bytes, tmsize_t size);

/* Buffers and limits for reading; handle[0] is open and the layout known. */
milori_status mil_tiff_rows_prepare(tiff_reader *reader);
milori_status mil_tiff_rows_read(mil_source *source, uint32_t count, uint16_t *rows);
/* Whether what tiff decodes to fits the buffers prepared. */
bool mil_tiff_rows_fit(const tiff_reader *reader, TIFF *tiff);
void mil_tiff_rows_free(tiff_reader *reader);

#endif
