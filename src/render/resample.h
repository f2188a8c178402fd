/* One-dimensional resampling of rows and columns of amounts.
 *
 * Positions are fixed point, 2^-32 px, so that what an output pixel gets depends on its place
 * alone and not on where a part begins. */
#ifndef MILORI_RESAMPLE_H
#define MILORI_RESAMPLE_H

#include <stdint.h>

/* A sinc under a Kaiser window, 12 taps. Contrast kept by one pass at half a px, where it is
 * least: 0.999 at 0.6 of the Nyquist frequency, 0.928 at 0.8, never above 1.006 (computed from the
 * weights; tests/render/test_resample.c measures it). Places are rounded to 1/512 px. */
enum { MIL_TAPS = 12, MIL_TAPS_BEFORE = 5, MIL_PHASE_BITS = 9, MIL_PHASES = 1 << MIL_PHASE_BITS };

typedef struct mil_kernel {
    float weight[MIL_PHASES][MIL_TAPS]; /* each phase sums to 1 */
} mil_kernel;

/* Rows of amounts kept for a while: the row of scan row y is at (y % rows). Rows before first or
 * after last stand for those. */
typedef struct mil_ring {
    float *row;
    uint32_t rows, width;
    int64_t first, last;
} mil_ring;

void mil_kernel_make(mil_kernel *kernel);

int64_t mil_fixed(double px);
/* The whole px a fixed position rounded to a phase lies after. */
int64_t mil_fixed_px(int64_t position);

float *mil_ring_row(const mil_ring *ring, int64_t y);

/* out[i] is line at start + i * step, px centres lying at whole numbers; line must reach
 * MIL_TAPS_BEFORE px before and MIL_TAPS - MIL_TAPS_BEFORE after each. */
void mil_resample_row(const mil_kernel *kernel, const float *line, int64_t start, int64_t step,
                      uint32_t count, float *out);
/* The same down the columns: column i at start + i * slope. */
void mil_resample_columns(const mil_kernel *kernel, const mil_ring *ring, int64_t start,
                          int64_t slope, float *out);
/* out[i] is the mean of line over start + i * step .. start + (i + 1) * step, px k covering
 * k .. k + 1. */
void mil_average_row(const float *line, int64_t start, int64_t step, uint32_t count, float *out);
/* The same down the columns: column i over start + i * slope .. + height. */
void mil_average_columns(const mil_ring *ring, int64_t start, int64_t slope, int64_t height,
                         float *out);

#endif
