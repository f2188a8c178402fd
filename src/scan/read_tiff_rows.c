/* TIFF through libtiff: rows out of strips, tiles and planes. */
#include <stdlib.h>
#include <string.h>

#include "scan/read_tiff.h"

static uint32_t samples_of_plane(const tiff_reader *r) {
    return r->separate ? 1 : r->layout.samples;
}

/* a * b, SIZE_MAX where that does not fit: no limit lets it pass. */
static size_t product(size_t a, size_t b) {
    return b && a > SIZE_MAX / b ? SIZE_MAX : a * b;
}

static size_t sum(size_t a, size_t b) {
    return a > SIZE_MAX - b ? SIZE_MAX : a + b;
}

/* libtiff takes the whole of a compressed strip or tile in. */
static size_t largest_piece(const tiff_reader *r, TIFF *tiff) {
    uint32_t count = r->tiled ? TIFFNumberOfTiles(tiff) : TIFFNumberOfStrips(tiff);
    uint64_t most = 0;
    for (uint32_t i = 0; i < count; i++) {
        uint64_t bytes = TIFFGetStrileByteCount(tiff, i);
        most = bytes > most ? bytes : most;
    }
    return (size_t)(most < r->source->file_size ? most : r->source->file_size);
}

/* Some codecs hold a strip decoded as well. */
static size_t decoded_strip(const tiff_reader *r) {
    size_t bytes = product(r->row_bytes, r->strip_rows);
    switch (r->compression) {
    case COMPRESSION_WEBP:
    case COMPRESSION_LERC:
    case COMPRESSION_JBIG:
        return bytes;
    case COMPRESSION_PIXARLOG:
        return product(bytes, 2);
    default:
        return 0;
    }
}

static milori_status measure_strips(tiff_reader *r, TIFF *tiff, size_t *need) {
    uint32_t rows = 0;
    TIFFGetFieldDefaulted(tiff, TIFFTAG_ROWSPERSTRIP, &rows);
    r->strip_rows = rows < 1 ? 1 : rows > r->source->info.height ? r->source->info.height : rows;
    size_t samples = (size_t)r->source->info.width * samples_of_plane(r);
    r->row_bytes = mil_packed_bytes(samples, r->layout.bits);
    if (!mil_tiff_rows_fit(r, tiff))
        return mil_tiff_failure(r);
    r->straight = r->compression == COMPRESSION_NONE;
    r->handles = r->straight ? 1 : r->planes;
    *need = r->row_bytes;
    if (!r->straight) {
        size_t each = sum(largest_piece(r, tiff), decoded_strip(r));
        *need = sum(*need, product(each, r->planes));
    }
    return MILORI_OK;
}

static milori_status measure_tiles(tiff_reader *r, TIFF *tiff, size_t *need) {
    uint32_t width = 0, height = 0;
    TIFFGetField(tiff, TIFFTAG_TILEWIDTH, &width);
    TIFFGetField(tiff, TIFFTAG_TILELENGTH, &height);
    if (width == 0 || height == 0 || TIFFTileSize(tiff) <= 0)
        return mil_source_damaged(r->source, "tiles of no size");
    size_t samples = (size_t)width * samples_of_plane(r);
    if (samples % 8 * (unsigned)r->layout.bits % 8)
        return mil_source_damaged(r->source, "tiles of an odd width");
    r->strip_rows = height;
    r->tile_row_bytes = (tmsize_t)mil_packed_bytes(samples, r->layout.bits);
    r->tile_width = width;
    r->row_bytes = product((size_t)r->tile_row_bytes, (r->source->info.width - 1) / width + 1);
    if (!mil_tiff_rows_fit(r, tiff))
        return mil_tiff_failure(r);
    r->handles = 1;
    *need = product(product(r->row_bytes, height), r->planes);
    *need = sum(*need, (size_t)TIFFTileSize(tiff));
    *need = sum(*need, largest_piece(r, tiff));
    return MILORI_OK;
}

bool mil_tiff_rows_fit(const tiff_reader *r, TIFF *tiff) {
    if (r->tiled != (TIFFIsTiled(tiff) != 0))
        return false;
    if (!r->tiled)
        return TIFFScanlineSize(tiff) == (tmsize_t)r->row_bytes;
    uint32_t width = 0, height = 0;
    TIFFGetField(tiff, TIFFTAG_TILEWIDTH, &width);
    TIFFGetField(tiff, TIFFTAG_TILELENGTH, &height);
    return width == r->tile_width && height == r->strip_rows &&
           TIFFTileRowSize(tiff) == r->tile_row_bytes &&
           TIFFTileSize(tiff) == r->tile_row_bytes * (tmsize_t)height;
}

static milori_status allocate(tiff_reader *r, size_t samples) {
    milori_context *ctx = r->source->ctx;
    size_t rows = r->tiled ? (size_t)r->strip_rows * r->planes : 1;
    r->rows = mil_alloc(ctx, rows, r->row_bytes);
    if (r->rows && r->tiled)
        r->tile = mil_alloc(ctx, (size_t)r->tile_row_bytes, r->strip_rows);
    if (r->rows && !mil_layout_plain(&r->layout))
        r->samples = mil_alloc(ctx, samples, sizeof *r->samples);
    bool have = r->rows && (r->tile || !r->tiled);
    return have && (r->samples || mil_layout_plain(&r->layout)) ? MILORI_OK : MILORI_ERR_MEMORY;
}

