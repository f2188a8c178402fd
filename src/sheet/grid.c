#include "sheet/grid.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double CELL_MM = 0.34;   /* a cell's side */
static const double LONGEST_MM = 700; /* no flatbed is longer: then the dpi is not the scan's */
static const uint64_t MOST_CELLS = 2500000; /* an A3 bed has 1.1 million */

/* Sums over one cell, about the values of its first pixel so that the products
 * lose nothing. */
typedef struct cell_sum {
    double light[3], absorb[3], product[6], shift[3];
    uint32_t low[3], high[3], count;
} cell_sum;

/* What one build needs besides the grid. */
typedef struct build {
    const mil_absorb *absorb;
    uint16_t *codes;        /* cell rows */
    float *light, *amount;  /* one row */
    cell_sum *sum;          /* one row of cells */
    unsigned char *seen[3]; /* of each channel's 65536 codes */
} build;

static bool believable(double dpi) {
    return dpi >= 30 && dpi <= 20000;
}

static void set_scale(mil_grid *g, const mil_source_info *info, double dpi) {
    double mm = 25.4 / 300;
    double longest = g->width > g->height ? g->width : g->height;
    if (believable(dpi)) {
        mm = 25.4 / dpi;
        g->mm_known = true;
    } else if (believable(info->dpi[0]) && believable(info->dpi[1])) {
        double of_file = 25.4 * (1 / info->dpi[0] + 1 / info->dpi[1]) / 2;
        g->mm_known = of_file * longest <= LONGEST_MM;
        if (g->mm_known)
            mm = of_file;
    }
    g->mm_px = mm;
    double side = floor(CELL_MM / mm + 0.5);
    uint64_t cell = side < 1 ? 1 : (uint64_t)side;
    while (((g->width - 1) / cell + 1) * ((g->height - 1) / cell + 1) > MOST_CELLS)
        cell++;
    g->cell = (uint32_t)cell;
    g->nx = (int)((g->width - 1) / cell + 1);
    g->ny = (int)((g->height - 1) / cell + 1);
}

static milori_status allocate_planes(milori_context *ctx, mil_grid *g) {
    size_t cells = (size_t)g->nx * (size_t)g->ny;
    int products = g->channels == 1 ? 1 : 6;
    float **plane[18];
    int count = 0;
    for (int c = 0; c < g->channels; c++) {
        plane[count++] = &g->light[c];
        plane[count++] = &g->absorb[c];
        plane[count++] = &g->clip_low[c];
        plane[count++] = &g->clip_high[c];
    }
    for (int k = 0; k < products; k++)
        plane[count++] = &g->cov[k];
    for (int i = 0; i < count; i++) {
        *plane[i] = mil_alloc(ctx, cells, sizeof(float));
        if (!*plane[i])
            return MILORI_ERR_MEMORY;
    }
    return MILORI_OK;
}

static milori_status allocate_build(milori_context *ctx, const char *path, const mil_grid *g,
                                    build *b) {
    size_t row = (size_t)g->width * (size_t)g->channels;
    if (row > SIZE_MAX / sizeof(float) / g->cell)
        return mil_fail(ctx, MILORI_ERR_LIMIT, "%s: too wide; scan it at a lower resolution", path);
    b->codes = mil_alloc(ctx, row * g->cell, sizeof *b->codes);
    b->light = mil_alloc(ctx, row, sizeof *b->light);
    b->amount = mil_alloc(ctx, row, sizeof *b->amount);
    b->sum = mil_alloc(ctx, (size_t)g->nx, sizeof *b->sum);
    bool ok = b->codes && b->light && b->amount && b->sum;
    for (int c = 0; c < g->channels; c++) {
        b->seen[c] = mil_alloc(ctx, 65536, 1);
        ok = ok && b->seen[c];
    }
    return ok ? MILORI_OK : MILORI_ERR_MEMORY;
}

static void free_build(build *b) {
    free(b->codes);
    free(b->light);
    free(b->amount);
    free(b->sum);
    for (int c = 0; c < 3; c++)
        free(b->seen[c]);
}

/* Light and absorption of one row, decoded once. */
static void decode_row(const build *b, const uint16_t *codes, uint32_t width) {
    const mil_absorb *absorb = b->absorb;
    mil_decode_row(absorb->decode, codes, width, b->light);
    if (absorb->decode->kind == MIL_DECODE_TABLES) {
        mil_absorb_row(absorb, codes, width, NULL, b->amount);
        return;
    }
    size_t all = (size_t)width * (size_t)absorb->decode->channels;
    for (size_t i = 0; i < all; i++)
        b->amount[i] = mil_absorb_light(absorb, b->light[i]);
}

static void add_codes(const mil_grid *g, build *b, const uint16_t *codes) {
    int n = g->channels;
    for (int i = 0; i < g->nx; i++) {
        uint32_t x0 = (uint32_t)i * g->cell;
        uint32_t x1 = g->width - x0 > g->cell ? x0 + g->cell : g->width;
        cell_sum *s = &b->sum[i];
        for (uint32_t x = x0; x < x1; x++)
            for (int c = 0; c < n; c++) {
                uint16_t code = codes[(size_t)x * (size_t)n + (size_t)c];
                s->low[c] += code == 0;
                s->high[c] += code == 65535;
                b->seen[c][code] = 1;
            }
    }
}

static void add_grey(const mil_grid *g, build *b) {
    for (int i = 0; i < g->nx; i++) {
        uint32_t x0 = (uint32_t)i * g->cell;
        uint32_t x1 = g->width - x0 > g->cell ? x0 + g->cell : g->width;
        cell_sum *s = &b->sum[i];
        if (!s->count)
            s->shift[0] = b->amount[x0];
        for (uint32_t x = x0; x < x1; x++) {
            double a = b->amount[x] - s->shift[0];
            s->light[0] += b->light[x];
            s->absorb[0] += a;
            s->product[0] += a * a;
        }
        s->count += x1 - x0;
    }
}

