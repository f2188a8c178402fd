/* The row of a tablet's steps: edges alike, side by side, evenly apart. */
#include <math.h>
#include <string.h>

#include "print/tablet_private.h"

static const double LEAST_STEP = 5;  /* cells */
static const double OFF_STEP = 0.14; /* of a step: how far an edge may lie from its place */
static const double CLEAR_END = 3;   /* L*: a difference at the row's end that shows it */

/* Edges at even places: edge i at t0 + i * step along (dx, dy) from the origin. */
typedef struct lattice {
    double dx, dy, across; /* unit vector; offset of the row's middle line */
    double t0, step, width;
    int first, last; /* numbers of the outermost edges seen */
    double score;
} lattice;

static double along(const mil_edge *e, double dx, double dy) {
    return e->x * dx + e->y * dy;
}

static double across(const mil_edge *e, double dx, double dy) {
    return -e->x * dy + e->y * dx;
}

/* Whether an edge may bound a step of the row; its place in steps. */
static bool belongs(const lattice *l, const mil_edge *e, double *place) {
    if (e->dx * l->dx + e->dy * l->dy < 0.985 || e->length < 0.55 * l->width ||
        e->length > 1.8 * l->width || fabs(across(e, l->dx, l->dy) - l->across) > 0.3 * l->width)
        return false;
    *place = (along(e, l->dx, l->dy) - l->t0) / l->step;
    return fabs(*place - round(*place)) < OFF_STEP && fabs(*place) < MIL_TABLET_MOST;
}

/* Each number's edge counts once, a number between that has none takes half away. */
static void rate(const mil_edge *edges, size_t count, size_t steps, lattice *l) {
    bool seen[2 * MIL_TABLET_MOST + 1] = {false};
    int hits = 0;
    l->first = MIL_TABLET_MOST;
    l->last = -MIL_TABLET_MOST;
    for (size_t i = 0; i < count; i++) {
        double place;
        if (!belongs(l, &edges[i], &place))
            continue;
        int number = (int)lround(place);
        hits += !seen[number + MIL_TABLET_MOST];
        seen[number + MIL_TABLET_MOST] = true;
        l->first = number < l->first ? number : l->first;
        l->last = number > l->last ? number : l->last;
    }
    int span = l->last - l->first + 1;
    l->score = hits < 2 || span > (int)steps - 1 ? 0 : hits - 0.6 * (span - hits);
}

/* The lattice that two edges make, parts steps apart; false if they cannot. */
static bool pair_lattice(const mil_edge *a, const mil_edge *b, int parts, lattice *l) {
    double x = b->x - a->x, y = b->y - a->y, far = hypot(x, y), step = far / parts;
    double longer = fmax(a->length, b->length), shorter = fmin(a->length, b->length);
    if (step < LEAST_STEP || longer > 1.5 * shorter || longer < 0.3 * step || longer > 40 * step ||
        a->dx * b->dx + a->dy * b->dy < 0.985)
        return false;
    double dx = a->dx + b->dx, dy = a->dy + b->dy, size = hypot(dx, dy);
    dx /= size;
    dy /= size;
    if (x * dx + y * dy < 0.9 * far || fabs(-x * dy + y * dx) > 0.2 * longer)
        return false;
    *l = (lattice){.dx = dx, .dy = dy, .step = step, .width = (longer + shorter) / 2};
    l->across = (across(a, dx, dy) + across(b, dx, dy)) / 2;
    l->t0 = along(a, dx, dy);
    return true;
}

/* Direction, phase and step anew, from all the edges that belong. */
static void refine(const mil_edge *edges, size_t count, size_t steps, lattice *l) {
    double dx = 0, dy = 0, weight = 0, c = 0, length = 0;
    double n = 0, sn = 0, snn = 0, st = 0, snt = 0, place;
    for (size_t i = 0; i < count; i++)
        if (belongs(l, &edges[i], &place)) {
            double w = edges[i].length * edges[i].contrast;
            dx += w * edges[i].dx;
            dy += w * edges[i].dy;
        }
    double size = hypot(dx, dy);
    dx /= size;
    dy /= size;
    for (size_t i = 0; i < count; i++)
        if (belongs(l, &edges[i], &place)) {
            double number = round(place), t = along(&edges[i], dx, dy);
            double w = edges[i].length * edges[i].contrast;
            n++;
            sn += number;
            snn += number * number;
            st += t;
            snt += number * t;
            weight += w;
            c += w * across(&edges[i], dx, dy);
            length += w * edges[i].length;
        }
    double det = n * snn - sn * sn;
    if (!(det > 0))
        return;
    l->dx = dx;
    l->dy = dy;
    l->step = (n * snt - sn * st) / det;
    l->t0 = (st - l->step * sn) / n;
    l->across = c / weight;
    l->width = length / weight;
    rate(edges, count, steps, l);
}

/* The row's long sides, whose direction is truer than that of its short edges: sums of
 * the direction (turned to the row's) and of the places across of either side. */
typedef struct sides {
    double dx, dy, length;
    double across[2], weight[2];
} sides;

