/* The sides of a frame to a few hundredths of a millimetre. A cell that a side crosses holds the
 * light of both its parts, so that how much of it is exposed tells where the side runs; pieces of
 * all sides are then fitted together, at right angles. */
#include "sheet/frame_private.h"

#include <math.h>
#include <stdlib.h>

static const double PI = 3.14159265358979323846;
static const double CORNER_MM = 1.2; /* rounded corners are left out */
static const double BLUR_MM = 0.08;  /* of a gate's shadow and a scanner, standard deviation */
static const double CLEAR_MM = 0.12; /* beyond half a cell: clear of the side */
static const double OUTSIDE_MM = 0.6;
static const double SLOPED = 0.5;            /* share of the picture's slope that is believed */
static const double DOUBT[2] = {0.75, 0.25}; /* of what it changes inwards, and along the side */
/* Deviation that a side's pieces have anyway (a rough gate); wide while the place is rough. */
static const double ROUGH_MM[8] = {0.12, 0.08, 0.05, 0.03, 0.03, 0.03, 0.03, 0.03};
static const double LEAST_STEP = 2; /* in units of noise */
static const double WINDOW = 3;     /* deviations beyond which a piece counts nothing */
static const double FAR_MM = 0.6, FAR_TURN = 0.02; /* more is no refinement */
static const double LINKED = 3;                    /* so many pieces share what disturbs them */
enum { ROUNDS = 8, LEAST_PIECES = 6 };

/* A piece of a side, one cell long. Levels are values of the rim, slopes for a cell inwards. */
typedef struct piece {
    double sum[3], at[3], count[3]; /* first cells clear inside, next ones, those outside */
    double in, out, slope;          /* levels at the side itself, slope inside */
    double pull, stiff;             /* where the crossed cells want the side to be, and how much */
    double along, place, var;       /* a turn by one radian moves place by -along; cells */
    bool good;
} piece;

typedef struct fit {
    const mil_rim *rim;
    mil_sides sides;
    bool seen[4];
    piece *piece[4];
    int count[4];
    double blur, box,
        spread; /* cells: Gaussian and box that make a side's profile, and all of it */
} fit;

static double bell(double x) {
    return exp(-x * x / 2) / sqrt(2 * PI);
}

static double below(double x) {
    return 0.5 * erfc(-x / sqrt(2));
}

/* Integral of below(). */
static double ramp(double x) {
    return x * below(x) + bell(x);
}

/* The exposed share of a cell whose centre lies in inside, and its slope. */
static double covered(const fit *f, double in, double *slope) {
    double a = (in + f->box / 2) / f->blur, b = (in - f->box / 2) / f->blur;
    *slope = (below(a) - below(b)) / f->box;
    return (ramp(a) - ramp(b)) * f->blur / f->box;
}

/* The kernel of a square cell across a side: a box and a narrower one, which passes for blur. */
static void set_profile(fit *f) {
    double c = fabs(cos(f->sides.angle)), s = fabs(sin(f->sides.angle)),
           blur = BLUR_MM / f->rim->mm;
    f->box = fmax(c, s);
    f->blur = sqrt(blur * blur + fmin(c, s) * fmin(c, s) / 12);
    f->spread = sqrt(f->box * f->box / 12 + f->blur * f->blur);
}

/* Which piece of side k a cell belongs to, or NULL. */
static piece *piece_of(const fit *f, int k, const mil_rim_cell *cell, double *in) {
    double along, low = CORNER_MM / f->rim->mm - f->sides.offset[k % 2 ? MIL_TOP : MIL_LEFT];
    mil_sides_place(&f->sides, k, cell->x, cell->y, in, &along);
    int i = (int)floor(along - low);
    return i < 0 || i >= f->count[k] ? NULL : &f->piece[k][i];
}

/* Clears the pieces of side k and sums the cells on both sides of it. */
static void sum_levels(fit *f, int k) {
    double mm = f->rim->mm, clear = 0.5 + CLEAR_MM / mm, in;
    double low = CORNER_MM / mm - f->sides.offset[k % 2 ? MIL_TOP : MIL_LEFT];
    double high = f->sides.offset[k % 2 ? MIL_BOTTOM : MIL_RIGHT] - CORNER_MM / mm;
    f->count[k] = high > low ? (int)(high - low) : 0;
    for (int i = 0; i < f->count[k]; i++) {
        double sign = k == MIL_TOP || k == MIL_RIGHT ? 1 : -1;
        f->piece[k][i] = (piece){.along = sign * (low + i + 0.5)};
    }
    for (size_t i = 0; i < f->rim->count; i++) {
        const mil_rim_cell *cell = &f->rim->cell[i];
        piece *p = piece_of(f, k, cell, &in);
        int band = in > clear + 1 ? 1 : in > 0 ? 0 : 2;
        if (!p || fabs(in) <= clear || in > clear + 2 || in < -clear - OUTSIDE_MM / mm)
            continue;
        p->sum[band] += cell->value;
        p->at[band] += in;
        p->count[band]++;
    }
}

