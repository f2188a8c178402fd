#include "print/edge.h"

#include <math.h>
#include <stdlib.h>

static const double FRAME_MM = 0.7; /* so far round the frame its light may have strayed */
static const double SOFT_MM = 0.2;  /* half the width of a cut edge */
static const double SHADOW_MM =
    0.6; /* inside the outline bare paper may lie in its edge's shadow */
static const double BARE = 0.3, COATED = 0.6; /* between them the coat is thin: part of it shows */
static const double DARK_BED = 0.1;           /* linear light of a black lid, at most */

/* A sheet has bare paper beside its coat if two groups of cells hold so much of their spread in
 * density (0.93 and 0.96 on sheets that have, up to 0.70 on others), and lie so far apart. */
static const double APART = 0.8, LEAST_APART = 0.1;
static const double WHITE = 0.15; /* density of bare paper where none shows, at most */
static const double DENSEST = 2;
enum { BINS = 200 };

/* Densities of bare paper and of the coat, and light of the bed. */
typedef struct levels {
    double bare, coat, bed;
    bool brushed; /* bare paper shows beside the coat */
} levels;

/* A turned rectangle of the scan, made ready for many points. */
typedef struct side_finder {
    double cx, cy, cosine, sine, w, h;
} side_finder;

struct mil_edge {
    int nx, ny;
    double cell; /* px of the scan */
    float *coat; /* of a cell: 0 as bare paper .. 1 as the coat, and beyond */
    side_finder outline, frame;
    double rim, soft, near; /* px */
};

/* Density of dye or yellow, whichever there is more of. */
static float coat_density(const mil_grid *g, size_t at) {
    double least = 1;
    for (int c = 0; c < g->channels; c += 2)
        least = fmin(least, g->light[c][at]);
    return (float)-log10(fmax(least, 0.002));
}

static side_finder finder_of(const mil_rect *r) {
    return (side_finder){r->cx, r->cy, cos(r->angle), sin(r->angle), r->w / 2, r->h / 2};
}

/* Distance in px inside (positive) or outside the nearest side. */
static double inside_by(const side_finder *r, double x, double y) {
    double u = (x - r->cx) * r->cosine + (y - r->cy) * r->sine;
    double v = (y - r->cy) * r->cosine - (x - r->cx) * r->sine;
    return fmin(r->w - fabs(u), r->h - fabs(v));
}

static double step(double low, double high, double x) {
    double t = fmin(fmax((x - low) / (high - low), 0), 1);
    return t * t * (3 - 2 * t);
}

/* Green, or grey: what a lid of no colour is dark in. */
static float lid_light(const mil_grid *g, size_t at) {
    return g->light[g->channels / 2][at];
}

static void centre(const mil_grid *g, size_t at, double *x, double *y) {
    *x = ((double)(at % (size_t)g->nx) + 0.5) * g->cell;
    *y = ((double)(at / (size_t)g->nx) + 0.5) * g->cell;
}

/* Parts the cells in two at the density that leaves the least spread within them (Otsu 1979), over
 * a histogram. Returns the share of the spread that lies between the two, 0..1, and their means. */
static double part_in_two(const uint32_t histogram[BINS], double *low, double *high) {
    double count = 0, sum = 0, squares = 0, n = 0, part = 0, best = 0;
    for (int i = 0; i < BINS; i++) {
        count += histogram[i];
        sum += (double)i * histogram[i];
        squares += (double)i * i * histogram[i];
    }
    double spread = squares / count - pow(sum / count, 2);
    for (int i = 0; i < BINS - 1; i++) {
        n += histogram[i];
        part += (double)i * histogram[i];
        if (n == 0 || n == count)
            continue;
        double a = part / n, b = (sum - part) / (count - n);
        double between = n / count * (1 - n / count) * (b - a) * (b - a);
        if (between > best) {
            best = between;
            *low = (a + 0.5) / BINS * DENSEST;
            *high = (b + 0.5) / BINS * DENSEST;
        }
    }
    return spread > 0 ? best / spread : 0;
}

/* From what lies between the frame and the paper's outline, and beyond it. */
static levels find_levels(const mil_grid *g, const mil_edge *edge, const float *density) {
    uint32_t histogram[BINS] = {0};
    double near = 2 * FRAME_MM / g->mm_px, sum = 0, count = 0, bed = 0, beds = 0;
    for (size_t at = 0; at < (size_t)g->nx * (size_t)g->ny; at++) {
        double x, y;
        centre(g, at, &x, &y);
        double paper = inside_by(&edge->outline, x, y);
        if (paper < -near) {
            bed += lid_light(g, at);
            beds++;
        } else if (paper > near && inside_by(&edge->frame, x, y) < -near) {
            double bin = density[at] / DENSEST * BINS;
            histogram[(int)fmin(fmax(bin, 0), BINS - 1)]++;
            sum += density[at];
            count++;
        }
    }
    levels l = {.bed = beds > 0 ? bed / beds : 1};
    l.brushed = count > 0 && part_in_two(histogram, &l.bare, &l.coat) > APART &&
                l.coat - l.bare > LEAST_APART;
    if (!l.brushed) {
        l.coat = fmax(count > 0 ? sum / count : 0, WHITE + LEAST_APART);
        l.bare = WHITE;
    }
    return l;
}

