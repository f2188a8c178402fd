/* Candidates for the frame: straight steps, put together to rectangles. */
#include "sheet/frame_private.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/frames.h"

static const double MOST_TURN = 0.14; /* radians, about 8 degrees on the sheet */
static const double MISSING = 0.12;   /* what a side that is not seen counts */
static const double LEAST_MM = 12;    /* a frame's shorter side */
/* An A3 sheet takes 90 turns each way; no scan of odd shape may take thousands. */
enum { WIDE = 3, LINES = 7, FAR = 4, MOST_TURNS = 120 };

/* Unsheared or sheared map and its steps, for lines along x. */
typedef struct turned {
    int nx, ny;
    float *value;   /* nx * ny; NaN where nothing is known */
    float *step[2]; /* (ny + 1) * nx: at the line above row y; [0] exposed below, [1] above */
} turned;

/* A candidate for one side: where, and its steps summed along it. */
typedef struct side_line {
    double offset; /* from the centre outwards */
    double score;
    double *sum; /* n + 1: sums of steps up to a place along the line */
} side_line;

/* All candidates at one angle. */
typedef struct lines {
    side_line line[4][LINES];
    int count[4];
    int n[4]; /* places along the line */
    double *memory;
} lines;

typedef struct search {
    mil_patch *patch;
    const mil_frame_wish *wish;
    double full; /* step that counts in full */
    turned map[2];
    float *row;
    double *unrest; /* (nx + 1) * (ny + 1): integral of unrest */
    lines lines;
    mil_guesses *out;
} search;

double mil_frame_full_step(const mil_patch *p, float *work) {
    size_t n = 0;
    for (int k = 0; k < p->nx * p->ny; k++)
        if (p->valid[k])
            work[n++] = p->dye[k];
    double full = 0.06 * (mil_quantile(work, n, 0.97) - mil_quantile(work, n, 0.1));
    return full < 4 ? 4 : full > 10 ? 10 : full;
}

/* Copies the map so that lines at the angle run along x: axis 0 keeps x and y, axis 1 swaps. */
static void shear(const mil_patch *p, int axis, double slope, turned *t) {
    double middle = t->nx / 2.0;
    for (int x = 0; x < t->nx; x++) {
        double shift = slope * (x + 0.5 - middle);
        int whole = (int)floor(shift);
        float part = (float)(shift - whole);
        for (int y = 0; y < t->ny; y++) {
            int a = y + whole, b = a + 1;
            float v = NAN;
            if (a >= 0 && b < t->ny) {
                size_t ka = axis ? (size_t)x * (size_t)p->nx + (size_t)a
                                 : (size_t)a * (size_t)p->nx + (size_t)x;
                size_t kb = axis ? ka + 1 : ka + (size_t)p->nx;
                if (p->valid[ka] && p->valid[kb])
                    v = (1 - part) * p->dye[ka] + part * p->dye[kb];
            }
            t->value[(size_t)y * (size_t)t->nx + (size_t)x] = v;
        }
    }
}

/* Mean of count values going by stride; NaN if any is unknown. */
static double mean_of(const float *v, ptrdiff_t stride, int count) {
    double sum = 0;
    for (int k = 0; k < count; k++)
        sum += v[k * stride];
    return sum / count;
}

/* The step across the line above row y, exposed on the side of `way` (+1 below): the near inside
 * less the near outside, less how the outside was changing anyway (fog). In full steps, -1..1. */
static double step_at(const turned *t, int x, int y, int way, double full) {
    ptrdiff_t stride = (ptrdiff_t)t->nx * way;
    int first = way > 0 ? y : y - 1;
    const float *in = t->value + (ptrdiff_t)first * t->nx + x, *out = in - stride;
    int room_in = way > 0 ? t->ny - y : y, room_out = way > 0 ? y : t->ny - y;
    if (room_in < WIDE || room_out < 2)
        return 0;
    double inside = mean_of(in, stride, WIDE);
    double near = mean_of(out, -stride, 2), change = 0;
    if (room_out >= WIDE) {
        double mean = mean_of(out, -stride, WIDE);
        if (!isnan(mean))
            near = mean;
    }
    if (room_out >= 3 * WIDE) {
        double far = mean_of(out - 2 * WIDE * stride, -stride, WIDE);
        change = isnan(far) ? 0 : (near - far) / 2;
    }
    double step = (inside - near - change) / full;
    return isnan(step) ? 0 : step > 1 ? 1 : step < -1 ? -1 : step;
}

