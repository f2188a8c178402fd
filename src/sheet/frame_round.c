/* A round frame: the circle or ellipse on which the outermost steps lie. */
#include "sheet/frame_private.h"

#include <math.h>
#include <stdlib.h>

static const double PI = 3.14159265358979323846;
static const double LEAST_MM = 12; /* diameter */
enum { RAYS = 360, STEPS = 4, TRIES = 4000 };

/* Steps found on rays from the middle: where, in samples about the patch's centre. */
typedef struct step_place {
    double x, y, weight;
    int ray;
} step_place;

typedef struct steps {
    step_place at[RAYS * STEPS];
    int count;
} steps;

static double ray_value(const mil_patch *p, double cx, double cy, double c, double s, double r) {
    double v;
    return mil_patch_at(p, p->nx / 2.0 + cx + r * c, p->ny / 2.0 + cy + r * s, &v) ? v : NAN;
}

static double mean_between(const float *v, int from, int to) {
    double sum = 0;
    for (int k = from; k < to; k++)
        sum += v[k];
    return sum / (to - from);
}

/* The step at half sample k: its near inside less its near outside, and their middle. */
static double step_at(const float *value, int k, int wide, double *half) {
    double in = mean_between(value, k - wide, k - 1), out = mean_between(value, k + 2, k + wide);
    *half = (in + out) / 2;
    return in - out;
}

/* The place nearest to k where the ray falls through a level, or -1. */
static int falls_near(const float *value, int k, int reach, double level) {
    for (int d = 0; d <= reach; d++)
        for (int sign = -1; sign <= 1; sign += 2) {
            int at = k + sign * d;
            if (value[at - 1] >= level && value[at] < level)
                return at;
        }
    return -1;
}

/* The outermost falling steps along one ray, half samples; each where it is greatest, since at its
 * foot the half level is too low. */
static void along_ray(const mil_patch *p, double cx, double cy, int ray, double full, float *value,
                      steps *all) {
    double c = cos(2 * PI * ray / RAYS), s = sin(2 * PI * ray / RAYS), half, other;
    int n = p->nx + p->ny, wide = (int)(1.0 / p->mm * 2), kept = 0;
    for (int k = 0; k < n; k++)
        value[k] = (float)ray_value(p, cx, cy, c, s, k * 0.5);
    for (int k = n - wide - 1; k > 2 * wide && kept < STEPS; k--) {
        double step = step_at(value, k, wide, &half);
        if (!(step > full))
            continue;
        int best = k;
        for (int j = k - 1; j > k - wide; j--) {
            double there = step_at(value, j, wide, &other);
            if (there > step) {
                step = there;
                half = other;
                best = j;
            }
        }
        int at = falls_near(value, best, wide / 2, half);
        if (at > 0) {
            double r = 0.5 * (at - 1 + (value[at - 1] - half) / (value[at - 1] - value[at]));
            double weight = step / (2 * full);
            all->at[all->count++] =
                (step_place){cx + r * c, cy + r * s, weight > 1 ? 1 : weight, ray};
            kept++;
        }
        k = best - wide;
    }
}

/* Distance from the rim, outwards positive, to first order. */
static double from_rim(const mil_round *e, double x, double y) {
    double c = cos(e->angle), s = sin(e->angle), dx = x - e->cx, dy = y - e->cy;
    double u = (dx * c + dy * s) / e->rx, v = (-dx * s + dy * c) / e->ry;
    double r = hypot(u, v), slope = hypot(u / e->rx, v / e->ry);
    return r < 1e-6 ? -e->rx : (r - 1) * r / slope;
}

/* Share of the rays that have a step within near of the rim. */
static double support(const steps *all, const mil_round *e, double near) {
    double sum = 0;
    int last = -1;
    for (int k = 0; k < all->count; k++)
        if (all->at[k].ray != last && fabs(from_rim(e, all->at[k].x, all->at[k].y)) < near) {
            sum += 1;
            last = all->at[k].ray;
        }
    return sum / RAYS;
}

/* The circle through three places, or the ellipse with the axes' ratio given. */
static bool through(const steps *all, const int k[3], double ratio, double angle, mil_round *e) {
    double c = cos(angle), s = sin(angle), u[3], v[3];
    for (int i = 0; i < 3; i++) {
        const step_place *q = &all->at[k[i]];
        u[i] = q->x * c + q->y * s;
        v[i] = (-q->x * s + q->y * c) * ratio;
    }
    double ax = u[1] - u[0], ay = v[1] - v[0], bx = u[2] - u[0], by = v[2] - v[0];
    double det = 2 * (ax * by - ay * bx);
    if (fabs(det) < 1e-3)
        return false;
    double a2 = ax * ax + ay * ay, b2 = bx * bx + by * by;
    double mu = (by * a2 - ay * b2) / det, mv = (ax * b2 - bx * a2) / det;
    double cu = u[0] + mu, cv = (v[0] + mv) / ratio;
    *e = (mil_round){.cx = cu * c - cv * s,
                     .cy = cu * s + cv * c,
                     .rx = hypot(mu, mv),
                     .ry = hypot(mu, mv) / ratio,
                     .angle = angle};
    return true;
}

