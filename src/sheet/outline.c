/* The rectangle of one sheet on the bed. */
#include "sheet/find_private.h"

#include <math.h>
#include <stdlib.h>

static const double PI = 3.14159265358979323846;
static const double LEAST_MM = 14;
static const double REACH_MM = 2.0; /* profiles across the cut run this far each way */
static const double GREY_MM = 3.5;  /* the same where a shadow may pass for paper */

/* Border cells of a piece, px. */
typedef struct border {
    double (*at)[2];
    size_t count, cells;
} border;

static milori_status trace(milori_context *ctx, const mil_grid *g, const uint8_t *map, int piece,
                           border *b) {
    *b = (border){0};
    for (int pass = 0; pass < 2; pass++) {
        b->count = b->cells = 0;
        for (int k = 0; k < g->nx * g->ny; k++) {
            if (map[k] != piece)
                continue;
            int i = k % g->nx, j = k / g->nx;
            b->cells++;
            bool inner = i > 0 && i < g->nx - 1 && j > 0 && j < g->ny - 1 && map[k - 1] == piece &&
                         map[k + 1] == piece && map[k - g->nx] == piece && map[k + g->nx] == piece;
            if (inner)
                continue;
            if (pass) {
                b->at[b->count][0] = (i + 0.5) * g->cell;
                b->at[b->count][1] = (j + 0.5) * g->cell;
            }
            b->count++;
        }
        if (!pass) {
            b->at = mil_alloc(ctx, b->count, sizeof *b->at);
            if (!b->at)
                return MILORI_ERR_MEMORY;
        }
    }
    return MILORI_OK;
}

/* Extents of the border turned by angle, the outermost share of it left out. */
static double box_at(const border *b, double angle, float *work, mil_rect *box) {
    double c = cos(angle), s = sin(angle), low[2], high[2];
    for (int axis = 0; axis < 2; axis++) {
        double ax = axis ? -s : c, ay = axis ? c : s;
        for (size_t k = 0; k < b->count; k++)
            work[k] = (float)(ax * b->at[k][0] + ay * b->at[k][1]);
        low[axis] = mil_quantile(work, b->count, 0.01);
        high[axis] = mil_quantile(work, b->count, 0.99);
    }
    double u = (low[0] + high[0]) / 2, v = (low[1] + high[1]) / 2;
    *box = (mil_rect){.cx = u * c - v * s,
                      .cy = u * s + v * c,
                      .w = high[0] - low[0],
                      .h = high[1] - low[1],
                      .angle = angle};
    return box->w * box->h;
}

/* The turned box of least area, to about 0.1 degree. */
static void least_box(const border *b, float *work, mil_rect *best) {
    double least = box_at(b, 0, work, best), step = PI / 180, at = 0;
    for (int round = 0; round < 4; round++, step /= 3) {
        int reach = round ? 3 : 44;
        double middle = at;
        for (int k = -reach; k <= reach; k++) {
            mil_rect box;
            double area = box_at(b, middle + k * step, work, &box);
            if (area < least) {
                least = area;
                *best = box;
                at = box.angle;
            }
        }
    }
}

static double signal_at(const mil_grid *g, const mil_bed *bed, double x, double y, bool *inside) {
    double fx = x / g->cell - 0.5, fy = y / g->cell - 0.5;
    *inside = fx >= 0 && fy >= 0 && fx < g->nx - 1 && fy < g->ny - 1;
    if (!*inside)
        return 0;
    size_t i = (size_t)fx, j = (size_t)fy, nx = (size_t)g->nx, k = j * nx + i;
    double u = fx - (double)i, v = fy - (double)j;
    return (1 - v) * ((1 - u) * mil_bed_signal(g, bed, k) + u * mil_bed_signal(g, bed, k + 1)) +
           v * ((1 - u) * mil_bed_signal(g, bed, k + nx) + u * mil_bed_signal(g, bed, k + nx + 1));
}

/* Where, along a profile from bed to paper, half of the paper's signal is reached: the last
 * crossing from outside before the middle of the inside. offset < 0 is outside. */
static bool half_level(const double *s, int n, double step, double *offset) {
    float level[32];
    int inner = 0;
    for (int k = n * 2 / 3; k < n && inner < 32; k++)
        level[inner++] = (float)s[k];
    double half = mil_quantile(level, (size_t)inner, 0.5) / 2;
    if (!(fabs(half) > 0.006))
        return false;
    for (int k = n * 2 / 3; k > 0; k--) {
        double a = s[k - 1] / half, b = s[k] / half;
        if (a < 1 && b >= 1) {
            *offset = ((k - 1 + (1 - a) / (b - a)) - (n - 1) / 2.0) * step;
            return true;
        }
    }
    return false;
}

/* In a grey scan a shadow on the white lid is as dark as paper, but it grows slowly and the cut is
 * sharp: the outermost place that is nearly as steep as any, up or down. */