static void add_side(const lattice *l, const mil_edge *e, sides *s) {
    double c = across(e, l->dx, l->dy) - l->across, t = (along(e, l->dx, l->dy) - l->t0) / l->step;
    double turned = e->dx * l->dy - e->dy * l->dx; /* cosine between its run and the row */
    if (fabs(turned) < 0.985 || fabs(c) < 0.25 * l->width || fabs(c) > 0.8 * l->width ||
        fabs(t) > MIL_TABLET_MOST || e->length < 2 * l->step)
        return;
    double sign = turned < 0 ? -1 : 1, w = e->length * e->length;
    s->dx += sign * -e->dy * w;
    s->dy += sign * e->dx * w;
    s->length += e->length;
    s->across[c > 0] += w * across(e, l->dx, l->dy);
    s->weight[c > 0] += w;
}

/* Turns the row about the middle of the edges seen. */
static void turn_row(lattice *l, double dx, double dy) {
    double t = (l->first + l->last) / 2.0 * l->step, at = l->t0 + t;
    double x = at * l->dx - l->across * l->dy, y = at * l->dy + l->across * l->dx;
    l->dx = dx;
    l->dy = dy;
    l->t0 = x * dx + y * dy - t;
    l->across = -x * dy + y * dx;
}

/* Direction and middle line from the long sides, if they show. */
static void follow_sides(const mil_edge *edges, size_t count, lattice *l) {
    for (int turn = 0; turn < 2; turn++) {
        sides s = {0};
        for (size_t i = 0; i < count; i++)
            add_side(l, &edges[i], &s);
        if (s.length < 3 * l->step)
            return;
        double size = hypot(s.dx, s.dy);
        turn_row(l, s.dx / size, s.dy / size);
        if (turn == 0 || !(s.weight[0] > 0 && s.weight[1] > 0))
            continue;
        double low = s.across[0] / s.weight[0], high = s.across[1] / s.weight[1];
        l->across = (low + high) / 2;
        l->width = high - low;
    }
}

static void best_lattice(const mil_edge *edges, size_t count, size_t steps, lattice *best) {
    *best = (lattice){0};
    for (size_t a = 0; a < count; a++)
        for (size_t b = 0; b < count; b++)
            for (int parts = 1; a != b && parts <= 3; parts++) {
                lattice l;
                if (!pair_lattice(&edges[a], &edges[b], parts, &l))
                    break; /* further parts are smaller still */
                rate(edges, count, steps, &l);
                if (l.score > best->score)
                    *best = l;
            }
    for (int turn = 0; turn < 3 && best->score > 0; turn++)
        refine(edges, count, steps, best);
    if (best->score > 0)
        follow_sides(edges, count, best);
}

/* Mean L* across the row's middle at a place along it; NaN outside the map. */
static double level(const mil_map *m, const lattice *l, double t) {
    double sum = 0, n = 0;
    for (double c = -0.3 * l->width; c <= 0.3 * l->width; c += 0.5) {
        double x = t * l->dx - (l->across + c) * l->dy, y = t * l->dy + (l->across + c) * l->dx;
        if (!(x >= 0 && y >= 0 && x < m->nx && y < m->ny))
            return NAN;
        sum += m->L[(size_t)y * (size_t)m->nx + (size_t)x];
        n++;
    }
    return sum / n;
}

/* How well the row of steps starts at t: clear differences at either end, and inside
 * levels that are even and do not fall. */
static double rate_start(const mil_map *m, const lattice *l, double t, size_t steps,
                         double *clear) {
    double score = 0, last = NAN;
    *clear = 0;
    for (size_t i = 0; i < steps; i++) {
        double from = level(m, l, t + ((double)i + 0.25) * l->step);
        double to = level(m, l, t + ((double)i + 0.75) * l->step);
        if (isnan(from) || isnan(to))
            return -INFINITY;
        score -= fabs(to - from);
        if (i > 0)
            score -= 2 * fmax(last - from, 0);
        last = to;
    }
    for (int end = 0; end < 2; end++) {
        double at = t + (end ? (double)steps : 0) * l->step;
        double inside = level(m, l, at + (end ? -0.25 : 0.25) * l->step);
        double outside = level(m, l, at + (end ? 0.25 : -0.25) * l->step);
        double differs = isnan(outside) ? 0 : fabs(inside - outside);
        *clear = fmax(*clear, differs);
        score += fmin(differs, 20);
    }
    return score;
}

mil_row_fault mil_row_find(const mil_map *map, const mil_edge *edges, size_t edge_count,
                           size_t count, mil_row *row) {
    lattice l;
    best_lattice(edges, edge_count, count, &l);
    if (l.score < 3)
        return MIL_ROW_NONE;
    double best = -INFINITY, clear = 0, start = 0;
    /* The first edge seen is edge 1 of the row, or 2, or ... */
    for (int skip = 1; skip + l.last - l.first <= (int)count - 1; skip++) {
        double differs, t = l.t0 + (l.first - skip) * l.step;
        double score = rate_start(map, &l, t, count, &differs);
        if (score > best) {
            best = score;
            clear = differs;
            start = t;
        }
    }
    if (!(clear > CLEAR_END))
        return MIL_ROW_NO_END;
    double t = start + l.step / 2;
    *row = (mil_row){.x = t * l.dx - l.across * l.dy,
                     .y = t * l.dy + l.across * l.dx,
                     .dx = l.dx,
                     .dy = l.dy,
                     .step = l.step,
                     .width = l.width};
    return MIL_ROW_FOUND;
}
