#include "render/dodge.h"

#include <math.h>
#include <stdlib.h>

/* The reduced picture as stored, sums of codes of blocks of side x side px. */
typedef struct reduction {
    uint32_t side, width, height;
    float *sum;
} reduction;

static uint32_t parts(uint32_t n, uint32_t side) {
    return (n + side - 1) / side;
}

static void add_row(reduction *r, const uint16_t *row, uint32_t y, const mil_source_info *info) {
    float *sum = r->sum + (size_t)(y / r->side) * r->width;
    for (uint32_t x = 0; x < info->width; x++, row += info->channels) {
        float code = row[0];
        if (info->channels == 3)
            code = ((float)row[0] + (float)row[1] + (float)row[2]) * (1.0f / 3);
        sum[x / r->side] += code;
    }
}

static milori_status read_rows(milori_context *ctx, mil_source *source, reduction *r) {
    const mil_source_info *info = mil_source_info_of(source);
    uint32_t longer = info->width > info->height ? info->width : info->height;
    r->side = parts(longer, MIL_DODGE_SIDE);
    r->width = parts(info->width, r->side);
    r->height = parts(info->height, r->side);
    r->sum = mil_alloc(ctx, (size_t)r->width * r->height, sizeof *r->sum);
    uint16_t *row = mil_alloc(ctx, (size_t)info->width * (size_t)info->channels, sizeof *row);
    milori_status status = r->sum && row ? MILORI_OK : MILORI_ERR_MEMORY;
    for (uint32_t y = 0; y < info->height && status == MILORI_OK; y++) {
        status = mil_source_read(source, 1, row);
        if (status == MILORI_OK)
            add_row(r, row, y, info);
        if (status == MILORI_OK && y % 64 == 0)
            status = mil_check_cancel(ctx);
    }
    free(row);
    return status;
}

/* Mean code of a block to -1 .. 1. */
static float shift_of(const reduction *r, const mil_source_info *info, uint32_t x, uint32_t y) {
    uint32_t w = info->width - x * r->side, h = info->height - y * r->side;
    w = w < r->side ? w : r->side;
    h = h < r->side ? h : r->side;
    double code = r->sum[(size_t)y * r->width + x] / ((double)w * h);
    double middle = info->bits == 8 ? 128 * 257 : 32768;
    return (float)(code > middle ? (code - middle) / (65535 - middle) : code / middle - 1);
}

/* The block that shows at (x, y) of the straight grid's picture. back takes the upright picture
 * to the straight one's places, stored the picture's own orientation. */
static milori_status turn_picture(milori_context *ctx, const reduction *r,
                                  const mil_source_info *info, int turn, double stops,
                                  mil_dodge *dodge) {
    /* As stored -> upright -> back to how the grid lies. */
    static const int inverse[9] = {1, 1, 2, 3, 4, 5, 8, 7, 6};
    int total = mil_orient_compose(info->orientation, inverse[turn]);
    dodge->width = total >= 5 ? r->height : r->width;
    dodge->height = total >= 5 ? r->width : r->height;
    dodge->stops = mil_alloc(ctx, (size_t)r->width * r->height, sizeof *dodge->stops);
    if (!dodge->stops)
        return MILORI_ERR_MEMORY;
    for (uint32_t y = 0; y < r->height; y++)
        for (uint32_t x = 0; x < r->width; x++) {
            double gx, gy;
            mil_orient(total, r->width, r->height, x + 0.5, y + 0.5, &gx, &gy);
            size_t at = (size_t)gy * dodge->width + (size_t)gx;
            dodge->stops[at] = (float)stops * shift_of(r, info, x, y);
        }
    return MILORI_OK;
}

