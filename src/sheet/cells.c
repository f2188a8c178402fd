#include "sheet/cells.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/find_private.h"

size_t mil_cells_count(const mil_cells *cells) {
    return (size_t)cells->nx * (size_t)cells->ny;
}

void mil_cells_free(mil_cells *cells) {
    for (int c = 0; c < 3; c++) {
        free(cells->density[c]);
        free(cells->ks[c]);
    }
    float *planes[] = {cells->coat, cells->exposed, cells->z,    cells->amount,
                       cells->fog,  cells->edge,    cells->work, cells->work2};
    for (size_t i = 0; i < sizeof planes / sizeof *planes; i++)
        free(planes[i]);
    free(cells->part);
    memset(cells, 0, sizeof *cells);
}

static milori_status make_planes(milori_context *ctx, mil_cells *cells) {
    size_t n = mil_cells_count(cells);
    float **planes[] = {&cells->coat, &cells->exposed, &cells->z,    &cells->amount,
                        &cells->fog,  &cells->edge,    &cells->work, &cells->work2};
    for (size_t i = 0; i < sizeof planes / sizeof *planes; i++)
        if (!(*planes[i] = mil_alloc(ctx, n, sizeof(float))))
            return MILORI_ERR_MEMORY;
    for (int c = 0; c < cells->grid->channels; c++) {
        cells->density[c] = mil_alloc(ctx, n, sizeof(float));
        cells->ks[c] = mil_alloc(ctx, n, sizeof(float));
        if (!cells->density[c] || !cells->ks[c])
            return MILORI_ERR_MEMORY;
    }
    cells->part = mil_alloc(ctx, n, 1);
    return cells->part ? MILORI_OK : MILORI_ERR_MEMORY;
}

/* The grid's cells round the sheet's outline, three more each way for the splines. */
static void take_region(const mil_grid *grid, const mil_found *found, mil_cells *cells) {
    double corner[4][2], low[2] = {1e30, 1e30}, high[2] = {-1e30, -1e30};
    mil_rect_corners(&found->outline, corner);
    for (int i = 0; i < 4; i++)
        for (int k = 0; k < 2; k++) {
            low[k] = fmin(low[k], corner[i][k] / grid->cell);
            high[k] = fmax(high[k], corner[i][k] / grid->cell);
        }
    int limit[2] = {grid->nx, grid->ny}, first[2], count[2];
    for (int k = 0; k < 2; k++) {
        first[k] = (int)fmax(0, fmin(floor(low[k]) - 3, limit[k] - 1));
        int end = (int)fmax(first[k] + 1, fmin(ceil(high[k]) + 3, limit[k]));
        count[k] = end - first[k];
    }
    *cells = (mil_cells){.grid = grid,
                         .x0 = first[0],
                         .y0 = first[1],
                         .nx = count[0],
                         .ny = count[1],
                         .mm = grid->mm_px * grid->cell};
}

static void fill(mil_cells *cells, const mil_found *found, const uint8_t *map) {
    const mil_grid *grid = cells->grid;
    for (int j = 0; j < cells->ny; j++)
        for (int i = 0; i < cells->nx; i++) {
            size_t to = (size_t)j * (size_t)cells->nx + (size_t)i;
            size_t from = (size_t)(j + cells->y0) * (size_t)grid->nx + (size_t)(i + cells->x0);
            cells->part[to] = map[from];
            cells->margin += map[from] == MIL_MARGIN;
            cells->frame += map[from] == MIL_FRAME;
            for (int c = 0; c < grid->channels; c++) {
                double light = fmax(grid->light[c][from], 0.002);
                cells->density[c][to] = grid->absorb[c][from];
                cells->ks[c][to] = (float)mil_density_ks(-log10(light));
            }
            double u, v, x = (i + cells->x0 + 0.5) * grid->cell;
            mil_rect_local(&found->outline, x, (j + cells->y0 + 0.5) * grid->cell, &u, &v);
            double in_x = (1 - fabs(u)) * found->outline.w, in_y = (1 - fabs(v)) * found->outline.h;
            cells->edge[to] = (float)(fmin(in_x, in_y) / 2 * grid->mm_px);
        }
}

milori_status mil_cells_make(milori_context *ctx, const mil_grid *grid, const mil_found *found,
                             mil_cells *cells) {
    take_region(grid, found, cells);
    uint8_t *map = mil_alloc(ctx, (size_t)grid->nx * (size_t)grid->ny, 1);
    milori_status status = map ? make_planes(ctx, cells) : MILORI_ERR_MEMORY;
    if (status == MILORI_OK)
        status = mil_parts(ctx, grid, found, map);
    if (status == MILORI_OK)
        fill(cells, found, map);
    else
        mil_cells_free(cells);
    free(map);
    return status;
}

double mil_cells_quantile(mil_cells *cells, const float *plane, mil_part part, double q) {
    size_t n = 0, all = mil_cells_count(cells);
    for (size_t i = 0; i < all; i++)
        if (cells->part[i] == part)
            cells->work[n++] = plane[i];
    return mil_quantile(cells->work, n, q);
}

/* One pass of a Gaussian along a line of count values stride apart. */
static void blur_line(const float *in, float *out, int count, size_t stride, const float *kernel,
                      int reach) {
    for (int i = 0; i < count; i++) {
        float sum = 0;
        for (int k = -reach; k <= reach; k++)
            if (i + k >= 0 && i + k < count)
                sum += kernel[k < 0 ? -k : k] * in[(size_t)(i + k) * stride];
        out[(size_t)i * stride] = sum;
    }
}

static void blur(const mil_cells *cells, float *plane, float *room, double sigma) {
    enum { REACH = 64 };
    float kernel[REACH + 1];
    int reach = (int)ceil(3 * sigma);
    reach = reach > REACH ? REACH : reach;
    for (int k = 0; k <= reach; k++)
        kernel[k] = (float)exp(-0.5 * k * k / (sigma * sigma));
    size_t nx = (size_t)cells->nx;
    for (int j = 0; j < cells->ny; j++)
        blur_line(plane + (size_t)j * nx, room + (size_t)j * nx, cells->nx, 1, kernel, reach);
    for (int i = 0; i < cells->nx; i++)
        blur_line(room + i, plane + i, cells->ny, nx, kernel, reach);
}

void mil_cells_smooth(mil_cells *cells, const float *plane, unsigned parts, double sigma,
                      float *smooth) {
    size_t all = mil_cells_count(cells);
    float *weight = cells->work2;
    for (size_t i = 0; i < all; i++) {
        weight[i] = (parts >> cells->part[i]) & 1 ? 1.0f : 0.0f;
        smooth[i] = weight[i] * plane[i];
    }
    blur(cells, smooth, cells->work, sigma);
    blur(cells, weight, cells->work, sigma);
    for (size_t i = 0; i < all; i++)
        smooth[i] = weight[i] > 1e-6f ? smooth[i] / weight[i] : 0;
}

milori_status mil_cells_surface(milori_context *ctx, const mil_cells *cells, const float *plane,
                                mil_surface *surface) {
    size_t n = mil_cells_count(cells);
    *surface = (mil_surface){.x0 = cells->x0,
                             .y0 = cells->y0,
                             .nx = cells->nx,
                             .ny = cells->ny,
                             .cell = cells->grid->cell,
                             .knot = mil_alloc(ctx, n, sizeof(float))};
    if (!surface->knot)
        return MILORI_ERR_MEMORY;
    memcpy(surface->knot, plane, n * sizeof *plane);
    return MILORI_OK;
}
