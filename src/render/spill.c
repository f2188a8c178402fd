#include "render/spill.h"

#include <stdlib.h>
#include <string.h>

#include "base/temp_file.h"

/* The file holds strips of MIL_SPILL_STRIP columns (of the whole width where rows stay rows), each
 * with all its rows one after another: what is put goes in as one run a strip, and a strip comes
 * back as one run, to be transposed in memory. */
struct mil_spill {
    milori_context *ctx;
    uint32_t width, height, strip;
    bool across, flip_x, flip_y; /* columns become rows; then read from the far end */
    uint32_t put;
    mil_temp_file file;
    uint16_t *run; /* MIL_SPILL_STRIP x the longer side */
};

milori_status mil_spill_new(milori_context *ctx, uint32_t width, uint32_t height, int turn,
                            mil_spill **out) {
    mil_spill *spill = mil_alloc(ctx, 1, sizeof *spill);
    if (!spill)
        return MILORI_ERR_MEMORY;
    *spill = (mil_spill){.ctx = ctx, .width = width, .height = height, .file.fd = -1};
    spill->across = turn >= 5;
    /* Whether the picture's columns and rows are met from the far end. */
    spill->flip_x = turn == 2 || turn == 3 || turn == 7 || turn == 8;
    spill->flip_y = turn == 3 || turn == 4 || turn == 6 || turn == 7;
    spill->strip = spill->across ? MIL_SPILL_STRIP : width;
    milori_status status = MILORI_ERR_MEMORY;
    spill->run = mil_alloc(ctx, (size_t)MIL_SPILL_STRIP * (width > height ? width : height),
                           sizeof *spill->run);
    if (spill->run)
        status = mil_temp_file_open(ctx, &spill->file);
    if (status != MILORI_OK) {
        mil_spill_free(spill);
        return status;
    }
    *out = spill;
    return MILORI_OK;
}

/* Where the given row of the strip that starts at column x lies. */
static uint64_t place(const mil_spill *spill, uint32_t x, uint32_t columns, uint32_t row) {
    return ((uint64_t)x * spill->height + (uint64_t)row * columns) * 2;
}

milori_status mil_spill_put(mil_spill *spill, uint32_t count, const uint16_t *rows) {
    milori_status status = MILORI_OK;
    if (!spill->across) {
        status =
            mil_temp_file_write(spill->ctx, &spill->file, rows, (size_t)count * spill->width * 2,
                                place(spill, 0, spill->width, spill->put));
        spill->put += count;
        return status;
    }
    for (uint32_t done = 0; done < count && status == MILORI_OK; done += MIL_SPILL_STRIP) {
        uint32_t n = count - done < MIL_SPILL_STRIP ? count - done : MIL_SPILL_STRIP;
        const uint16_t *from = rows + (size_t)done * spill->width;
        for (uint32_t x = 0; x < spill->width && status == MILORI_OK; x += spill->strip) {
            uint32_t c = spill->width - x < spill->strip ? spill->width - x : spill->strip;
            for (uint32_t y = 0; y < n; y++)
                memcpy(spill->run + (size_t)y * c, from + (size_t)y * spill->width + x, c * 2);
            status = mil_temp_file_write(spill->ctx, &spill->file, spill->run, (size_t)n * c * 2,
                                         place(spill, x, c, spill->put));
        }
        spill->put += n;
    }
    return status;
}

static void reverse(uint16_t *row, uint32_t n) {
    for (uint32_t i = 0, j = n - 1; i < j; i++, j--) {
        uint16_t swap = row[i];
        row[i] = row[j];
        row[j] = swap;
    }
}

static milori_status get_rows(mil_spill *spill, uint32_t first, uint32_t count, uint16_t *rows) {
    uint32_t w = spill->width, low = spill->flip_y ? spill->height - first - count : first;
    milori_status status = mil_temp_file_read(spill->ctx, &spill->file, spill->run,
                                              (size_t)count * w * 2, place(spill, 0, w, low));
    if (status != MILORI_OK)
        return status;
    for (uint32_t y = 0; y < count; y++) {
        const uint16_t *from = spill->run + (size_t)(spill->flip_y ? count - 1 - y : y) * w;
        memcpy(rows + (size_t)y * w, from, (size_t)w * 2);
        if (spill->flip_x)
            reverse(rows + (size_t)y * w, w);
    }
    return MILORI_OK;
}

/* Columns x .. x + count - 1, all of one strip, as rows of rows[count][height]. */
static milori_status get_columns(mil_spill *spill, uint32_t x, uint32_t count, uint16_t *rows,
                                 bool last_first) {
    uint32_t start = x / spill->strip * spill->strip, h = spill->height;
    uint32_t c = spill->width - start < spill->strip ? spill->width - start : spill->strip;
    milori_status status = mil_temp_file_read(spill->ctx, &spill->file, spill->run,
                                              (size_t)c * h * 2, place(spill, start, c, 0));
    if (status != MILORI_OK)
        return status;
    for (uint32_t i = 0; i < count; i++) {
        uint16_t *to = rows + (size_t)(last_first ? count - 1 - i : i) * h;
        const uint16_t *from = spill->run + (x - start + i);
        for (uint32_t y = 0; y < h; y++)
            to[spill->flip_y ? h - 1 - y : y] = from[(size_t)y * c];
    }
    return MILORI_OK;
}

milori_status mil_spill_get(mil_spill *spill, uint32_t first, uint32_t count, uint16_t *rows) {
    if (!spill->across)
        return get_rows(spill, first, count, rows);
    if (!spill->flip_x)
        return get_columns(spill, first, count, rows, false);
    /* Counted from the right the rows asked for may straddle two strips. */
    uint32_t low = spill->width - first - count, end = low + count;
    uint32_t cut = (low / spill->strip + 1) * spill->strip;
    if (cut > end)
        cut = end;
    milori_status status = MILORI_OK;
    if (cut < end)
        status = get_columns(spill, cut, end - cut, rows, true);
    if (status == MILORI_OK)
        status =
            get_columns(spill, low, cut - low, rows + (size_t)(end - cut) * spill->height, true);
    return status;
}

void mil_spill_free(mil_spill *spill) {
    if (!spill)
        return;
    mil_temp_file_close(&spill->file);
    free(spill->run);
    free(spill);
}