/* Levels of both sides; outside, where nothing changes fast, of three pieces together. */
static void set_levels(fit *f, int k) {
    for (int i = 0; i < f->count[k]; i++) {
        piece *p = &f->piece[k][i];
        double out = 0, n = 0;
        for (int j = i > 0 ? i - 1 : 0; j <= i + 1 && j < f->count[k]; j++) {
            out += f->piece[k][j].sum[2];
            n += f->piece[k][j].count[2];
        }
        p->good = n > 0 && p->count[0] > 0 && p->count[1] > 0;
        if (!p->good)
            continue;
        double near = p->sum[0] / p->count[0], next = p->sum[1] / p->count[1];
        double at = p->at[0] / p->count[0];
        p->slope = (next - near) / (p->at[1] / p->count[1] - at);
        p->in = near - SLOPED * p->slope * at;
        p->out = out / n;
    }
}

/* How far off the crossed cells put the side. */
static void pull_pieces(fit *f, int k) {
    double clear = 0.5 + CLEAR_MM / f->rim->mm, in, rise;
    for (size_t i = 0; i < f->rim->count; i++) {
        const mil_rim_cell *cell = &f->rim->cell[i];
        piece *p = piece_of(f, k, cell, &in);
        if (!p || !p->good || fabs(in) > clear)
            continue;
        double step = p->in - p->out, share = covered(f, in, &rise);
        double value = p->out + step * share + SLOPED * p->slope * f->spread * ramp(in / f->spread);
        p->pull += step * rise * (cell->value - value);
        p->stiff += step * rise * step * rise;
    }
}

/* Places of the pieces and how far they are to be trusted: little where the picture changes near
 * the side, since its level at the side itself is then a guess. */
static void set_places(fit *f, int k, double rough) {
    int n = f->count[k];
    for (int i = 0; i < n; i++) {
        piece *p = &f->piece[k][i];
        const piece *a = i > 0 ? p - 1 : p, *b = i < n - 1 ? p + 1 : p;
        double along = a->good && b->good && a != b ? fabs(b->in - a->in) / (double)(b - a) : 0;
        double step = p->in - p->out;
        p->good = p->good && step > LEAST_STEP * f->rim->noise && p->stiff > 0;
        if (!p->good)
            continue;
        double doubt = DOUBT[0] * fabs(p->slope) + DOUBT[1] * along + f->rim->noise;
        p->place = p->pull / p->stiff;
        p->var = doubt * doubt / (step * step) + rough * rough;
    }
}

/* Weighted sums over one side's pieces. */
typedef struct side_sum {
    double all, along, place; /* sum of weights, means */
    double top, bottom;       /* of the slope about the means */
    double misfit;            /* weighted square of residuals over their variances */
    int used;
} side_sum;

static double weight_of(const piece *p, double offset, double turn) {
    double e = (p->place - offset + turn * p->along) / (WINDOW * sqrt(p->var));
    return fabs(e) < 1 ? (1 - e * e) * (1 - e * e) / p->var : 0;
}

static side_sum sum_side(const fit *f, int k, double offset, double turn) {
    side_sum s = {0};
    for (int i = 0; i < f->count[k]; i++) {
        const piece *p = &f->piece[k][i];
        double w = p->good ? weight_of(p, offset, turn) : 0;
        double e = p->place - offset + turn * p->along;
        if (w <= 0)
            continue;
        s.all += w;
        s.along += w * p->along;
        s.place += w * p->place;
        s.misfit += w * e * e;
        s.used++;
    }
    s.along /= s.all > 0 ? s.all : 1;
    s.place /= s.all > 0 ? s.all : 1;
    for (int i = 0; i < f->count[k]; i++) {
        const piece *p = &f->piece[k][i];
        double w = p->good ? weight_of(p, offset, turn) : 0, d = p->along - s.along;
        s.top -= w * d * (p->place - s.place);
        s.bottom += w * d * d;
    }
    return s;
}

/* What one round gave: moves of the sides and the turn, with their variances. */
typedef struct move {
    double offset[4], turn;
    double offset_var[4], turn_var;
    int used[4];
} move;

/* Offsets and one turn for all pieces: least squares, reweighted. */
static void solve(const fit *f, move *m) {
    side_sum s[4];
    *m = (move){0};
    for (int round = 0; round < 12; round++) {
        double top = 0, bottom = 0, misfit = 0, all = 0;
        for (int k = 0; k < 4; k++) {
            s[k] = sum_side(f, k, m->offset[k], m->turn);
            m->used[k] = s[k].used;
            if (!f->seen[k] || s[k].used < LEAST_PIECES)
                continue;
            top += s[k].top;
            bottom += s[k].bottom;
            misfit += s[k].misfit;
            all += s[k].used;
        }
        m->turn = bottom > 0 ? top / bottom : 0;
        double scale = LINKED * fmax(1, all > 0 ? misfit / all : 1);
        m->turn_var = bottom > 0 ? scale / bottom : 1;
        for (int k = 0; k < 4; k++)
            if (s[k].used >= LEAST_PIECES) {
                m->offset[k] = s[k].place + m->turn * s[k].along;
                m->offset_var[k] = scale / s[k].all + m->turn_var * s[k].along * s[k].along;
            }
    }
}

