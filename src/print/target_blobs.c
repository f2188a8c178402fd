/* Light spots on darker ground, whatever the light and the coat do over the sheet. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "print/target_parts.h"

/* A spot is light where it is above the middle between the ground and the lightest
 * within about a cell's width; where those differ by less nothing is told apart. */
static const float LEAST_CONTRAST = 10;
static const double LOW_SHARE = 0.10, HIGH_SHARE = 0.985;
/* Of a bead's width, in which a spot's must lie. */
static const double NARROWEST = 0.55, WIDEST = 1.5;

typedef struct tiles {
    int nx, ny, side;
    float *middle; /* threshold at each tile; > 200 where there is no contrast */
} tiles;

enum { BINS = 512 }; /* of lightness 0..100 */

/* The lightness below which a share of n counted cells lies. */
static float quantile(const uint32_t *bin, size_t n, double share) {
    double left = share * (double)n;
    int k = 0;
    while (k < BINS - 1 && left >= bin[k])
        left -= bin[k++];
    return (float)((k + 0.5) * 100 / BINS);
}

/* Threshold of the tile whose window is three tiles wide. */
static float tile_middle(const mil_look *look, const tiles *t, int i, int j) {
    int x0 = (i - 1) * t->side, x1 = (i + 2) * t->side;
    int y0 = (j - 1) * t->side, y1 = (j + 2) * t->side;
    uint32_t bin[BINS] = {0};
    x0 = x0 < 0 ? 0 : x0;
    y0 = y0 < 0 ? 0 : y0;
    x1 = x1 > look->nx ? look->nx : x1;
    y1 = y1 > look->ny ? look->ny : y1;
    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++) {
            float value = look->value[(size_t)y * (size_t)look->nx + (size_t)x];
            int k = (int)(value * (BINS / 100.0f));
            bin[k < 0 ? 0 : k >= BINS ? BINS - 1 : k]++;
        }
    size_t n = (size_t)(x1 - x0) * (size_t)(y1 - y0);
    float low = quantile(bin, n, LOW_SHARE), high = quantile(bin, n, HIGH_SHARE);
    return high - low < LEAST_CONTRAST ? 1000 : (low + high) / 2;
}

static milori_status make_tiles(milori_context *ctx, const mil_look *look, double pitch, tiles *t) {
    t->side = (int)fmax(2, floor(0.45 * pitch));
    t->nx = (look->nx + t->side - 1) / t->side;
    t->ny = (look->ny + t->side - 1) / t->side;
    t->middle = mil_alloc(ctx, (size_t)t->nx * (size_t)t->ny, sizeof *t->middle);
    milori_status status = t->middle ? MILORI_OK : MILORI_ERR_MEMORY;
    for (int j = 0; j < t->ny && status == MILORI_OK; j++)
        for (int i = 0; i < t->nx; i++)
            t->middle[j * t->nx + i] = tile_middle(look, t, i, j);
    return status;
}

/* Light or not; between tiles the threshold runs evenly. */
static void threshold(const mil_look *look, const tiles *t, uint8_t *light) {
    for (int y = 0; y < look->ny; y++) {
        double v = fmin(fmax((y + 0.5) / t->side - 0.5, 0), t->ny - 1);
        int j = (int)v, j1 = j + 1 < t->ny ? j + 1 : j;
        for (int x = 0; x < look->nx; x++) {
            double u = fmin(fmax((x + 0.5) / t->side - 0.5, 0), t->nx - 1);
            int i = (int)u, i1 = i + 1 < t->nx ? i + 1 : i;
            const float *m = t->middle;
            double top = m[j * t->nx + i] * (1 - u + i) + m[j * t->nx + i1] * (u - i);
            double foot = m[j1 * t->nx + i] * (1 - u + i) + m[j1 * t->nx + i1] * (u - i);
            size_t at = (size_t)y * (size_t)look->nx + (size_t)x;
            light[at] = look->value[at] > top * (1 - v + j) + foot * (v - j);
        }
    }
}

/* One connected light spot, its edge's cells counted by how light they are. */
typedef struct spot {
    double weight, x, y, lowest;
    int left, right, top, foot;
    size_t cells;
} spot;

