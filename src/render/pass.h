/* The second pass: a band of scan rows in, rows of the positive out. For the render room alone. */
#ifndef MILORI_PASS_H
#define MILORI_PASS_H

#include "render/amount.h"
#include "render/pool.h"
#include "render/resample.h"
#include "render/spill.h"

/* Rows read, and rows put out, at once. */
enum { MIL_BAND = 64 };

/* A thread's own room. */
typedef struct mil_pass_room {
    mil_amount_room amount;
    float *line;  /* amounts of a scan row, with what the kernel wants past its ends */
    float *tone;  /* amounts, then places, of an output row */
    float *stops; /* what the dodge adds to it */
    uint16_t *place;
} mil_pass_room;

/* Memory: two bands of scan rows and two of output rows, and a ring of one-channel rows as wide as
 * the part: the band, the kernel, and as many as the tilt needs (width x sine). The ring alone
 * grows with the tilt, so it is charged against the memory limit. */
typedef struct mil_pass {
    milori_context *ctx;
    const mil_plan *plan;
    mil_source *source;
    mil_raster raster;
    const mil_kernel *kernel; /* NULL: averaged, or copied */
    bool mirror;              /* rows are handed on from right to left */
    bool direct;              /* rows are px of the scan, unchanged */
    uint32_t reach;           /* floats a room's line holds */
    mil_ring ring;
    size_t charged;
    uint16_t *in[2];  /* MIL_BAND scan rows each */
    uint16_t *out[2]; /* MIL_BAND output rows each: codes, or places on their way to the spill */
    bool to_spill;
    float *keep; /* amounts of all output rows, instead of rows put out; or NULL */
    mil_pool *pool;
    mil_pass_room *room;
    /* of the job that runs */
    const uint16_t *band;
    int64_t band_first;
    uint16_t *chunk;
    uint32_t chunk_first;
} mil_pass;

/* Lays out a pass over a raster; everything is given back by mil_pass_end, on failure too. keep
 * takes raster width x height amounts, or is NULL. */
milori_status mil_pass_begin(milori_context *ctx, const mil_plan *plan, mil_source *source,
                             const mil_raster *raster, float *keep, mil_pass *pass);
void mil_pass_end(mil_pass *pass);
/* Scan rows that output row j, counted within the raster, stands on; unbounded by the scan. */
void mil_pass_rows(const mil_pass *pass, uint32_t j, int64_t *first, int64_t *last);
/* Jobs: scan row item of band into the ring; output row item of chunk from it. */
void mil_pass_take(void *pass, uint32_t item, int worker);
void mil_pass_give(void *pass, uint32_t item, int worker);
/* places of one row to output codes. */
void mil_pass_codes(const mil_plan *plan, const uint16_t *place, uint32_t count, bool mirror,
                    uint16_t *codes);

/* mil_render() as far as the amounts, in the straight grid's order: raster width x height. */
milori_status mil_render_amounts(milori_context *ctx, const mil_plan *plan, mil_source *source,
                                 const mil_part_rect *part, double scale, float *amount);

#endif
