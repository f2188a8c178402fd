/* The beads' code: a message of 49 bits laid over the lattice again and again,
 * each bit turned by a fixed pattern that tells one place from another. */
#include "print/target_parts.h"

#include <math.h>

enum { SIDE = 7, BITS = SIDE * SIDE, CHECK = 11, BODY = BITS - CHECK };

/* Widths of the message's fields, in order; together BODY. */
static const int width[] = {2, 2, 6, 6, 6, 1, 3, 4, 4, 4};
enum { FIELDS = sizeof width / sizeof *width };

/* Steele, Lea & Flood 2014 (SplitMix64), its finaliser: constants from memory. */
static uint64_t mixed(uint64_t z) {
    z += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

uint64_t mil_target_random(uint64_t *state) {
    uint64_t value = mixed(*state);
    *state += 0x9e3779b97f4a7c15u;
    return value;
}

static bool place_bit(int column, int row) {
    uint64_t at = (uint64_t)row * 256 + (uint64_t)column;
    return mixed(at ^ 0x6d696c6f7269u) >> 63; /* "milori" */
}

/* A cyclic check of 11 bits by x^11 + x^9 + x^8 + x^7 + x^2 + 1 (Koopman's tables,
 * from memory). */
static unsigned check_of(uint64_t body) {
    unsigned rest = 0x5a5;
    for (int i = BODY - 1; i >= 0; i--) {
        unsigned top = (rest >> (CHECK - 1)) & 1;
        rest = (rest << 1 & ((1u << CHECK) - 1)) ^ ((top ^ (body >> i & 1)) ? 0x385u : 0);
    }
    return rest;
}

static void fields_of(const mil_target *t, unsigned field[FIELDS]) {
    const unsigned values[FIELDS] = {MIL_TARGET_VERSION,
                                     (unsigned)t->kind,
                                     (unsigned)t->columns,
                                     (unsigned)t->rows,
                                     (unsigned)t->levels,
                                     t->curved,
                                     t->seed,
                                     (unsigned)t->ink[0],
                                     (unsigned)t->ink[1],
                                     (unsigned)t->ink[2]};
    for (int i = 0; i < FIELDS; i++)
        field[i] = values[i];
    if (t->kind == MIL_TARGET_TIME)
        field[FIELDS - 1] = (unsigned)t->half_stops;
}

uint64_t mil_target_message(const mil_target *target) {
    unsigned field[FIELDS];
    uint64_t body = 0;
    fields_of(target, field);
    for (int i = 0; i < FIELDS; i++)
        body = body << width[i] | (field[i] & ((1u << width[i]) - 1));
    return body << CHECK | check_of(body);
}

static bool sensible(const mil_target *t) {
    return t->columns >= MIL_TARGET_LEAST && t->rows >= MIL_TARGET_LEAST && t->levels >= 2 &&
           (t->kind != MIL_TARGET_TIME || t->half_stops == 1 || t->half_stops == 2);
}

bool mil_target_of_message(uint64_t message, mil_target *target) {
    uint64_t body = message >> CHECK;
    if (check_of(body) != (message & ((1u << CHECK) - 1)))
        return false;
    int field[FIELDS];
    for (int i = FIELDS - 1; i >= 0; i--) {
        field[i] = (int)(body & ((1u << width[i]) - 1));
        body >>= width[i];
    }
    if (field[0] != MIL_TARGET_VERSION || field[1] > MIL_TARGET_TONE)
        return false;
    *target = (mil_target){.kind = (mil_target_kind)field[1],
                           .columns = field[2],
                           .rows = field[3],
                           .levels = field[4],
                           .curved = field[5] != 0,
                           .seed = (unsigned)field[6],
                           .ink = {field[7], field[8], field[9]}};
    if (target->kind == MIL_TARGET_TIME) {
        target->half_stops = field[9];
        target->ink[2] = 0;
    }
    return sensible(target);
}

bool mil_target_bit(uint64_t message, int column, int row) {
    int at = row % SIDE * SIDE + column % SIDE;
    return (message >> at & 1) != place_bit(column, row);
}

bool mil_target_pierced(const mil_target *target, int column, int row) {
    return mil_target_bit(mil_target_message(target), column, row);
}

/* ---- the other way ------------------------------------------------------ */

enum { WAYS = 8, TRIED = 12, LOST = 4 };
/* Beads must agree this far; votes of a bit that may be wrong, and of one that is lost. */
static const double AGREE = 0.7, WEAK = 2, NONE = 0.3;

/* One of the eight ways round and where it puts the lattice's origin. */
typedef struct guess {
    int way, column, row;
    double score;
} guess;

static void turn(int way, int a, int b, int *column, int *row) {
    int x = way & 4 ? b : a, y = way & 4 ? a : b;
    *column = way & 1 ? -x : x;
    *row = way & 2 ? -y : y;
}

/* place_bit() of every bead that a chart can have. */
typedef struct places {
    bool bit[MIL_TARGET_MOST + 1][MIL_TARGET_MOST + 1];
} places;

static void know_places(places *known) {
    for (int row = 0; row <= MIL_TARGET_MOST; row++)
        for (int column = 0; column <= MIL_TARGET_MOST; column++)
            known->bit[row][column] = place_bit(column, row);
}

/* Votes for each bit of the message; the score is how far they agree. */
static double votes(const places *known, const mil_bead *bead, size_t count, const guess *g,
                    double vote[BITS]) {
    double agree = 0;
    for (int i = 0; i < BITS; i++)
        vote[i] = 0;
    for (size_t i = 0; i < count; i++) {
        int column, row;
        turn(g->way, bead[i].column, bead[i].row, &column, &row);
        column += g->column;
        row += g->row;
        double sign = known->bit[row][column] ? -1 : 1;
        vote[row % SIDE * SIDE + column % SIDE] += sign * bead[i].pierced;
    }
    for (int i = 0; i < BITS; i++)
        agree += vote[i] < 0 ? -vote[i] : vote[i];
    return agree;
}

/* Keeps the best ones, best first. */
static void keep(guess best[TRIED], const guess *g) {
    int at = TRIED;
    while (at > 0 && best[at - 1].score < g->score)
        at--;
    if (at == TRIED)
        return;
    for (int i = TRIED - 1; i > at; i--)
        best[i] = best[i - 1];
    best[at] = *g;
}

static void extent(const mil_bead *bead, size_t count, int way, int low[2], int high[2]) {
    for (size_t i = 0; i < count; i++) {
        int at[2];
        turn(way, bead[i].column, bead[i].row, &at[0], &at[1]);
        for (int k = 0; k < 2; k++) {
            low[k] = i && low[k] < at[k] ? low[k] : at[k];
            high[k] = i && high[k] > at[k] ? high[k] : at[k];
        }
    }
}

static void guess_all(const places *known, const mil_bead *bead, size_t count, guess best[TRIED]) {
    double vote[BITS];
    for (int way = 0; way < WAYS; way++) {
        int low[2], high[2];
        extent(bead, count, way, low, high);
        for (int row = 0; row + high[1] - low[1] <= MIL_TARGET_MOST; row++)
            for (int column = 0; column + high[0] - low[0] <= MIL_TARGET_MOST; column++) {
                guess g = {.way = way, .column = column - low[0], .row = row - low[1]};
                g.score = votes(known, bead, count, &g, vote);
                keep(best, &g);
            }
    }
}

/* Whether hardly any bead lies off the chart that they are said to be of. */
static bool holds(const mil_target *t, const mil_bead *bead, size_t count, const guess *g) {
    size_t off = 0;
    for (size_t i = 0; i < count; i++) {
        int column, row;
        turn(g->way, bead[i].column, bead[i].row, &column, &row);
        column += g->column;
        row += g->row;
        off += column < 0 || row < 0 || column > t->columns || row > t->rows;
    }
    return off * 50 <= count;
}

static bool reads(uint64_t message, const mil_bead *bead, size_t count, const guess *g,
                  mil_target *target) {
    return mil_target_of_message(message, target) && holds(target, bead, count, g);
}

/* The bits that no bead speaks for, at most LOST of them. */
static int lost_bits(const double vote[BITS], int lost[LOST]) {
    int n = 0;
    for (int i = 0; i < BITS && n < LOST; i++)
        if (fabs(vote[i]) < NONE)
            lost[n++] = i;
    return n;
}

/* The message as voted, with either value of bits that are lost; if that is none,
 * with one bit turned that no more than a bead or two speak for. */
static bool message_of(const double vote[BITS], const mil_bead *bead, size_t count, const guess *g,
                       mil_target *target) {
    uint64_t message = 0;
    int lost[LOST], n = lost_bits(vote, lost);
    for (int i = 0; i < BITS; i++)
        message |= (uint64_t)(vote[i] > 0) << i;
    for (int turned = -1; turned < BITS; turned++) {
        if (turned >= 0 && fabs(vote[turned]) >= WEAK)
            continue;
        for (unsigned values = 0; values < 1u << n; values++) {
            uint64_t tried = turned < 0 ? message : message ^ (uint64_t)1 << turned;
            for (int k = 0; k < n; k++)
                tried ^= (uint64_t)(values >> k & 1) << lost[k];
            if (reads(tried, bead, count, g, target))
                return true;
        }
    }
    return false;
}

/* What would agree wholly. */
static double whole(const mil_bead *bead, size_t count) {
    double sum = 0;
    for (size_t i = 0; i < count; i++)
        sum += fabs(bead[i].pierced);
    return sum;
}

bool mil_target_decode(mil_bead *bead, size_t count, mil_target *target, bool *mirrored) {
    guess best[TRIED] = {{0}};
    places known;
    double vote[BITS];
    if (count < BITS * 2 / 3)
        return false;
    know_places(&known);
    guess_all(&known, bead, count, best);
    if (best[0].score < AGREE * whole(bead, count))
        return false;
    for (int k = 0; k < TRIED && best[k].score > 0.9 * best[0].score; k++) {
        votes(&known, bead, count, &best[k], vote);
        if (!message_of(vote, bead, count, &best[k], target))
            continue;
        for (size_t i = 0; i < count; i++) {
            int column, row;
            turn(best[k].way, bead[i].column, bead[i].row, &column, &row);
            bead[i].column = column + best[k].column;
            bead[i].row = row + best[k].row;
        }
        *mirrored = mil_target_is_mirrored(bead, count);
        return true;
    }
    return false;
}