static void add_cell(const mil_look *look, spot *s, int x, int y) {
    double w = look->value[(size_t)y * (size_t)look->nx + (size_t)x];
    s->weight += w;
    s->x += w * (x + 0.5);
    s->y += w * (y + 0.5);
    s->left = x < s->left ? x : s->left;
    s->right = x > s->right ? x : s->right;
    s->top = y < s->top ? y : s->top;
    s->foot = y > s->foot ? y : s->foot;
    s->cells++;
}

/* Takes all cells joined to one; stack has room for every cell. */
static spot flood(const mil_look *look, uint8_t *light, size_t from, size_t *stack) {
    size_t n = 0, nx = (size_t)look->nx;
    spot s = {.left = look->nx, .right = -1, .top = look->ny, .foot = -1};
    stack[n++] = from;
    light[from] = 0;
    while (n) {
        size_t at = stack[--n];
        int x = (int)(at % nx), y = (int)(at / nx);
        add_cell(look, &s, x, y);
        size_t beside[4] = {at - 1, at + 1, at - nx, at + nx};
        bool is[4] = {x > 0, x + 1 < look->nx, y > 0, y + 1 < look->ny};
        for (int k = 0; k < 4; k++)
            if (is[k] && light[beside[k]]) {
                light[beside[k]] = 0;
                stack[n++] = beside[k];
            }
    }
    return s;
}

static bool like_bead(const mil_look *look, const spot *s, double bead, mil_blob *blob) {
    double wide = s->right - s->left + 1, high = s->foot - s->top + 1;
    double filled = (double)s->cells / (wide * high);
    blob->x = s->x / s->weight;
    blob->y = s->y / s->weight;
    blob->across = (wide + high) / 2;
    if (blob->across < NARROWEST * bead || blob->across > WIDEST * bead + 1)
        return false;
    if (s->left == 0 || s->top == 0 || s->right == look->nx - 1 || s->foot == look->ny - 1)
        return false;
    double off_x = blob->x - (s->left + s->right + 1) / 2.0;
    double off_y = blob->y - (s->top + s->foot + 1) / 2.0;
    return fmax(wide, high) <= 1.5 * fmin(wide, high) + 1 && filled > 0.4 &&
           hypot(off_x, off_y) < 0.15 * blob->across;
}

static milori_status collect(milori_context *ctx, const mil_look *look, double bead, uint8_t *light,
                             size_t *stack, mil_blob **out, size_t *count) {
    size_t cells = (size_t)look->nx * (size_t)look->ny, room = 256;
    *count = 0;
    *out = mil_alloc(ctx, room, sizeof **out);
    if (!*out)
        return MILORI_ERR_MEMORY;
    for (size_t at = 0; at < cells; at++) {
        if (!light[at])
            continue;
        spot s = flood(look, light, at, stack);
        mil_blob blob;
        if (!like_bead(look, &s, bead, &blob))
            continue;
        if (*count == room) {
            mil_blob *more = realloc(*out, 2 * room * sizeof *more);
            if (!more)
                return mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: close other programs");
            *out = more;
            room *= 2;
        }
        (*out)[(*count)++] = blob;
    }
    return MILORI_OK;
}

milori_status mil_target_blobs(milori_context *ctx, const mil_look *look, double pitch,
                               mil_blob **blob, size_t *count) {
    size_t cells = (size_t)look->nx * (size_t)look->ny;
    tiles t = {0};
    *blob = NULL;
    uint8_t *light = mil_alloc(ctx, cells, 1);
    size_t *stack = mil_alloc(ctx, cells, sizeof *stack);
    milori_status status = light && stack ? MILORI_OK : MILORI_ERR_MEMORY;
    if (status == MILORI_OK)
        status = make_tiles(ctx, look, pitch, &t);
    if (status == MILORI_OK) {
        threshold(look, &t, light);
        status = collect(ctx, look, pitch * MIL_TARGET_BEAD / MIL_TARGET_PITCH, light, stack, blob,
                         count);
    }
    free(t.middle);
    free(light);
    free(stack);
    if (status != MILORI_OK) {
        free(*blob);
        *blob = NULL;
    }
    return status;
}