static void all_steps(const search *s, turned *t) {
    for (int way = 0; way < 2; way++)
        for (int y = 0; y <= t->ny; y++)
            for (int x = 0; x < t->nx; x++)
                t->step[way][(size_t)y * (size_t)t->nx + (size_t)x] =
                    (float)step_at(t, x, y, way ? -1 : 1, s->full);
}

/* The best few rows of one side's steps. row: ny + 1 scores. */
static void pick(search *s, int side) {
    int axis = side == MIL_LEFT || side == MIL_RIGHT;
    bool far_side = side == MIL_BOTTOM || side == MIL_RIGHT;
    turned *t = &s->map[axis];
    const float *step = t->step[far_side];
    lines *l = &s->lines;
    for (int y = 0; y <= t->ny; y++)
        s->row[y] = (float)(mean_of(step + (size_t)y * (size_t)t->nx, 1, t->nx));
    l->count[side] = 0;
    l->n[side] = t->nx;
    while (l->count[side] < LINES) {
        int best = -1;
        for (int y = 1; y < t->ny; y++)
            if (s->row[y] > 0.02 && (best < 0 || s->row[y] > s->row[best]))
                best = y;
        if (best < 0)
            break;
        side_line *line = &l->line[side][l->count[side]++];
        line->offset = (best - t->ny / 2.0) * (far_side ? 1 : -1);
        line->score = s->row[best];
        line->sum[0] = 0;
        for (int x = 0; x < t->nx; x++)
            line->sum[x + 1] = line->sum[x] + step[(size_t)best * (size_t)t->nx + (size_t)x];
        for (int y = best - FAR; y <= best + FAR; y++)
            if (y >= 0 && y <= t->ny)
                s->row[y] = 0;
    }
}

static double between(const side_line *line, int n, double from, double to) {
    int a = (int)floor(from + 0.5), b = (int)floor(to + 0.5);
    a = a < 0 ? 0 : a > n ? n : a;
    b = b < 0 ? 0 : b > n ? n : b;
    return line->sum[b] - line->sum[a];
}

/* Sum of unrest in a box of samples about the patch's centre. */
static double unrest_in(const search *s, const double reach[4]) {
    int nx = s->patch->nx, ny = s->patch->ny;
    double side[4] = {ny / 2.0 - reach[MIL_TOP], nx / 2.0 + reach[MIL_RIGHT],
                      ny / 2.0 + reach[MIL_BOTTOM], nx / 2.0 - reach[MIL_LEFT]};
    int at[4];
    for (int k = 0; k < 4; k++) {
        int most = k == MIL_TOP || k == MIL_BOTTOM ? ny : nx;
        at[k] = side[k] < 0 ? 0 : side[k] > most ? most : (int)side[k];
    }
    size_t wide = (size_t)nx + 1;
    const double *u = s->unrest;
    return u[(size_t)at[2] * wide + (size_t)at[1]] - u[(size_t)at[0] * wide + (size_t)at[1]] -
           u[(size_t)at[2] * wide + (size_t)at[3]] + u[(size_t)at[0] * wide + (size_t)at[3]];
}

/* Unrest: how far the map steps, up or down, beyond what the margin does of itself. */
static void integrate_unrest(search *s) {
    int nx = s->patch->nx, ny = s->patch->ny;
    size_t wide = (size_t)nx + 1;
    for (int y = 0; y < ny; y++)
        for (int x = 0; x < nx; x++) {
            double most = 0;
            for (int k = 0; k < 4; k++) {
                const turned *t = &s->map[k / 2];
                size_t at = k / 2 ? (size_t)x * (size_t)t->nx + (size_t)y
                                  : (size_t)y * (size_t)t->nx + (size_t)x;
                double v = fabs(t->step[k % 2][at]);
                most = v > most ? v : most;
            }
            double beyond = most > 0.5 ? most - 0.5 : 0;
            s->patch->unrest[(size_t)y * (size_t)nx + (size_t)x] = (float)beyond;
            s->unrest[((size_t)y + 1) * wide + (size_t)x + 1] =
                beyond + s->unrest[(size_t)y * wide + (size_t)x + 1] +
                s->unrest[((size_t)y + 1) * wide + (size_t)x] -
                s->unrest[(size_t)y * wide + (size_t)x];
        }
}