static void fill(const mil_grid *g, const mil_found *found, mil_edge *edge) {
    size_t cells = (size_t)g->nx * (size_t)g->ny;
    edge->outline = finder_of(&found->outline);
    edge->frame = finder_of(&found->frame);
    for (size_t at = 0; at < cells; at++)
        edge->coat[at] = coat_density(g, at);
    levels l = find_levels(g, edge, edge->coat);
    for (size_t at = 0; at < cells; at++) {
        bool lid = l.bed < DARK_BED && lid_light(g, at) < 1.5 * l.bed + 0.01;
        edge->coat[at] = lid ? 0 : (float)((edge->coat[at] - l.bare) / (l.coat - l.bare));
    }
    edge->soft = SOFT_MM / g->mm_px;
    edge->rim = l.brushed ? SHADOW_MM / g->mm_px : edge->soft;
    edge->near = FRAME_MM / g->mm_px;
}

milori_status mil_edge_new(milori_context *ctx, const mil_measured *measured, int index,
                           mil_edge **out) {
    const mil_grid *g = &measured->grid;
    mil_edge *edge = mil_alloc(ctx, 1, sizeof *edge);
    if (!edge)
        return MILORI_ERR_MEMORY;
    *edge = (mil_edge){.nx = g->nx, .ny = g->ny, .cell = g->cell};
    edge->coat = mil_alloc(ctx, (size_t)g->nx * (size_t)g->ny, sizeof *edge->coat);
    if (!edge->coat) {
        mil_edge_free(edge);
        return MILORI_ERR_MEMORY;
    }
    fill(g, &measured->found[index], edge);
    *out = edge;
    return MILORI_OK;
}

/* Weights of a cubic B-spline for the four cells round a place t, 0..1, between the middle two:
 * smooth, so that the line where the coat ends has no trace of the cells. */
static void spline(double t, double weight[4]) {
    double u = 1 - t;
    weight[0] = u * u * u / 6;
    weight[1] = (3 * t * t * t - 6 * t * t + 4) / 6;
    weight[2] = (3 * u * u * u - 6 * u * u + 4) / 6;
    weight[3] = t * t * t / 6;
}

static double coat_at(const mil_edge *e, double x, double y) {
    double wx[4], wy[4], sum = 0;
    x = fmin(fmax(x / e->cell - 0.5, 0), e->nx - 1);
    y = fmin(fmax(y / e->cell - 0.5, 0), e->ny - 1);
    int i = (int)x, j = (int)y;
    spline(x - i, wx);
    spline(y - j, wy);
    for (int k = 0; k < 16; k++) {
        int a = i + k % 4 - 1, b = j + k / 4 - 1;
        a = a < 0 ? 0 : a >= e->nx ? e->nx - 1 : a;
        b = b < 0 ? 0 : b >= e->ny ? e->ny - 1 : b;
        sum += wx[k % 4] * wy[k / 4] * e->coat[(size_t)b * (size_t)e->nx + (size_t)a];
    }
    return sum;
}

static double cover_at(const mil_edge *e, double x, double y) {
    double paper = step(-e->soft, e->soft, inside_by(&e->outline, x, y) - e->rim);
    if (paper <= 0)
        return 0;
    double frame = inside_by(&e->frame, x, y), coat = 1;
    if (frame < -e->near)
        coat = step(BARE, COATED, coat_at(e, x, y));
    return paper * coat;
}

void mil_edge_row(const mil_edge *edge, const mil_plan *plan, uint32_t x, uint32_t y,
                  uint32_t count, uint16_t *words) {
    double at[2], next[2];
    mil_plan_point(plan, x + 0.5, y + 0.5, &at[0], &at[1]);
    mil_plan_point(plan, x + 1.5, y + 0.5, &next[0], &next[1]);
    for (uint32_t i = 0; i < count; i++) {
        double sx = at[0] + i * (next[0] - at[0]), sy = at[1] + i * (next[1] - at[1]);
        double word = 65535 + cover_at(edge, sx, sy) * (words[i] - 65535.0);
        words[i] = (uint16_t)(word + 0.5);
    }
}

void mil_edge_free(mil_edge *edge) {
    if (!edge)
        return;
    free(edge->coat);
    free(edge);
}