/* Applies a move; a side that is not seen goes with the one opposite. */
static void apply(fit *f, const move *m) {
    double size[2];
    for (int axis = 0; axis < 2; axis++)
        size[axis] = f->sides.offset[axis] + f->sides.offset[axis + 2];
    f->sides.angle += m->turn;
    for (int k = 0; k < 4; k++)
        if (f->seen[k])
            f->sides.offset[k] += m->offset[k];
    for (int k = 0; k < 4; k++)
        if (!f->seen[k] && f->seen[(k + 2) % 4])
            f->sides.offset[k] = size[k % 2] - f->sides.offset[(k + 2) % 4];
}

static void sides_of(const mil_grid *g, const mil_rect *r, mil_sides *s) {
    double px = g->cell;
    *s = (mil_sides){.cx = r->cx / px,
                     .cy = r->cy / px,
                     .angle = r->angle,
                     .offset = {r->h / 2 / px, r->w / 2 / px, r->h / 2 / px, r->w / 2 / px}};
}

static void rect_of(const mil_grid *g, const mil_sides *s, mil_rect *r) {
    double c = cos(s->angle), v = sin(s->angle), px = g->cell;
    double a = (s->offset[MIL_RIGHT] - s->offset[MIL_LEFT]) / 2;
    double b = (s->offset[MIL_BOTTOM] - s->offset[MIL_TOP]) / 2;
    *r = (mil_rect){.cx = (s->cx + a * c - b * v) * px,
                    .cy = (s->cy + a * v + b * c) * px,
                    .w = (s->offset[MIL_LEFT] + s->offset[MIL_RIGHT]) * px,
                    .h = (s->offset[MIL_TOP] + s->offset[MIL_BOTTOM]) * px,
                    .angle = s->angle};
}

/* Rounds until the sides rest; false if too little shows or they run away. */
static bool settle(fit *f, move *last) {
    const mil_sides start = f->sides;
    for (int round = 0; round < ROUNDS; round++) {
        int sides = 0;
        set_profile(f);
        for (int k = 0; k < 4; k++) {
            f->count[k] = 0;
            if (!f->seen[k])
                continue;
            sum_levels(f, k);
            set_levels(f, k);
            pull_pieces(f, k);
            set_places(f, k, ROUGH_MM[round] / f->rim->mm);
        }
        solve(f, last);
        apply(f, last);
        for (int k = 0; k < 4; k++) {
            sides += f->seen[k] && last->used[k] >= LEAST_PIECES;
            if (fabs(f->sides.offset[k] - start.offset[k]) * f->rim->mm > FAR_MM)
                return false;
        }
        if (sides < 2 || fabs(f->sides.angle - start.angle) > FAR_TURN)
            return false;
    }
    return true;
}

/* A corner's: both its sides', each at its end, in the mean over the sides that were fitted. */
static void sigmas(const fit *f, const move *m, const mil_grid *g, mil_fitted *fitted) {
    double sum = 0;
    int sides = 0;
    for (int k = 0; k < 4; k++)
        if (f->seen[k] && m->used[k] >= LEAST_PIECES) {
            double half = (f->sides.offset[(k + 1) % 4] + f->sides.offset[(k + 3) % 4]) / 2;
            sum += m->offset_var[k] + m->turn_var * half * half;
            sides++;
        }
    fitted->corner_sigma = sqrt(2 * sum / sides) * g->cell;
    fitted->angle_sigma = sqrt(m->turn_var);
}

milori_status mil_frame_fit(milori_context *ctx, const mil_grid *g, const mil_rect *outline,
                            const bool seen[4], mil_rect *frame, mil_fitted *fitted) {
    fit f = {0};
    mil_rim rim;
    *fitted = (mil_fitted){0};
    sides_of(g, frame, &f.sides);
    milori_status status = mil_rim_make(ctx, g, outline, &f.sides, seen, &rim);
    if (status != MILORI_OK)
        return status;
    size_t room = (size_t)(fmax(frame->w, frame->h) / g->cell + 8);
    piece *pieces = mil_alloc(ctx, 4 * room, sizeof *pieces);
    status = pieces ? MILORI_OK : MILORI_ERR_MEMORY;
    f.rim = &rim;
    for (int k = 0; k < 4; k++) {
        f.seen[k] = seen[k];
        f.piece[k] = pieces + (size_t)k * room;
    }
    move last;
    if (status == MILORI_OK && rim.count && settle(&f, &last)) {
        fitted->good = true;
        sigmas(&f, &last, g, fitted);
        rect_of(g, &f.sides, frame);
    }
    free(pieces);
    mil_rim_free(&rim);
    return status;
}