double mil_frame_known(double w, double h, const char **name, double size[2]) {
    size_t count;
    const mil_frame_size *known = mil_frame_sizes(&count);
    double best = 0;
    *name = "";
    for (size_t i = 0; i < 2 * count; i++) {
        double kw = i % 2 ? known[i / 2].height_mm : known[i / 2].width_mm;
        double kh = i % 2 ? known[i / 2].width_mm : known[i / 2].height_mm;
        double off = fmax(fabs(w - kw), fabs(h - kh));
        double near = off < 0.6 ? 1 : off < 3 ? (3 - off) / 2.4 : 0;
        if (near > best) {
            best = near;
            *name = known[i / 2].name;
            size[0] = kw;
            size[1] = kh;
        }
    }
    return best;
}

/* How welcome the size is: what the user named, or else a known one. */
static double size_bonus(const search *s, double w, double h) {
    const char *name;
    double size[2], mm = s->patch->mm;
    const double *wish = s->wish->size_mm;
    if (!isnan(wish[0])) {
        double off = fmin(fmax(fabs(w * mm - wish[0]), fabs(h * mm - wish[1])),
                          fmax(fabs(w * mm - wish[1]), fabs(h * mm - wish[0])));
        return off < 1 ? 1.5 : off < 3 ? 1.5 - 0.7 * (off - 1) : -1;
    }
    return 0.2 * mil_frame_known(w * mm, h * mm, &name, size);
}

/* Keeps the best guesses that are apart from each other. */
static void keep(mil_guesses *all, const mil_guess *g) {
    int at = all->count;
    for (int k = 0; k < all->count; k++) {
        bool same = true;
        for (int side = 0; side < 4; side++)
            same = same && all->guess[k].seen[side] == g->seen[side] &&
                   (!g->seen[side] || fabs(all->guess[k].offset[side] - g->offset[side]) <= FAR);
        if (same) {
            if (all->guess[k].score >= g->score)
                return;
            at = k;
            break;
        }
    }
    if (at == all->count) {
        if (at < MIL_GUESSES)
            all->count++;
        else if (all->guess[--at].score >= g->score)
            return;
    }
    for (; at > 0 && all->guess[at - 1].score < g->score; at--)
        all->guess[at] = all->guess[at - 1];
    all->guess[at] = *g;
}

/* Scores one choice of lines (NULL: that side is not seen). */
static void weigh(search *s, side_line *const line[4], double angle) {
    const mil_patch *p = s->patch;
    double half[4] = {p->ny / 2.0, p->nx / 2.0, p->ny / 2.0, p->nx / 2.0}, reach[4];
    mil_guess g = {.angle = angle};
    int seen = 0;
    for (int k = 0; k < 4; k++) {
        g.seen[k] = line[k] != NULL;
        seen += g.seen[k];
        g.offset[k] = line[k] ? line[k]->offset : NAN;
        reach[k] = line[k] ? line[k]->offset : half[k] - 2 / p->mm;
    }
    double w = reach[MIL_LEFT] + reach[MIL_RIGHT], h = reach[MIL_TOP] + reach[MIL_BOTTOM];
    double least = LEAST_MM / p->mm;
    if (w < least || h < least)
        return;
    for (int k = 0; k < 4; k++) {
        if (!line[k]) {
            g.score += MISSING;
            continue;
        }
        /* Along the side the line runs from the one neighbour to the other. */
        bool across = k == MIL_LEFT || k == MIL_RIGHT;
        double before = across ? reach[MIL_TOP] : reach[MIL_LEFT];
        double after = across ? reach[MIL_BOTTOM] : reach[MIL_RIGHT];
        double middle = s->lines.n[k] / 2.0;
        double on = between(line[k], s->lines.n[k], middle - before, middle + after);
        double beyond = line[k]->sum[s->lines.n[k]] - on;
        g.evidence[k] = on / (before + after);
        g.score += g.evidence[k] - 0.5 * fmax(0, beyond) / (before + after);
    }
    double wide[4];
    for (int k = 0; k < 4; k++)
        wide[k] = reach[k] + 1.2 / p->mm + fabs(angle) * half[(k + 1) % 4];
    const double whole[4] = {half[0] + 1, half[1] + 1, half[2] + 1, half[3] + 1};
    g.outside = (unrest_in(s, whole) - unrest_in(s, wide)) / ((w + h) / 2);
    double degrees = angle * 57.3;
    g.score -= 0.04 * fmin(g.outside, 60) + 0.006 * degrees * degrees;
    double skew = fabs(reach[MIL_LEFT] - reach[MIL_RIGHT]) / (2 * half[1]) +
                  fabs(reach[MIL_TOP] - reach[MIL_BOTTOM]) / (2 * half[0]);
    g.score -= 0.4 * skew;
    if (seen == 4)
        g.score += size_bonus(s, w, h);
    keep(s->out, &g);
}

