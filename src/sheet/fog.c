/* Fog: from the margin into the frame, by kriging (Krige 1951; Matheron 1963). */
#include "sheet/cells.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/find_private.h"
#include "sheet/linear.h"

/* Fog grows from the sheet's cut edges and in blotches. Ours: */
static const double REACH_MM = 8;   /* how far neighbouring fog goes together */
static const double BLOCK_MM = 2.5; /* margin is read in blocks of this size */
static const double DARK_MM = 4;    /* and the frame's dark tones in such */
static const double KNOT_MM = 2;
enum { MOST_POINTS = 700, MOST_DARKS = 300 };

typedef struct fog_point {
    double x, y, edge; /* mm */
    double amount, sigma;
} fog_point;

typedef struct fog_field {
    double level, rise, decay; /* level + rise * exp(-edge / decay) */
    double least, most;        /* of the margin: nothing is foretold beyond */
    double variance;           /* of what that leaves */
    size_t count;
    const fog_point *point;
    double *factor;   /* Cholesky's, count x count */
    double *solution; /* count */
} fog_field;

/* One block's value at share q and its spread; false where the part is thin. */
static bool read_block(mil_cells *cells, mil_part part, int x0, int y0, int side, double q,
                       fog_point *out) {
    size_t n = 0;
    double x = 0, y = 0, e = 0, s = 0, ss = 0;
    for (int j = y0; j < y0 + side && j < cells->ny; j++)
        for (int i = x0; i < x0 + side && i < cells->nx; i++) {
            size_t at = (size_t)j * (size_t)cells->nx + (size_t)i;
            if (cells->part[at] != part)
                continue;
            double a = cells->amount[at];
            cells->work[n++] = (float)a;
            x += i + 0.5;
            y += j + 0.5;
            e += cells->edge[at];
            s += a;
            ss += a * a;
        }
    if (n < 4 || n < (size_t)side * (size_t)side / 4)
        return false;
    double count = (double)n, mean = s / count;
    *out = (fog_point){.x = x / count * cells->mm,
                       .y = y / count * cells->mm,
                       .edge = e / count,
                       .sigma = sqrt(fmax(ss / count - mean * mean, 0)),
                       .amount = mil_quantile(cells->work, n, q)};
    return true;
}

/* Blocks of a part, as many as are allowed: they grow with the sheet. */
static size_t read_blocks(mil_cells *cells, mil_part part, double mm, double q, size_t most,
                          fog_point *out) {
    double area =
        (double)(part == MIL_MARGIN ? cells->margin : cells->frame) * cells->mm * cells->mm;
    mm = fmax(mm, sqrt(1.6 * area / (double)most));
    /* A narrow margin may straddle two rows of blocks: larger ones until all have room, so that
     * no side of the sheet goes without. */
    for (int side = (int)fmax(1, round(mm / cells->mm));; side++) {
        size_t n = 0;
        bool room = true;
        for (int y = 0; y < cells->ny && room; y += side)
            for (int x = 0; x < cells->nx && room; x += side)
                if (n == most)
                    room = false;
                else
                    n += read_block(cells, part, x, y, side, q, &out[n]);
        if (room)
            return n;
    }
}

/* The mean by least squares for the best of a few decays; fog never falls towards the edge. */
static void fit_mean(const fog_point *p, size_t n, fog_field *field) {
    static const double decays[] = {4, 8};
    double best = INFINITY;
    for (size_t k = 0; k < 2; k++) {
        double s = 0, sx = 0, sxx = 0, sy = 0, sxy = 0, left = 0;
        for (size_t i = 0; i < n; i++) {
            double w = 1 / (p[i].sigma * p[i].sigma), x = exp(-p[i].edge / decays[k]);
            s += w;
            sx += w * x;
            sxx += w * x * x;
            sy += w * p[i].amount;
            sxy += w * x * p[i].amount;
        }
        double det = s * sxx - sx * sx;
        double rise = det > 1e-9 * s * sxx ? (s * sxy - sx * sy) / det : 0;
        rise = rise > 0 ? rise : 0;
        double level = (sy - rise * sx) / s;
        for (size_t i = 0; i < n; i++) {
            double r = (p[i].amount - level - rise * exp(-p[i].edge / decays[k])) / p[i].sigma;
            left += r * r;
        }
        if (left < best) {
            best = left;
            field->level = level;
            field->rise = rise;
            field->decay = decays[k];
        }
    }
}