milori_status mil_tiff_rows_prepare(tiff_reader *r) {
    TIFF *tiff = r->handle[0].tiff;
    size_t need = 0, samples = product(r->source->info.width, r->layout.samples);
    milori_status status =
        r->tiled ? measure_tiles(r, tiff, &need) : measure_strips(r, tiff, &need);
    if (status != MILORI_OK)
        return status;
    need = sum(need, product(samples, sizeof *r->samples));
    status = mil_source_hold(r->source, need,
                             r->tiled ? "a row of this TIFF's tiles" : "a strip of this TIFF");
    if (status == MILORI_OK)
        status = allocate(r, samples);
    for (uint32_t p = 1; p < r->handles && status == MILORI_OK; p++)
        status = mil_tiff_handle_open(r, &r->handle[p]);
    return status;
}

/* An uncompressed row straight from the file: strips of any size stream. */
static milori_status fetch_straight(tiff_reader *r, uint32_t plane, uint32_t y) {
    TIFF *tiff = r->handle[0].tiff;
    uint32_t height = r->source->info.height, inside = y % r->strip_rows, left = height - y;
    uint32_t strip = TIFFComputeStrip(tiff, y, r->plane[plane]);
    uint32_t rows = r->strip_rows < left + inside ? r->strip_rows : left + inside;
    uint16_t order = FILLORDER_MSB2LSB;
    if (TIFFGetStrileByteCount(tiff, strip) / r->row_bytes < rows)
        return mil_source_damaged(r->source, "a short strip");
    uint64_t place = TIFFGetStrileOffset(tiff, strip), skip = (uint64_t)inside * r->row_bytes;
    if (place == 0 || place > r->source->file_size || skip > r->source->file_size - place)
        return mil_source_damaged(r->source, "a strip outside the file");
    tmsize_t size = (tmsize_t)r->row_bytes;
    if (mil_tiff_bytes(r, place + skip, r->rows, size) != size)
        return mil_source_damaged(r->source, "its end is missing");
    TIFFGetFieldDefaulted(tiff, TIFFTAG_FILLORDER, &order);
    if (order == FILLORDER_LSB2MSB)
        TIFFReverseBits(r->rows, size);
    if (r->layout.bits == 16 && TIFFIsByteSwapped(tiff))
        TIFFSwabArrayOfShort((uint16_t *)r->rows, size / 2);
    return MILORI_OK;
}

static milori_status load_tiles(tiff_reader *r, uint32_t y) {
    TIFF *tiff = r->handle[0].tiff;
    size_t tile_row = (size_t)r->tile_row_bytes;
    r->tile_row = 0;
    for (uint32_t p = 0; p < r->planes; p++) {
        uint8_t *to = r->rows + (size_t)p * r->strip_rows * r->row_bytes;
        for (uint64_t x = 0; x < r->source->info.width; x += r->tile_width, to += tile_row) {
            tmsize_t got = TIFFReadTile(tiff, r->tile, (uint32_t)x, y, 0, r->plane[p]);
            if (got != r->tile_row_bytes * (tmsize_t)r->strip_rows || r->damaged)
                return mil_tiff_failure(r);
            for (size_t i = 0; i < r->strip_rows; i++)
                memcpy(to + i * r->row_bytes, r->tile + i * tile_row, tile_row);
        }
    }
    r->tile_row = y / r->strip_rows + 1;
    return MILORI_OK;
}

/* Row y of a plane as stored, in the machine's byte order. */
static milori_status fetch(tiff_reader *r, uint32_t plane, uint32_t y, const uint8_t **row) {
    *row = r->rows;
    if (r->straight)
        return fetch_straight(r, plane, y);
    if (!r->tiled) {
        int ok = TIFFReadScanline(r->handle[plane].tiff, r->rows, y, r->plane[plane]);
        return ok == 1 && !r->damaged ? MILORI_OK : mil_tiff_failure(r);
    }
    uint32_t tile_row = y / r->strip_rows;
    *row += ((size_t)plane * r->strip_rows + y % r->strip_rows) * r->row_bytes;
    return r->tile_row == tile_row + 1 ? MILORI_OK : load_tiles(r, tile_row * r->strip_rows);
}

static milori_status read_row(tiff_reader *r, uint16_t *out) {
    uint32_t width = r->source->info.width;
    uint16_t *samples = r->samples ? r->samples : out;
    size_t count = (size_t)width * samples_of_plane(r);
    for (uint32_t p = 0; p < r->planes; p++) {
        const uint8_t *row;
        milori_status status = fetch(r, p, r->next, &row);
        if (status != MILORI_OK)
            return status;
        mil_unpack(&r->layout, row, count, r->planes, samples + p);
    }
    if (r->samples)
        mil_compose(&r->layout, width, samples, out);
    r->next++;
    return MILORI_OK;
}

milori_status mil_tiff_rows_read(mil_source *s, uint32_t count, uint16_t *rows) {
    tiff_reader *r = s->codec;
    size_t step = (size_t)s->info.width * mil_layout_channels(&r->layout);
    milori_status status = MILORI_OK;
    r->reading = true;
    for (uint32_t i = 0; i < count && status == MILORI_OK; i++)
        status = read_row(r, rows + i * step);
    return status;
}

void mil_tiff_rows_free(tiff_reader *r) {
    free(r->rows);
    free(r->tile);
    free(r->samples);
}
