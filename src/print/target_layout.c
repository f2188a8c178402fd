/* Which ink every cell of a chart holds. */
#include <math.h>
#include <string.h>

#include "print/target_parts.h"

/* mm between the film's edge and the outer beads: words, fingers, brush ends. */
static const double BESIDE = 11, ABOVE = 17, BELOW = 17;

enum {
    LEAST_REPEATS = 4,
    MOST_REPEATS = 16,
    LEAST_LEVELS = 9,
    MOST_STRIPS = 12,
    MANY_RAMPS = 13,
    FEW_RAMPS = 7
};

static const char *const names[] = {"time", "ink", "tone"};

const char *mil_target_kind_name(mil_target_kind kind) {
    return names[kind];
}

bool mil_target_kind_of(const char *name, mil_target_kind *kind) {
    for (int i = 0; i < 3; i++)
        if (strcmp(name, names[i]) == 0) {
            *kind = (mil_target_kind)i;
            return true;
        }
    return false;
}

/* Repeats that bring a level's mean to 0.4 L*. */
static int repeats_for(double noise) {
    double wanted = ceil(noise / 0.4 * (noise / 0.4));
    return wanted < LEAST_REPEATS  ? LEAST_REPEATS
           : wanted > MOST_REPEATS ? MOST_REPEATS
                                   : (int)wanted;
}

static int tone_levels(int cells, double noise) {
    int levels = cells / repeats_for(noise);
    levels = levels < LEAST_LEVELS ? LEAST_LEVELS : levels;
    return levels > MIL_TARGET_MOST ? MIL_TARGET_MOST : levels;
}

/* Strips of two rows where there is room, else of one. */
static int strips_of(int rows) {
    int strips = rows >= 14 ? rows / 2 : rows;
    return strips > MOST_STRIPS ? MOST_STRIPS : strips;
}

static int ramps_of(int rows) {
    return rows >= MANY_RAMPS ? MANY_RAMPS : FEW_RAMPS;
}

milori_status mil_target_plan(milori_context *ctx, const mil_target_wish *wish,
                              mil_target *target) {
    int columns = (int)floor((wish->film_mm[0] - 2 * BESIDE) / MIL_TARGET_PITCH);
    int rows = (int)floor((wish->film_mm[1] - ABOVE - BELOW) / MIL_TARGET_PITCH);
    columns = columns > MIL_TARGET_MOST ? MIL_TARGET_MOST : columns;
    rows = rows > MIL_TARGET_MOST ? MIL_TARGET_MOST : rows;
    if (columns < MIL_TARGET_LEAST || rows < MIL_TARGET_LEAST)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "a film of %.4g x %.4g mm is too small for a chart; take one of %.4g x "
                        "%.4g mm or more",
                        wish->film_mm[0], wish->film_mm[1],
                        2 * BESIDE + MIL_TARGET_LEAST * MIL_TARGET_PITCH,
                        ABOVE + BELOW + MIL_TARGET_LEAST * MIL_TARGET_PITCH);
    *target = (mil_target){.kind = wish->kind, .columns = columns, .seed = wish->seed};
    target->curved = wish->kind == MIL_TARGET_TONE && wish->curved;
    target->rows = wish->kind == MIL_TARGET_INK ? rows - rows % ramps_of(rows) : rows;
    if (wish->kind == MIL_TARGET_TONE) {
        target->levels = tone_levels(columns * rows, wish->noise);
        memcpy(target->ink, wish->ink, sizeof target->ink);
    } else if (wish->kind == MIL_TARGET_INK) {
        target->levels = columns;
    } else {
        target->levels = strips_of(rows);
        target->half_stops = wish->half_stops;
    }
    return MILORI_OK;
}

void mil_target_origin(const mil_target *target, const double film_mm[2], double origin[2]) {
    origin[0] = (film_mm[0] - target->columns * MIL_TARGET_PITCH) / 2;
    origin[1] = (film_mm[1] - target->rows * MIL_TARGET_PITCH + ABOVE - BELOW) / 2;
}

/* Which level stands at a place of its block: every block holds each level once,
 * in an order of its own. */
static int shuffled(const mil_target *t, int block, int place) {
    int order[MIL_TARGET_MOST + 1];
    uint64_t state = ((uint64_t)t->seed << 32) + (uint64_t)block;
    state = mil_target_random(&state);
    for (int i = 0; i < t->levels; i++)
        order[i] = i;
    for (int i = t->levels - 1; i > 0; i--) {
        int k = (int)(mil_target_random(&state) % (uint64_t)(i + 1));
        int swap = order[i];
        order[i] = order[k];
        order[k] = swap;
    }
    return order[place];
}

static mil_target_cell tone_cell(const mil_target *t, int column, int row) {
    int at = row * t->columns + column;
    int block = at / t->levels;
    return (mil_target_cell){.ink = (double)shuffled(t, block, at % t->levels) / (t->levels - 1),
                             .group = block,
                             .patch = true};
}

/* Rising to the right in the first rows, to the left in their repeats. */
static mil_target_cell ink_cell(const mil_target *t, int column, int row) {
    int ramps = ramps_of(t->rows);
    int step = row / ramps % 2 ? t->columns - 1 - column : column;
    return (mil_target_cell){
        .ink = (double)step / (t->levels - 1), .group = row % ramps, .patch = true};
}

static mil_target_cell time_cell(const mil_target *t, int column, int row) {
    int strip = row / (t->rows / t->levels);
    bool side = column == 0 || column == t->columns - 1;
    strip = strip < t->levels ? strip : t->levels - 1;
    return (mil_target_cell){.group = strip, .patch = !side, .side = side};
}

mil_target_cell mil_target_cell_at(const mil_target *target, int column, int row) {
    if (target->kind == MIL_TARGET_TONE)
        return tone_cell(target, column, row);
    if (target->kind == MIL_TARGET_INK)
        return ink_cell(target, column, row);
    return time_cell(target, column, row);
}

int mil_target_groups(const mil_target *t) {
    if (t->kind == MIL_TARGET_TONE)
        return (t->columns * t->rows + t->levels - 1) / t->levels;
    return t->kind == MIL_TARGET_INK ? ramps_of(t->rows) : t->levels;
}

/* The inks' hues as RGB drivers have them: black, then round the circle. */
static void ramp_ink(int ramps, int ramp, int ink[3]) {
    static const int circle[12][3] = {{15, 0, 0}, {15, 8, 0}, {15, 15, 0}, {8, 15, 0},
                                      {0, 15, 0}, {0, 15, 8}, {0, 15, 15}, {0, 8, 15},
                                      {0, 0, 15}, {8, 0, 15}, {15, 0, 15}, {15, 0, 8}};
    static const int black[3] = {0, 0, 0};
    int step = ramps == MANY_RAMPS ? 1 : 2;
    memcpy(ink, ramp == 0 ? black : circle[(ramp - 1) * step], sizeof black);
}

void mil_target_group_ink(const mil_target *t, int group, int ink[3]) {
    if (t->kind == MIL_TARGET_INK)
        ramp_ink(ramps_of(t->rows), group, ink);
    else
        memcpy(ink, t->ink, sizeof t->ink);
}

void mil_target_group_rgb(const mil_target *target, int group, double rgb[3]) {
    int ink[3];
    mil_target_group_ink(target, group, ink);
    for (int c = 0; c < 3; c++)
        rgb[c] = ink[c] / 15.0;
}