static double mean_at(const fog_field *f, double edge) {
    return f->level + f->rise * exp(-edge / f->decay);
}

static double together(const fog_field *f, const fog_point *p, double x, double y) {
    double dx = p->x - x, dy = p->y - y;
    return f->variance * exp(-(dx * dx + dy * dy) / (2 * REACH_MM * REACH_MM));
}

static bool solve_field(fog_field *f) {
    size_t n = f->count;
    for (size_t i = 0; i < n; i++) {
        const fog_point *p = &f->point[i];
        for (size_t k = 0; k <= i; k++)
            f->factor[i * n + k] = together(f, &f->point[k], p->x, p->y);
        f->factor[i * n + i] += p->sigma * p->sigma;
        f->solution[i] = p->amount - mean_at(f, p->edge);
    }
    if (!mil_cholesky(f->factor, n))
        return false;
    mil_cholesky_solve(f->factor, n, f->solution);
    return true;
}

static double fog_at(const fog_field *f, double x, double y, double edge) {
    double sum = mean_at(f, edge);
    for (size_t i = 0; i < f->count; i++)
        sum += together(f, &f->point[i], x, y) * f->solution[i];
    return sum < f->least ? f->least : sum > f->most ? f->most : sum;
}

/* Where the frame's darkest tones lie below the fog that the margin lets expect, they are the
 * better witness: a picture can only add to fog. */
static size_t add_witnesses(const fog_field *f, const fog_point *dark, size_t darks, double sigma,
                            fog_point *point, size_t n, size_t most) {
    for (size_t i = 0; i < darks && n < most; i++)
        if (fog_at(f, dark[i].x, dark[i].y, dark[i].edge) > dark[i].amount) {
            point[n] = dark[i];
            point[n++].sigma = sigma;
        }
    return n;
}

static double middle_sigma(const fog_point *p, size_t n, float *work) {
    for (size_t i = 0; i < n; i++)
        work[i] = (float)p[i].sigma;
    return fmax(mil_quantile(work, n, 0.5), 1e-4);
}

/* Blocks that hold picture (a wrong crop) or the brush's ragged end are not even: out they go. */
static size_t drop_uneven(fog_point *p, size_t n, double noise) {
    size_t kept = 0;
    for (size_t i = 0; i < n; i++)
        if (p[i].sigma < 4 * noise)
            p[kept++] = p[i];
    return kept;
}

static void find_bounds(const fog_point *p, size_t n, double noise, double clear, float *work,
                        fog_field *f) {
    for (size_t i = 0; i < n; i++)
        work[i] = (float)p[i].amount;
    /* Inside, the coat may be clearer than anywhere on the margin, but no clearer than clear. */
    f->least = fmin(mil_quantile(work, n, 0.05) - 2 * noise, clear);
    f->most = mil_quantile(work, n, 0.98) + 2 * noise;
}

/* Field from the margin, then again with the frame's own darks. */
static bool make_field(mil_cells *cells, fog_point *point, fog_point *dark, fog_field *f) {
    size_t n = read_blocks(cells, MIL_MARGIN, BLOCK_MM, 0.5, MOST_POINTS, point);
    if (n < 6)
        return false;
    double noise = middle_sigma(point, n, cells->work), left = 0;
    n = drop_uneven(point, n, noise);
    find_bounds(point, n, noise, cells->clear, cells->work, f);
    for (size_t i = 0; i < n; i++)
        point[i].sigma = fmax(noise / 3, 1e-4);
    fit_mean(point, n, f);
    for (size_t i = 0; i < n; i++)
        left += pow(point[i].amount - mean_at(f, point[i].edge), 2) / (double)n;
    f->variance = fmax(left - noise * noise / 9, 1e-8);
    f->count = n;
    if (!solve_field(f))
        return false;
    size_t darks = read_blocks(cells, MIL_FRAME, DARK_MM, 0.02, MOST_DARKS, dark);
    f->count = add_witnesses(f, dark, darks, noise, point, n, MOST_POINTS + MOST_DARKS);
    return f->count == n || solve_field(f);
}

