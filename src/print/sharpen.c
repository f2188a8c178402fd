#include "print/sharpen.h"

#include <math.h>
#include <stdlib.h>

#include "colour/lab.h"

static const double HALO = 8; /* L*: what is added stays below it */
enum { WORDS = 65536, SIGMAS = 3 };

struct mil_sharpen {
    milori_context *ctx;
    mil_taker to;
    uint32_t width, height;
    int reach;        /* taps to either side */
    float *weight;    /* 2 reach + 1, sums to 1 */
    float *lightness; /* of a word */
    uint32_t rows;    /* of the rings: 2 reach + 1 */
    float *ring;      /* lightness blurred along its row */
    float *sharp;     /* lightness as it was */
    float *line, *blur;
    uint16_t *out;
    uint32_t in, next; /* rows taken, rows given */
};

static milori_status make_weights(mil_sharpen *s, double sigma) {
    double sum = 0;
    int count = 2 * s->reach + 1;
    s->weight = mil_alloc(s->ctx, (size_t)count, sizeof *s->weight);
    if (!s->weight)
        return MILORI_ERR_MEMORY;
    for (int i = 0; i < count; i++)
        sum += exp(-0.5 * pow((i - s->reach) / sigma, 2));
    for (int i = 0; i < count; i++)
        s->weight[i] = (float)(exp(-0.5 * pow((i - s->reach) / sigma, 2)) / sum);
    return MILORI_OK;
}

static milori_status make_rooms(mil_sharpen *s) {
    size_t width = s->width, reach = (size_t)s->reach;
    s->rows = 2 * (uint32_t)s->reach + 1;
    s->lightness = mil_alloc(s->ctx, WORDS, sizeof *s->lightness);
    s->ring = mil_alloc(s->ctx, s->rows * width, sizeof *s->ring);
    s->sharp = mil_alloc(s->ctx, s->rows * width, sizeof *s->sharp);
    s->line = mil_alloc(s->ctx, width + 2 * reach, sizeof *s->line);
    s->blur = mil_alloc(s->ctx, width, sizeof *s->blur);
    s->out = mil_alloc(s->ctx, width, sizeof *s->out);
    if (!s->lightness || !s->ring || !s->sharp || !s->line || !s->blur || !s->out)
        return MILORI_ERR_MEMORY;
    for (int i = 0; i < WORDS; i++)
        s->lightness[i] = (float)mil_lightness(i / 65535.);
    return MILORI_OK;
}

milori_status mil_sharpen_new(milori_context *ctx, uint32_t width, uint32_t height, double sigma_px,
                              const mil_taker *to, mil_sharpen **out) {
    *out = NULL;
    mil_sharpen *s = mil_alloc(ctx, 1, sizeof *s);
    if (!s)
        return MILORI_ERR_MEMORY;
    *s = (mil_sharpen){.ctx = ctx, .to = *to, .width = width, .height = height};
    s->reach = (int)fmax(1, ceil(SIGMAS * sigma_px));
    milori_status status = make_weights(s, sigma_px);
    if (status == MILORI_OK)
        status = make_rooms(s);
    if (status != MILORI_OK) {
        mil_sharpen_free(s);
        return status;
    }
    *out = s;
    return MILORI_OK;
}

/* out[i] = sum of weight[k] * from[i + k]; from row to row the same order of sums. */
static void add_up(const float *weight, int count, const float *from, uint32_t width, float *out) {
    for (uint32_t i = 0; i < width; i++)
        out[i] = weight[0] * from[i];
    for (int k = 1; k < count; k++) {
        const float *at = from + k, w = weight[k];
        for (uint32_t i = 0; i < width; i++)
            out[i] += w * at[i];
    }
}

/* One row into the rings; beyond its ends the row's first and last px go on. */
static void take(mil_sharpen *s, const uint16_t *words) {
    float *sharp = s->sharp + (size_t)(s->in % s->rows) * s->width, *middle = s->line + s->reach;
    for (uint32_t i = 0; i < s->width; i++)
        sharp[i] = middle[i] = s->lightness[words[i]];
    for (int i = 0; i < s->reach; i++) {
        s->line[i] = middle[0];
        middle[s->width + (uint32_t)i] = middle[s->width - 1];
    }
    add_up(s->weight, 2 * s->reach + 1, s->line, s->width,
           s->ring + (size_t)(s->in % s->rows) * s->width);
    s->in++;
}

/* The same down the columns. */
static void blur_down(mil_sharpen *s, uint32_t y) {
    for (int k = 0; k <= 2 * s->reach; k++) {
        int64_t row = (int64_t)y + k - s->reach, last = (int64_t)s->in - 1;
        row = row < 0 ? 0 : row > last ? last : row;
        const float *from = s->ring + (size_t)(row % s->rows) * s->width;
        float w = s->weight[k];
        for (uint32_t i = 0; i < s->width; i++)
            s->blur[i] = k ? s->blur[i] + w * from[i] : w * from[i];
    }
}

static milori_status give(mil_sharpen *s) {
    const float *sharp = s->sharp + (size_t)(s->next % s->rows) * s->width;
    blur_down(s, s->next++);
    for (uint32_t i = 0; i < s->width; i++) {
        double apart = sharp[i] - s->blur[i];
        double light = mil_luminance(sharp[i] + apart / (1 + fabs(apart) / HALO));
        light = light > 0 ? light < 1 ? light : 1 : 0;
        s->out[i] = (uint16_t)(65535 * light + 0.5);
    }
    return s->to.rows(s->to.data, 1, s->out);
}

static milori_status rows(void *data, uint32_t count, const uint16_t *words) {
    mil_sharpen *s = data;
    milori_status status = MILORI_OK;
    for (uint32_t y = 0; y < count && status == MILORI_OK; y++) {
        take(s, words + (size_t)y * s->width);
        if (s->in > (uint32_t)s->reach)
            status = give(s);
        while (s->in == s->height && s->next < s->height && status == MILORI_OK)
            status = give(s);
    }
    return status;
}

mil_taker mil_sharpen_taker(mil_sharpen *sharpen) {
    return (mil_taker){rows, sharpen};
}

void mil_sharpen_free(mil_sharpen *s) {
    if (!s)
        return;
    free(s->weight);
    free(s->lightness);
    free(s->ring);
    free(s->sharp);
    free(s->line);
    free(s->blur);
    free(s->out);
    free(s);
}