static bool steepest(const double *s, int n, double step, double *offset) {
    double slope[63] = {0}, most = 0;
    for (int k = 1; k < n - 1; k++) {
        slope[k] = fabs(s[k + 1] - s[k - 1]);
        most = fmax(most, slope[k]);
    }
    if (most < 0.02)
        return false;
    for (int k = 1; k < n - 1; k++)
        if (slope[k] >= 0.7 * most && slope[k] >= slope[k + 1]) {
            *offset = (k - (n - 1) / 2.0) * step;
            return true;
        }
    return false;
}

/* One side: corner a to corner b of the box, paper on the right hand. Fits the cut as a line and
 * gives two points of it. */
static bool fit_side(const mil_grid *g, const mil_bed *bed, const double a[2], const double b[2],
                     double line[2][2], double *along, double *across, double *weight) {
    double length = hypot(b[0] - a[0], b[1] - a[1]), step = g->cell / 2.0;
    double tx = (b[0] - a[0]) / length, ty = (b[1] - a[1]) / length;
    bool shadow = g->channels == 1 && bed->lid == MIL_LID_WHITE;
    int n = (int)((shadow ? GREY_MM : REACH_MM) / g->mm_px / step) * 2 + 1;
    n = n > 63 ? 63 : n;
    size_t count = 0;
    for (double t = 0.06 * length; t < 0.94 * length; t += g->cell) {
        double profile[63];
        bool inside = true;
        for (int k = 0; k < n && inside; k++) {
            double d = (k - (n - 1) / 2.0) * step;
            profile[k] = signal_at(g, bed, a[0] + t * tx - d * ty, a[1] + t * ty + d * tx, &inside);
        }
        if (!inside || !(shadow ? steepest : half_level)(profile, n, step, &across[count]))
            continue;
        along[count] = t;
        weight[count++] = 1;
    }
    mil_line fit;
    if ((double)count * 4 * g->cell < length || !mil_line_fit(along, across, weight, count, &fit) ||
        fabs(fit.slope) > 0.1)
        return false;
    for (int e = 0; e < 2; e++) {
        double t = e ? length : 0, d = fit.at + fit.slope * t;
        line[e][0] = a[0] + t * tx - d * ty;
        line[e][1] = a[1] + t * ty + d * tx;
    }
    return true;
}

static bool cross(const double p[2][2], const double q[2][2], double at[2]) {
    double px = p[1][0] - p[0][0], py = p[1][1] - p[0][1];
    double qx = q[1][0] - q[0][0], qy = q[1][1] - q[0][1];
    double det = px * qy - py * qx;
    if (fabs(det) < 1e-9)
        return false;
    double t = ((q[0][0] - p[0][0]) * qy - (q[0][1] - p[0][1]) * qx) / det;
    at[0] = p[0][0] + t * px;
    at[1] = p[0][1] + t * py;
    return true;
}

/* Fits the four sides; a side that gives no line keeps the box's. */
static void refine(const mil_grid *g, const mil_bed *bed, mil_rect *box, double *work) {
    size_t room = (size_t)g->nx + (size_t)g->ny;
    double corner[4][2], line[4][2][2], fitted[4][2];
    mil_rect_corners(box, corner);
    for (int k = 0; k < 4; k++) {
        const double *a = corner[k], *b = corner[(k + 1) % 4];
        if (!fit_side(g, bed, a, b, line[k], work, work + 2 * room, work + 4 * room))
            for (int e = 0; e < 2; e++) {
                line[k][0][e] = a[e];
                line[k][1][e] = b[e];
            }
    }
    for (int k = 0; k < 4; k++)
        if (!cross(line[(k + 3) % 4], line[k], fitted[k]))
            return;
    mil_rect r;
    if (mil_rect_fit(fitted, &r) && fabs(r.w - box->w) < 0.2 * box->w &&
        fabs(r.h - box->h) < 0.2 * box->h)
        *box = r;
}

milori_status mil_outline_fit(milori_context *ctx, const mil_grid *g, const mil_bed *bed,
                              const uint8_t *map, int piece, mil_rect *outline, bool *good) {
    border b;
    size_t room = (size_t)g->nx + (size_t)g->ny;
    milori_status status = trace(ctx, g, map, piece, &b);
    float *work = NULL;
    double *profile = NULL;
    *good = false;
    if (status == MILORI_OK) {
        work = mil_alloc(ctx, b.count, sizeof *work);
        profile = mil_alloc(ctx, 6 * room, sizeof *profile);
        status = work && profile ? MILORI_OK : MILORI_ERR_MEMORY;
    }
    if (status == MILORI_OK && b.count > 8) {
        double least = LEAST_MM / g->mm_px;
        least_box(&b, work, outline);
        outline->w += g->cell;
        outline->h += g->cell;
        double share = (double)b.cells * g->cell * g->cell / (outline->w * outline->h);
        *good = outline->w > least && outline->h > least && share > 0.4;
        if (*good)
            refine(g, bed, outline, profile);
    }
    free(b.at);
    free(work);
    free(profile);
    return status;
}
