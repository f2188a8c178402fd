#include "print/edge.h"

#include <math.h>
#include <stdlib.h>

static const double FRAME_MM = 0.7; /* so far round the frame its light may have strayed */
static const double SHADOW_MM = 1;  /* inside the outline bare paper may lie in its edge's shadow */
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

struct mil_edge {
    int nx, ny;
    double cell;  /* px of the scan */
    float *cover; /* of a cell, 0 paper .. 1 coat */
};

/* Density of dye or yellow, whichever there is more of. */
static float coat_density(const mil_grid *g, size_t at) {
    double least = 1;
    for (int c = 0; c < g->channels; c += 2)
        least = fmin(least, g->light[c][at]);
    return (float)-log10(fmax(least, 0.002));
}

/* Distance in px inside (positive) or outside a turned rectangle's nearest side. */
static double inside_by(const mil_rect *r, double x, double y) {
    double u, v;
    mil_rect_local(r, x, y, &u, &v);
    return fmin((1 - fabs(u)) * r->w, (1 - fabs(v)) * r->h) / 2;
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

static void cover_cells(const mil_grid *g, const mil_found *found, const levels *l,
                        const float *density, float *cover) {
    double soft = 0.5 * g->cell, near = FRAME_MM / g->mm_px;
    double rim = l->brushed ? SHADOW_MM / g->mm_px : soft;
    for (size_t at = 0; at < (size_t)g->nx * (size_t)g->ny; at++) {
        double x, y;
        centre(g, at, &x, &y);
        double on_paper = step(-soft, soft, inside_by(&found->outline, x, y) - rim);
        double part = step(BARE, COATED, (density[at] - l->bare) / (l->coat - l->bare));
        if (l->bed < DARK_BED && lid_light(g, at) < 1.5 * l->bed + 0.01)
            part = 0;
        if (inside_by(&found->frame, x, y) > -near)
            part = 1;
        cover[at] = (float)(on_paper * part);
    }
}

/* Mean with the neighbours, weights 1 2 1 both ways: the paper's own grain is no edge. */
static void smooth(const mil_grid *g, const float *from, float *to) {
    for (int j = 0; j < g->ny; j++)
        for (int i = 0; i < g->nx; i++) {
            float sum = 0;
            for (int k = 0; k < 9; k++) {
                int x = i + k % 3 - 1, y = j + k / 3 - 1;
                x = x < 0 ? 0 : x >= g->nx ? g->nx - 1 : x;
                y = y < 0 ? 0 : y >= g->ny ? g->ny - 1 : y;
                float weight = (float)((2 - abs(k % 3 - 1)) * (2 - abs(k / 3 - 1)));
                sum += weight * from[(size_t)y * (size_t)g->nx + (size_t)x];
            }
            to[(size_t)j * (size_t)g->nx + (size_t)i] = sum / 16;
        }
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
static levels find_levels(const mil_grid *g, const mil_found *found, const float *density) {
    uint32_t histogram[BINS] = {0};
    double near = 2 * FRAME_MM / g->mm_px, sum = 0, count = 0, bed = 0, beds = 0;
    for (size_t at = 0; at < (size_t)g->nx * (size_t)g->ny; at++) {
        double x, y;
        centre(g, at, &x, &y);
        double paper = inside_by(&found->outline, x, y);
        if (paper < -near) {
            bed += lid_light(g, at);
            beds++;
        } else if (paper > near && inside_by(&found->frame, x, y) < -near) {
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

milori_status mil_edge_new(milori_context *ctx, const mil_measured *measured, int index,
                           mil_edge **out) {
    const mil_grid *g = &measured->grid;
    const mil_found *found = &measured->found[index];
    size_t cells = (size_t)g->nx * (size_t)g->ny;
    mil_edge *edge = mil_alloc(ctx, 1, sizeof *edge);
    float *density = mil_alloc(ctx, cells, sizeof *density);
    float *work = mil_alloc(ctx, cells, sizeof *work);
    milori_status status = MILORI_ERR_MEMORY;
    if (edge) {
        *edge = (mil_edge){.nx = g->nx, .ny = g->ny, .cell = g->cell};
        edge->cover = mil_alloc(ctx, cells, sizeof *edge->cover);
    }
    if (edge && edge->cover && density && work) {
        for (size_t at = 0; at < cells; at++)
            work[at] = coat_density(g, at);
        smooth(g, work, density);
        levels l = find_levels(g, found, density);
        cover_cells(g, found, &l, density, edge->cover);
        status = MILORI_OK;
    }
    free(density);
    free(work);
    if (status == MILORI_OK)
        *out = edge;
    else
        mil_edge_free(edge);
    return status;
}

/* Straight between the four cells round a point of the scan. */
static double cover_at(const mil_edge *e, double x, double y) {
    x = fmin(fmax(x / e->cell - 0.5, 0), e->nx - 1);
    y = fmin(fmax(y / e->cell - 0.5, 0), e->ny - 1);
    int i = x < e->nx - 1 ? (int)x : e->nx - 2, j = y < e->ny - 1 ? (int)y : e->ny - 2;
    i = i < 0 ? 0 : i;
    j = j < 0 ? 0 : j;
    size_t right = e->nx > 1, down = e->ny > 1 ? (size_t)e->nx : 0;
    const float *at = e->cover + (size_t)j * (size_t)e->nx + (size_t)i;
    double above = at[0] + (x - i) * (at[right] - at[0]);
    double below = at[down] + (x - i) * (at[down + right] - at[down]);
    return above + (y - j) * (below - above);
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
    free(edge->cover);
    free(edge);
}
