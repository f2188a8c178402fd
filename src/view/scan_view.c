#include "view/scan_view.h"

#include <math.h>
#include <stdlib.h>

#include "colour/lab.h"

enum { BAND = 16 };

/* Blocks of step x step px of the stored scan, summed. */
typedef struct blocks {
    const mil_measured *measured;
    uint32_t left, top, right, bottom; /* px of the stored scan */
    uint32_t step, nx, ny;
    float *sum; /* nx * ny * channels */
    uint16_t *codes;
    float *light;
} blocks;

static double held(double x, double low, double high) {
    return fmin(fmax(x, low), high);
}

/* The part in the stored scan's px, at least one. */
static void place_part(const mil_measured *m, const mil_part_rect *part, blocks *b) {
    const mil_source_info *info = mil_source_info_of(m->source);
    double w = info->width, h = info->height, x[2] = {0, w}, y[2] = {0, h};
    if (part) {
        mil_orient_back(info->orientation, w, h, part->x, part->y, &x[0], &y[0]);
        mil_orient_back(info->orientation, w, h, part->x + part->w, part->y + part->h, &x[1],
                        &y[1]);
    }
    b->left = (uint32_t)held(floor(fmin(x[0], x[1])), 0, w - 1);
    b->top = (uint32_t)held(floor(fmin(y[0], y[1])), 0, h - 1);
    b->right = (uint32_t)held(ceil(fmax(x[0], x[1])), b->left + 1.0, w);
    b->bottom = (uint32_t)held(ceil(fmax(y[0], y[1])), b->top + 1.0, h);
}

static milori_status lay_out(milori_context *ctx, const mil_measured *m, const mil_part_rect *part,
                             uint32_t most, blocks *b) {
    const mil_source_info *info = mil_source_info_of(m->source);
    b->measured = m;
    place_part(m, part, b);
    uint32_t w = b->right - b->left, h = b->bottom - b->top, longer = w > h ? w : h;
    most = most > 0 ? most : 1;
    b->step = (longer - 1) / most + 1;
    b->nx = (w - 1) / b->step + 1;
    b->ny = (h - 1) / b->step + 1;
    size_t channels = (size_t)info->channels;
    b->sum = mil_alloc(ctx, (size_t)b->nx * b->ny * channels, sizeof *b->sum);
    b->codes = mil_alloc(ctx, (size_t)info->width * channels * BAND, sizeof *b->codes);
    b->light = mil_alloc(ctx, (size_t)w * channels, sizeof *b->light);
    return b->sum && b->codes && b->light ? MILORI_OK : MILORI_ERR_MEMORY;
}

static void add_row(blocks *b, const uint16_t *codes, uint32_t y) {
    size_t channels = (size_t)b->measured->decode->channels;
    uint32_t width = b->right - b->left;
    float *sum = b->sum + (size_t)((y - b->top) / b->step) * b->nx * channels;
    mil_decode_row(b->measured->decode, codes + b->left * channels, width, b->light);
    for (uint32_t x = 0; x < width; x++)
        for (size_t c = 0; c < channels; c++)
            sum[x / b->step * channels + c] += b->light[x * channels + c];
}

static milori_status read_rows(milori_context *ctx, blocks *b) {
    mil_source *source = b->measured->source;
    size_t row = (size_t)mil_source_info_of(source)->width * (size_t)b->measured->decode->channels;
    milori_status status = mil_source_rewind(source);
    for (uint32_t y = 0; y < b->bottom && status == MILORI_OK;) {
        uint32_t n = b->bottom - y < BAND ? b->bottom - y : BAND;
        status = mil_source_read(source, n, b->codes);
        for (uint32_t i = 0; i < n && status == MILORI_OK; i++)
            if (y + i >= b->top)
                add_row(b, b->codes + i * row, y + i);
        if (status == MILORI_OK)
            status = mil_check_cancel(ctx);
        y += n;
    }
    return status;
}

/* sRGB (IEC 61966-2-1) of linear light, as 8 bits. */
static uint8_t encode(double light) {
    double v = light <= 0.0031308 ? 12.92 * light : 1.055 * pow(light, 1 / 2.4) - 0.055;
    return (uint8_t)(held(v, 0, 1) * 255 + 0.5);
}

static void colour_of(const mil_decode *decode, const float *light, double count, uint8_t *rgb) {
    /* Linear sRGB of XYZ D65 (IEC 61966-2-1). */
    static const double matrix[3][3] = {
        {3.2406, -1.5372, -0.4986}, {-0.9689, 1.8758, 0.0415}, {0.0557, -0.2040, 1.0570}};
    double xyz[3] = {0}, d65[3];
    for (int i = 0; i < 3; i++)
        if (decode->channels == 1)
            xyz[i] = decode->to_xyz[0][i] * light[0] / count;
        else
            for (int c = 0; c < 3; c++)
                xyz[i] += decode->to_xyz[i][c] * light[c] / count;
    mil_d50_to_d65(xyz, d65);
    for (int i = 0; i < 3; i++)
        rgb[i] = encode(matrix[i][0] * d65[0] + matrix[i][1] * d65[1] + matrix[i][2] * d65[2]);
}

static uint32_t covered(uint32_t i, uint32_t step, uint32_t whole) {
    return whole - i * step < step ? whole - i * step : step;
}

static void paint(const blocks *b, mil_scan_sight *view) {
    const mil_decode *decode = b->measured->decode;
    int orientation = mil_source_info_of(b->measured->source)->orientation;
    for (uint32_t j = 0; j < b->ny; j++)
        for (uint32_t i = 0; i < b->nx; i++) {
            double x, y,
                count = (double)covered(i, b->step, b->right - b->left) *
                        covered(j, b->step, b->bottom - b->top);
            mil_orient(orientation, b->nx, b->ny, i + 0.5, j + 0.5, &x, &y);
            colour_of(decode, b->sum + ((size_t)j * b->nx + i) * (size_t)decode->channels, count,
                      view->rgb + ((size_t)y * view->width + (size_t)x) * 3);
        }
}

milori_status mil_scan_view(milori_context *ctx, const mil_measured *measured,
                            const mil_part_rect *part, uint32_t most, mil_scan_sight *view) {
    blocks b = {0};
    *view = (mil_scan_sight){0};
    milori_status status = lay_out(ctx, measured, part, most, &b);
    if (status == MILORI_OK)
        status = read_rows(ctx, &b);
    if (status == MILORI_OK) {
        bool across = mil_source_info_of(measured->source)->orientation >= 5;
        view->width = across ? b.ny : b.nx;
        view->height = across ? b.nx : b.ny;
        view->rgb = mil_alloc(ctx, (size_t)b.nx * b.ny, 3);
        status = view->rgb ? MILORI_OK : MILORI_ERR_MEMORY;
    }
    if (status == MILORI_OK)
        paint(&b, view);
    free(b.sum);
    free(b.codes);
    free(b.light);
    return status;
}

void mil_scan_sight_free(mil_scan_sight *view) {
    free(view->rgb);
    *view = (mil_scan_sight){0};
}