static void combine(search *s, double angle) {
    lines *l = &s->lines;
    side_line *line[4];
    for (int a = 0; a <= l->count[0]; a++)
        for (int b = 0; b <= l->count[1]; b++)
            for (int c = 0; c <= l->count[2]; c++)
                for (int d = 0; d <= l->count[3]; d++) {
                    line[0] = a < l->count[0] ? &l->line[0][a] : NULL;
                    line[1] = b < l->count[1] ? &l->line[1][b] : NULL;
                    line[2] = c < l->count[2] ? &l->line[2][c] : NULL;
                    line[3] = d < l->count[3] ? &l->line[3][d] : NULL;
                    int seen = !!line[0] + !!line[1] + !!line[2] + !!line[3];
                    if (seen >= 2)
                        weigh(s, line, angle);
                }
}

static milori_status allocate(milori_context *ctx, search *s) {
    const mil_patch *p = s->patch;
    size_t count = (size_t)p->nx * (size_t)p->ny, longest = (size_t)(p->nx > p->ny ? p->nx : p->ny);
    bool ok = true;
    for (int axis = 0; axis < 2; axis++) {
        turned *t = &s->map[axis];
        t->nx = axis ? p->ny : p->nx;
        t->ny = axis ? p->nx : p->ny;
        t->value = mil_alloc(ctx, count, sizeof(float));
        for (int way = 0; way < 2; way++)
            t->step[way] = mil_alloc(ctx, count + (size_t)t->nx, sizeof(float));
        ok = ok && t->value && t->step[0] && t->step[1];
    }
    s->row = mil_alloc(ctx, count + 1, sizeof(float));
    s->unrest = mil_alloc(ctx, (size_t)(p->nx + 1) * (size_t)(p->ny + 1), sizeof(double));
    s->lines.memory = mil_alloc(ctx, 4 * LINES * (longest + 1), sizeof(double));
    ok = ok && s->row && s->unrest && s->lines.memory;
    for (int k = 0; ok && k < 4 * LINES; k++)
        s->lines.line[k / LINES][k % LINES].sum = s->lines.memory + (size_t)k * (longest + 1);
    return ok ? MILORI_OK : MILORI_ERR_MEMORY;
}

static void release(search *s) {
    for (int axis = 0; axis < 2; axis++) {
        free(s->map[axis].value);
        free(s->map[axis].step[0]);
        free(s->map[axis].step[1]);
    }
    free(s->row);
    free(s->unrest);
    free(s->lines.memory);
}

milori_status mil_frame_search(milori_context *ctx, mil_patch *p, const mil_frame_wish *wish,
                               mil_guesses *guesses) {
    search s = {.patch = p, .wish = wish, .out = guesses};
    guesses->count = 0;
    milori_status status = allocate(ctx, &s);
    if (status == MILORI_OK) {
        s.full = mil_frame_full_step(p, s.row);
        double step = 2.0 / (p->nx > p->ny ? p->nx : p->ny);
        int turns = (int)fmin(MOST_TURN / step, MOST_TURNS);
        /* Unrest first, from the map as it lies. */
        for (int k = 0; k <= 2 * turns && status == MILORI_OK; k++) {
            double slope = step * (k % 2 ? (k + 1) / 2 : -k / 2);
            for (int axis = 0; axis < 2; axis++) {
                shear(p, axis, axis ? -slope : slope, &s.map[axis]);
                all_steps(&s, &s.map[axis]);
            }
            if (k == 0)
                integrate_unrest(&s);
            for (int side = 0; side < 4; side++)
                pick(&s, side);
            combine(&s, atan(slope));
            status = mil_check_cancel(ctx);
        }
    }
    release(&s);
    return status;
}