static void add_colour(const mil_grid *g, build *b) {
    for (int i = 0; i < g->nx; i++) {
        uint32_t x0 = (uint32_t)i * g->cell;
        uint32_t x1 = g->width - x0 > g->cell ? x0 + g->cell : g->width;
        cell_sum s = b->sum[i];
        const float *light = b->light + (size_t)x0 * 3, *amount = b->amount + (size_t)x0 * 3;
        if (!s.count)
            for (int c = 0; c < 3; c++)
                s.shift[c] = amount[c];
        for (uint32_t x = x0; x < x1; x++, light += 3, amount += 3) {
            double r = amount[0] - s.shift[0], gr = amount[1] - s.shift[1];
            double bl = amount[2] - s.shift[2];
            s.light[0] += light[0];
            s.light[1] += light[1];
            s.light[2] += light[2];
            s.absorb[0] += r;
            s.absorb[1] += gr;
            s.absorb[2] += bl;
            s.product[0] += r * r;
            s.product[1] += r * gr;
            s.product[2] += r * bl;
            s.product[3] += gr * gr;
            s.product[4] += gr * bl;
            s.product[5] += bl * bl;
        }
        s.count += x1 - x0;
        b->sum[i] = s;
    }
}

/* One row of cells from its sums to the planes. */
static void store_cells(mil_grid *g, const build *b, int j) {
    static const int first[6] = {0, 0, 0, 1, 1, 2}, second[6] = {0, 1, 2, 1, 2, 2};
    int products = g->channels == 1 ? 1 : 6;
    for (int i = 0; i < g->nx; i++) {
        const cell_sum *s = &b->sum[i];
        size_t at = (size_t)j * (size_t)g->nx + (size_t)i;
        double n = s->count;
        for (int c = 0; c < g->channels; c++) {
            g->light[c][at] = (float)(s->light[c] / n);
            g->absorb[c][at] = (float)(s->shift[c] + s->absorb[c] / n);
            g->clip_low[c][at] = (float)(s->low[c] / n);
            g->clip_high[c][at] = (float)(s->high[c] / n);
        }
        for (int k = 0; k < products; k++) {
            double p = s->product[k] - s->absorb[first[k]] * s->absorb[second[k]] / n;
            if (first[k] == second[k] && p < 0)
                p = 0;
            g->cov[k][at] = (float)(n > 1 ? p / (n - 1) : 0);
        }
    }
}

static milori_status read_bands(milori_context *ctx, mil_source *source, mil_grid *g, build *b) {
    size_t row = (size_t)g->width * (size_t)g->channels;
    for (int j = 0; j < g->ny; j++) {
        uint32_t y0 = (uint32_t)j * g->cell;
        uint32_t count = g->height - y0 > g->cell ? g->cell : g->height - y0;
        milori_status status = mil_check_cancel(ctx);
        if (status == MILORI_OK)
            status = mil_source_read(source, count, b->codes);
        if (status != MILORI_OK)
            return status;
        memset(b->sum, 0, (size_t)g->nx * sizeof *b->sum);
        for (uint32_t y = 0; y < count; y++) {
            const uint16_t *codes = b->codes + y * row;
            decode_row(b, codes, g->width);
            add_codes(g, b, codes);
            if (g->channels == 1)
                add_grey(g, b);
            else
                add_colour(g, b);
        }
        store_cells(g, b, j);
        mil_progress(ctx, 0.5 * (y0 + count) / g->height);
    }
    return MILORI_OK;
}

static void count_codes(mil_grid *g, const build *b) {
    for (int c = 0; c < g->channels; c++) {
        g->codes_used[c] = 0;
        g->code_low[c] = 65535;
        g->code_high[c] = 0;
        for (uint32_t i = 0; i < 65536; i++)
            if (b->seen[c][i]) {
                g->codes_used[c]++;
                g->code_low[c] = i < g->code_low[c] ? i : g->code_low[c];
                g->code_high[c] = i;
            }
    }
}

milori_status mil_grid_build(milori_context *ctx, mil_source *source, const mil_absorb *absorb,
                             double dpi, mil_grid *grid) {
    const mil_source_info *info = mil_source_info_of(source);
    *grid = (mil_grid){.width = info->width,
                       .height = info->height,
                       .orientation = info->orientation,
                       .channels = info->channels,
                       .bits = info->bits,
                       .lossy = info->lossy};
    if (!info->width || !info->height)
        return mil_fail(ctx, MILORI_ERR_FORMAT, "%s: an empty picture", info->path);
    set_scale(grid, info, dpi);
    build b = {.absorb = absorb};
    milori_status status = allocate_planes(ctx, grid);
    if (status == MILORI_OK)
        status = allocate_build(ctx, info->path, grid, &b);
    if (status == MILORI_OK)
        status = read_bands(ctx, source, grid, &b);
    if (status == MILORI_OK)
        count_codes(grid, &b);
    else
        mil_grid_free(grid);
    free_build(&b);
    return status;
}

void mil_grid_free(mil_grid *grid) {
    for (int c = 0; c < 3; c++) {
        free(grid->light[c]);
        free(grid->absorb[c]);
        free(grid->clip_low[c]);
        free(grid->clip_high[c]);
    }
    for (int k = 0; k < 6; k++)
        free(grid->cov[k]);
    memset(grid, 0, sizeof *grid);
}