/* Posterior deviation in the middle of the frame's cells, a few places. */
static double doubt(mil_cells *cells, const fog_field *f, double *room) {
    double sum = 0, count = 0;
    size_t all = mil_cells_count(cells), step = cells->frame / 40 + 1, seen = 0;
    for (size_t i = 0; i < all; i++) {
        if (cells->part[i] != MIL_FRAME || seen++ % step)
            continue;
        double x = ((double)(i % (size_t)cells->nx) + 0.5) * cells->mm;
        double y = ((double)(i / (size_t)cells->nx) + 0.5) * cells->mm, known = 0;
        for (size_t k = 0; k < f->count; k++)
            room[k] = together(f, &f->point[k], x, y);
        /* k' K^-1 k = |L^-1 k|^2 */
        for (size_t k = 0; k < f->count; k++) {
            double v = room[k];
            for (size_t m = 0; m < k; m++)
                v -= f->factor[k * f->count + m] * room[m];
            room[k] = v / f->factor[k * f->count + k];
            known += room[k] * room[k];
        }
        sum += fmax(f->variance - known, 0);
        count++;
    }
    return sqrt(count > 0 ? sum / count : 0);
}

/* The field at knots KNOT_MM apart, straight lines between. */
static milori_status spread_field(milori_context *ctx, mil_cells *cells, const fog_field *f) {
    int step = (int)fmax(1, round(KNOT_MM / cells->mm));
    int kx = (cells->nx - 1) / step + 2, ky = (cells->ny - 1) / step + 2;
    double *knot = mil_alloc(ctx, (size_t)kx * (size_t)ky, sizeof *knot);
    if (!knot)
        return MILORI_ERR_MEMORY;
    for (int j = 0; j < ky; j++)
        for (int i = 0; i < kx; i++) {
            int cx = i * step < cells->nx ? i * step : cells->nx - 1;
            int cy = j * step < cells->ny ? j * step : cells->ny - 1;
            double edge = cells->edge[(size_t)cy * (size_t)cells->nx + (size_t)cx];
            knot[j * kx + i] = fog_at(f, (i * step + 0.5) * cells->mm, (j * step + 0.5) * cells->mm,
                                      edge > 0 ? edge : 0);
        }
    for (int j = 0; j < cells->ny; j++)
        for (int i = 0; i < cells->nx; i++) {
            const double *k = knot + (j / step) * kx + i / step;
            double u = (double)(i % step) / step, v = (double)(j % step) / step;
            cells->fog[(size_t)j * (size_t)cells->nx + (size_t)i] =
                (float)((1 - v) * ((1 - u) * k[0] + u * k[1]) +
                        v * ((1 - u) * k[kx] + u * k[kx + 1]));
        }
    free(knot);
    return MILORI_OK;
}

milori_status mil_fog_find(milori_context *ctx, mil_cells *cells, double *sigma) {
    size_t most = MOST_POINTS + MOST_DARKS;
    fog_point *point = mil_alloc(ctx, most + MOST_DARKS, sizeof *point);
    fog_field field = {.point = point,
                       .factor = mil_alloc(ctx, most * most, sizeof(double)),
                       .solution = mil_alloc(ctx, 2 * most, sizeof(double))};
    milori_status status = point && field.factor && field.solution ? MILORI_OK : MILORI_ERR_MEMORY;
    *sigma = NAN;
    if (status == MILORI_OK && make_field(cells, point, point + most, &field)) {
        status = spread_field(ctx, cells, &field);
        *sigma = doubt(cells, &field, field.solution + most);
    } else if (status == MILORI_OK) {
        /* No margin to speak of: the frame's darkest is taken as fog. */
        float level = (float)mil_cells_quantile(cells, cells->amount, MIL_FRAME, 0.005);
        size_t all = mil_cells_count(cells);
        for (size_t i = 0; i < all; i++)
            cells->fog[i] = level;
    }
    free(point);
    free(field.factor);
    free(field.solution);
    return status;
}