/* Where a point of the grid, px from its middle, lies in the picture. */
static void picture_place(const mil_straight *g, const mil_rect *frame, const mil_dodge *d,
                          double u, double v, double *x, double *y) {
    double px = g->cx + u * g->cosine - v * g->sine, py = g->cy + u * g->sine + v * g->cosine;
    double fu, fv;
    mil_rect_local(frame, px, py, &fu, &fv);
    *x = (fu + 1) / 2 * d->width;
    *y = (fv + 1) / 2 * d->height;
}

static void lay_over(const mil_straight *g, const mil_rect *frame, mil_dodge *d) {
    double x, y, u = -(double)g->width / 2, v = -(double)g->height / 2;
    picture_place(g, frame, d, u, v, &d->ax, &d->ay);
    picture_place(g, frame, d, u + g->width, v, &x, &y);
    d->bx = (x - d->ax) / g->width;
    d->by = (y - d->ay) / g->width;
    picture_place(g, frame, d, u, v + g->height, &x, &y);
    d->cx = (x - d->ax) / g->height;
    d->cy = (y - d->ay) / g->height;
}

milori_status mil_dodge_read(milori_context *ctx, const milori_choices *choices,
                             const mil_straight *straight, const mil_rect *frame,
                             mil_dodge *dodge) {
    milori_notes notes = {0};
    mil_source *source = NULL;
    reduction r = {0};
    *dodge = (mil_dodge){0};
    milori_status status = mil_source_open(ctx, choices->dodge, &notes, &source);
    if (status == MILORI_OK)
        status = read_rows(ctx, source, &r);
    if (status == MILORI_OK)
        status = turn_picture(ctx, &r, mil_source_info_of(source), straight->turn,
                              choices->dodge_stops, dodge);
    if (status == MILORI_OK)
        lay_over(straight, frame, dodge);
    free(r.sum);
    mil_source_close(source);
    mil_notes_free(&notes);
    return status;
}

static void spline_weights(float f, float w[4]) {
    float g = 1 - f, f2 = f * f, f3 = f2 * f;
    w[0] = g * g * g / 6;
    w[1] = (3 * f3 - 6 * f2 + 4) / 6;
    w[2] = (-3 * f3 + 3 * f2 + 3 * f + 1) / 6;
    w[3] = f3 / 6;
}

static size_t held(int64_t i, uint32_t n) {
    return i < 0 ? 0 : i >= n ? n - 1 : (size_t)i;
}

static float at(const mil_dodge *d, double x, double y) {
    float wx[4], wy[4], sum = 0;
    double fx = floor(x - 0.5), fy = floor(y - 0.5);
    size_t column[4];
    spline_weights((float)(x - 0.5 - fx), wx);
    spline_weights((float)(y - 0.5 - fy), wy);
    for (int k = 0; k < 4; k++)
        column[k] = held((int64_t)fx - 1 + k, d->width);
    for (int j = 0; j < 4; j++) {
        const float *row = d->stops + held((int64_t)fy - 1 + j, d->height) * d->width;
        float line = (wx[0] * row[column[0]] + wx[1] * row[column[1]]) +
                     (wx[2] * row[column[2]] + wx[3] * row[column[3]]);
        sum += wy[j] * line;
    }
    return sum;
}

void mil_dodge_row(const mil_dodge *d, double x0, double dx, double y, uint32_t count,
                   float *stops) {
    /* What the positive is rounded to whole px by is still inside. */
    double edge_x = fabs(d->bx) + fabs(d->cx), edge_y = fabs(d->by) + fabs(d->cy);
    for (uint32_t i = 0; i < count; i++) {
        double x = x0 + i * dx, px = d->ax + d->bx * x + d->cx * y;
        double py = d->ay + d->by * x + d->cy * y;
        bool inside =
            px > -edge_x && px < d->width + edge_x && py > -edge_y && py < d->height + edge_y;
        stops[i] = inside ? at(d, px, py) : 0;
    }
}

void mil_dodge_free(mil_dodge *dodge) {
    free(dodge->stops);
    *dodge = (mil_dodge){0};
}