/* Solves m x = b (5 x 5 at most) by elimination with pivots; false if singular. */
static bool solve(int n, double m[5][6], double *x) {
    for (int k = 0; k < n; k++) {
        int pivot = k;
        for (int i = k + 1; i < n; i++)
            if (fabs(m[i][k]) > fabs(m[pivot][k]))
                pivot = i;
        if (fabs(m[pivot][k]) < 1e-12)
            return false;
        for (int j = 0; j <= n; j++) {
            double swap = m[k][j];
            m[k][j] = m[pivot][j];
            m[pivot][j] = swap;
        }
        for (int i = 0; i < n; i++) {
            if (i == k)
                continue;
            double f = m[i][k] / m[k][k];
            for (int j = k; j <= n; j++)
                m[i][j] -= f * m[k][j];
        }
    }
    for (int k = 0; k < n; k++)
        x[k] = m[k][n] / m[k][k];
    return true;
}

/* Gauss-Newton on the distances from the rim (cx cy rx ry, and the angle where it can be seen),
 * Tukey's weights of size c. */
static bool improve(const steps *all, mil_round *e, double c) {
    double m[5][6] = {{0}}, x[5] = {0}, nudge[5] = {0.01, 0.01, 0.01, 0.01, 1e-4};
    int n = fabs(e->rx - e->ry) > 0.05 * fmax(e->rx, e->ry) ? 5 : 4;
    for (int k = 0; k < all->count; k++) {
        const step_place *q = &all->at[k];
        double r = from_rim(e, q->x, q->y), t = r / c;
        if (fabs(t) >= 1)
            continue;
        double w = q->weight * (1 - t * t) * (1 - t * t), row[5];
        for (int i = 0; i < n; i++) {
            mil_round moved = *e;
            double *of[5] = {&moved.cx, &moved.cy, &moved.rx, &moved.ry, &moved.angle};
            *of[i] += nudge[i];
            row[i] = (from_rim(&moved, q->x, q->y) - r) / nudge[i];
        }
        for (int i = 0; i < n; i++) {
            for (int j = 0; j < n; j++)
                m[i][j] += w * row[i] * row[j];
            m[i][n] -= w * row[i] * r;
        }
    }
    if (!solve(n, m, x))
        return false;
    e->cx += x[0];
    e->cy += x[1];
    e->rx += x[2];
    e->ry += x[3];
    e->angle += x[4];
    return e->rx > 1 && e->ry > 1 && fabs(e->angle) < 0.2;
}

/* Unrest outside of the rim, clear of it, for a sample of a mean diameter. */
static double unrest_outside(const mil_patch *p, const mil_round *e) {
    double sum = 0;
    for (int y = 0; y < p->ny; y++)
        for (int x = 0; x < p->nx; x++)
            if (from_rim(e, x + 0.5 - p->nx / 2.0, y + 0.5 - p->ny / 2.0) > 1.2 / p->mm)
                sum += p->unrest[(size_t)y * (size_t)p->nx + (size_t)x];
    return sum / (e->rx + e->ry);
}

static void best_through(const steps *all, const mil_patch *p, double angle, mil_round *best) {
    static const double ratios[] = {1, 1.0 / 1.35, 1.35, 1.0 / 1.5, 1.5, 1.25, 0.8};
    uint32_t state = 1;
    best->share = 0;
    for (int t = 0; t < TRIES && all->count >= 3; t++) {
        int k[3];
        for (int i = 0; i < 3; i++) {
            state = state * 1664525u + 1013904223u;
            k[i] = (int)((state >> 8) % (uint32_t)all->count);
        }
        mil_round e;
        double ratio = ratios[t % (int)(sizeof ratios / sizeof *ratios)];
        if (!through(all, k, ratio, angle, &e) || fmin(e.rx, e.ry) * 2 * p->mm < LEAST_MM ||
            fabs(e.cx) + e.rx > p->nx / 2.0 + 2 || fabs(e.cy) + e.ry > p->ny / 2.0 + 2)
            continue;
        e.share = support(all, &e, 1.0 / p->mm);
        if (e.share > best->share)
            *best = e;
    }
}

milori_status mil_frame_round(milori_context *ctx, const mil_patch *p, double angle,
                              mil_round *round, bool *any) {
    steps *all = mil_alloc(ctx, 1, sizeof *all);
    size_t room = (size_t)(p->nx + p->ny) + (size_t)p->nx * (size_t)p->ny;
    float *work = mil_alloc(ctx, room, sizeof *work);
    milori_status status = all && work ? MILORI_OK : MILORI_ERR_MEMORY;
    *any = false;
    if (status == MILORI_OK) {
        double full = mil_frame_full_step(p, work), near = 0.3 / p->mm;
        for (int ray = 0; ray < RAYS; ray++)
            along_ray(p, 0, 0, ray, full, work, all);
        best_through(all, p, angle, round);
        bool good = round->share > 0.25;
        for (int k = 0; k < 12 && good; k++)
            good = improve(all, round, k < 4 ? 1.2 / p->mm : 0.5 / p->mm);
        if (good) {
            double square = 0, n = 0;
            round->share = support(all, round, near);
            for (int k = 0; k < all->count; k++) {
                double r = from_rim(round, all->at[k].x, all->at[k].y);
                if (fabs(r) < near) {
                    square += r * r;
                    n++;
                }
            }
            round->sigma = n > 0 ? sqrt(square / n * 12 / n) : near;
            round->outside = unrest_outside(p, round);
            *any = round->share > 0.25;
        }
    }
    free(all);
    free(work);
    return status;
}
