/* One sheet laid straight: the grid resampled along the sheet's own sides. */
#include "sheet/find_private.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double RIM_MM = 0.55;   /* this near the cut nothing is believed */
static const double DARKEST = 0.002; /* light */

static void to_scan(const mil_patch *p, double x, double y, double *sx, double *sy) {
    double c = cos(p->outline.angle), s = sin(p->outline.angle);
    double u = (x - p->nx / 2.0) * p->pitch, v = (y - p->ny / 2.0) * p->pitch;
    *sx = p->outline.cx + u * c - v * s;
    *sy = p->outline.cy + u * s + v * c;
}

/* Weights of the four places about a fraction t between the middle two (Catmull & Rom 1974): a
 * sharp edge stays sharper than by straight lines. */
static void cubic(double t, double w[4]) {
    w[0] = t * (-0.5 + t * (1 - 0.5 * t));
    w[1] = 1 + t * t * (-2.5 + 1.5 * t);
    w[2] = t * (0.5 + t * (2 - 1.5 * t));
    w[3] = t * t * (-0.5 + 0.5 * t);
}

/* Light at px (x, y) between cells' centres; false off the scan. */
static bool light_at(const mil_grid *g, double x, double y, double *light) {
    double fx = x / g->cell - 0.5, fy = y / g->cell - 0.5, wx[4], wy[4];
    if (x < 0 || y < 0 || x > g->width || y > g->height)
        return false;
    int i = (int)floor(fx), j = (int)floor(fy);
    cubic(fx - i, wx);
    cubic(fy - j, wy);
    for (int c = 0; c < g->channels; c++)
        light[c] = 0;
    for (int b = 0; b < 4; b++)
        for (int a = 0; a < 4; a++) {
            int ci = i - 1 + a, cj = j - 1 + b;
            ci = ci < 0 ? 0 : ci > g->nx - 1 ? g->nx - 1 : ci;
            cj = cj < 0 ? 0 : cj > g->ny - 1 ? g->ny - 1 : cj;
            size_t at = (size_t)cj * (size_t)g->nx + (size_t)ci;
            for (int c = 0; c < g->channels; c++)
                light[c] += wx[a] * wy[b] * g->light[c][at];
        }
    return true;
}

static milori_status allocate(milori_context *ctx, mil_patch *p) {
    size_t count = (size_t)p->nx * (size_t)p->ny;
    for (int c = 0; c < p->channels; c++)
        if (!(p->density[c] = mil_alloc(ctx, count, sizeof(float))))
            return MILORI_ERR_MEMORY;
    p->dye = mil_alloc(ctx, count, sizeof(float));
    p->unrest = mil_alloc(ctx, count, sizeof(float));
    p->valid = mil_alloc(ctx, count, 1);
    return p->dye && p->unrest && p->valid ? MILORI_OK : MILORI_ERR_MEMORY;
}

milori_status mil_patch_make(milori_context *ctx, const mil_grid *g, const mil_rect *outline,
                             mil_patch *p) {
    *p = (mil_patch){
        .channels = g->channels, .pitch = g->cell, .mm = g->mm_px * g->cell, .outline = *outline};
    p->nx = (int)ceil(outline->w / p->pitch);
    p->ny = (int)ceil(outline->h / p->pitch);
    milori_status status = allocate(ctx, p);
    if (status != MILORI_OK) {
        mil_patch_free(p);
        return status;
    }
    double rim = RIM_MM / p->mm, u0 = outline->w / p->pitch / 2, v0 = outline->h / p->pitch / 2;
    for (int j = 0; j < p->ny; j++)
        for (int i = 0; i < p->nx; i++) {
            size_t at = (size_t)j * (size_t)p->nx + (size_t)i;
            double x, y, light[3];
            to_scan(p, i + 0.5, j + 0.5, &x, &y);
            bool on = light_at(g, x, y, light);
            p->valid[at] = on && fabs(i + 0.5 - p->nx / 2.0) < u0 - rim &&
                           fabs(j + 0.5 - p->ny / 2.0) < v0 - rim;
            for (int c = 0; c < p->channels; c++)
                p->density[c][at] = on ? (float)-log10(light[c] > DARKEST ? light[c] : DARKEST) : 0;
        }
    return MILORI_OK;
}

void mil_patch_free(mil_patch *p) {
    for (int c = 0; c < 3; c++)
        free(p->density[c]);
    free(p->dye);
    free(p->unrest);
    free(p->valid);
    memset(p, 0, sizeof *p);
}

bool mil_patch_at(const mil_patch *p, double x, double y, double *dye) {
    double wx[4], wy[4], sum = 0;
    int i = (int)floor(x - 0.5), j = (int)floor(y - 0.5);
    if (i < 1 || j < 1 || i > p->nx - 3 || j > p->ny - 3)
        return false;
    cubic(x - 0.5 - i, wx);
    cubic(y - 0.5 - j, wy);
    for (int b = 0; b < 4; b++)
        for (int a = 0; a < 4; a++) {
            size_t at = (size_t)(j - 1 + b) * (size_t)p->nx + (size_t)(i - 1 + a);
            if (!p->valid[at])
                return false;
            sum += wx[a] * wy[b] * p->dye[at];
        }
    *dye = sum;
    return true;
}

void mil_patch_to_scan(const mil_patch *p, const mil_rect *in, mil_rect *out) {
    mil_rect r = {
        .w = in->w * p->pitch, .h = in->h * p->pitch, .angle = in->angle + p->outline.angle};
    to_scan(p, in->cx, in->cy, &r.cx, &r.cy);
    /* The fit brings the angle into its range. */
    double corner[4][2];
    mil_rect_corners(&r, corner);
    if (!mil_rect_fit(corner, out))
        *out = r;
}
