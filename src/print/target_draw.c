/* The chart on its film: patches, beads, words, all as the print will read. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "print/target_draw.h"

static const uint16_t clear[3] = {65535, 65535, 65535};
static const double RIM_MM = 0.4;
static const double WORDS_MM = 2.6, SMALL_MM = 2, NUMBER_MM = 3.6;

void mil_target_code(const mil_drawing *d, int group, double ink, uint16_t code[3]) {
    double rgb[3];
    mil_target_group_rgb(d->target, group, rgb);
    for (int c = 0; c < 3; c++)
        code[c] = (uint16_t)floor((1 - ink * (1 - rgb[c])) * 65535 + 0.5);
}

/* Px of a place on the chart. */
static int64_t px(const mil_drawing *d, int axis, double mm) {
    return (int64_t)floor((d->origin[axis] + mm) * d->px_mm + 0.5);
}

static void block(const mil_drawing *d, double x0, double y0, double x1, double y1,
                  const uint16_t *code) {
    int64_t left = px(d, 0, x0), top = px(d, 1, y0);
    mil_canvas_fill(d->canvas, left, top, (uint32_t)(px(d, 0, x1) - left),
                    (uint32_t)(px(d, 1, y1) - top), code);
}

static void patches(const mil_drawing *d) {
    const double half = MIL_TARGET_PATCH / 2, pitch = MIL_TARGET_PITCH;
    for (int row = 0; row < d->target->rows; row++)
        for (int column = 0; column < d->target->columns; column++) {
            mil_target_cell cell = mil_target_cell_at(d->target, column, row);
            double x = (column + 0.5) * pitch, y = (row + 0.5) * pitch;
            uint16_t code[3];
            if (!cell.patch)
                continue;
            mil_target_code(d, cell.group, mil_process_ink(d->process, cell.ink), code);
            block(d, x - half, y - half, x + half, y + half, code);
        }
}

/* A disc, perhaps with a hole: cover by 4 x 4 points a px. */
static milori_status bead_mask(const mil_drawing *d, bool pierced, mil_mask *mask) {
    double outer = MIL_TARGET_BEAD / 2 * d->px_mm;
    double inner = pierced ? MIL_TARGET_HOLE / 2 * d->px_mm : 0;
    uint32_t side = 2 * (uint32_t)ceil(outer) + 2;
    milori_status status = mil_mask_new(d->ctx, side, side, mask);
    for (uint32_t y = 0; y < side && status == MILORI_OK; y++)
        for (uint32_t x = 0; x < side; x++) {
            int in = 0;
            for (int k = 0; k < 16; k++) {
                double dx = x + (k % 4 + 0.5) / 4 - side / 2.0;
                double dy = y + (k / 4 + 0.5) / 4 - side / 2.0;
                double r = sqrt(dx * dx + dy * dy);
                in += r < outer && r >= inner;
            }
            mask->cover[(size_t)y * side + x] = (uint8_t)(in * 255 / 16);
        }
    return status;
}

static milori_status beads(const mil_drawing *d) {
    uint64_t message = mil_target_message(d->target);
    mil_mask mask[2] = {{0}, {0}};
    milori_status status = bead_mask(d, false, &mask[0]);
    if (status == MILORI_OK)
        status = bead_mask(d, true, &mask[1]);
    uint16_t full[3];
    mil_target_code(d, 0, 1, full);
    for (int row = 0; row <= d->target->rows && status == MILORI_OK; row++)
        for (int column = 0; column <= d->target->columns; column++) {
            const mil_mask *m = &mask[mil_target_bit(message, column, row)];
            mil_canvas_ink(d->canvas, px(d, 0, column * MIL_TARGET_PITCH) - m->width / 2,
                           px(d, 1, row * MIL_TARGET_PITCH) - m->height / 2, m, full);
        }
    mil_mask_free(&mask[0]);
    mil_mask_free(&mask[1]);
    return status;
}

/* Clear on a block of ink: thin lines of ink are lost to the light that spreads
 * below them, clear ones gain by it. */
milori_status mil_target_words(const mil_drawing *d, const char *words, double x, double y,
                               double high, double most, bool centred) {
    uint32_t height = (uint32_t)fmax(6, floor(high * d->px_mm + 0.5)), wide = 0;
    uint32_t room = (uint32_t)(most * d->px_mm);
    milori_status status = mil_label_width(d->ctx, d->font, words, height, &wide);
    if (status == MILORI_OK && wide > room)
        height = (uint32_t)fmax(6, floor((double)height * room / wide));
    mil_mask mask = {0};
    if (status == MILORI_OK)
        status = mil_label(d->ctx, d->font, words, height, room, &mask);
    if (status == MILORI_OK) {
        int64_t left = px(d, 0, x) - (centred ? mask.width / 2 : 0);
        int64_t top = px(d, 1, y) - (centred ? mask.height / 2 : 0);
        uint32_t rim = (uint32_t)(RIM_MM * d->px_mm);
        uint16_t full[3];
        mil_target_code(d, 0, 1, full);
        mil_canvas_fill(d->canvas, left - rim, top - rim, mask.width + 2 * rim,
                        mask.height + 2 * rim, full);
        mil_canvas_ink(d->canvas, left, top, &mask, clear);
    }
    mil_mask_free(&mask);
    return status;
}

/* A pole with a pennant to the right: turned or mirrored, it shows. */
static void pennant(const mil_drawing *d, double x, double y) {
    uint16_t full[3];
    mil_target_code(d, 0, 1, full);
    block(d, x, y, x + 0.9, y + 7, full);
    block(d, x + 0.9, y, x + 4.5, y + 1.2, full);
    block(d, x + 0.9, y + 1.2, x + 3.3, y + 2.3, full);
    block(d, x + 0.9, y + 2.3, x + 2.1, y + 3.4, full);
}

static milori_status bar(const mil_drawing *d, double y) {
    double wide = d->target->columns * MIL_TARGET_PITCH, length = wide >= 100 ? 100 : 50;
    double x = wide / 2 - length / 2;
    uint16_t full[3];
    char words[80];
    mil_target_code(d, 0, 1, full);
    block(d, x, y, x + length, y + 0.8, full);
    for (int i = 0; i * 10 <= (int)length; i++) {
        double at = fmin(x + i * 10, x + length - 0.6);
        block(d, at, y - (i % 5 ? 0.8 : 1.6), at + 0.6, y, full);
    }
    snprintf(words, sizeof words, "%.0f mm: measure it on the film", length);
    return mil_target_words(d, words, wide / 2, y + 3.2, SMALL_MM, wide, true);
}

static void name_ink(const int ink[3], char *text, size_t size) {
    snprintf(text, size, "#%x%x%x", ink[0], ink[1], ink[2]);
}

static void title(const mil_drawing *d, char *text, size_t size) {
    const mil_target *t = d->target;
    char ink[8];
    name_ink(t->ink, ink, sizeof ink);
    int used = snprintf(text, size, "milori %s target %d, %s: ", mil_target_kind_name(t->kind),
                        MIL_TARGET_VERSION, d->film_name);
    text += used;
    size -= (size_t)used;
    if (t->kind == MIL_TARGET_TONE)
        snprintf(text, size, "ink %s, %d tones in %d cells, shuffle %u%s", ink, t->levels,
                 t->columns * t->rows, t->seed, t->curved ? ", through a curve" : "");
    else if (t->kind == MIL_TARGET_INK)
        snprintf(text, size, "%d inks in %d steps", mil_target_groups(t), t->levels);
    else
        snprintf(text, size, "%d strips, each %s the time of the one before", t->levels,
                 t->half_stops == 2 ? "twice" : "1.41 times");
}

static milori_status strip_numbers(const mil_drawing *d) {
    const mil_target *t = d->target;
    int rows = t->rows / t->levels;
    const double pitch = MIL_TARGET_PITCH, room = pitch - MIL_TARGET_BEAD - 2;
    milori_status status = MILORI_OK;
    for (int i = 0; i < t->levels && status == MILORI_OK; i++) {
        double y = i * rows * pitch + pitch / 2;
        if (i > 0) {
            uint16_t full[3];
            mil_target_code(d, 0, 1, full);
            block(d, 2.4, y - pitch / 2 - 0.3, pitch - 2.4, y - pitch / 2 + 0.3, full);
            block(d, (t->columns - 1) * pitch + 2.4, y - pitch / 2 - 0.3, t->columns * pitch - 2.4,
                  y - pitch / 2 + 0.3, full);
        }
        char words[16];
        snprintf(words, sizeof words, "%d", i + 1);
        status = mil_target_words(d, words, pitch / 2, y, NUMBER_MM, room, true);
        double times = pow(2, 0.5 * t->half_stops * i);
        snprintf(words, sizeof words, times < 9.5 ? "\xc3\x97%.1f" : "\xc3\x97%.0f", times);
        if (status == MILORI_OK)
            status = mil_target_words(d, words, (t->columns - 0.5) * pitch, y, SMALL_MM + 0.4, room,
                                      true);
    }
    return status;
}

static milori_status ramp_names(const mil_drawing *d) {
    milori_status status = MILORI_OK;
    for (int row = 0; row < d->target->rows && status == MILORI_OK; row++) {
        int ink[3];
        char words[8];
        mil_target_group_ink(d->target, mil_target_cell_at(d->target, 0, row).group, ink);
        name_ink(ink, words, sizeof words);
        status =
            mil_target_words(d, words, -5.2, (row + 0.5) * MIL_TARGET_PITCH, SMALL_MM, 6.5, true);
    }
    return status;
}

static milori_status all_words(const mil_drawing *d) {
    static const char *const how[] = {
        "Uncover the last strip first and strip 1 last; never cover the numbers.",
        "Each row is one ink, clear to full.", "Expose for the time that the time sheet gave."};
    const mil_target *t = d->target;
    double wide = t->columns * MIL_TARGET_PITCH, high = t->rows * MIL_TARGET_PITCH;
    char words[200];
    title(d, words, sizeof words);
    pennant(d, 0, -10.8);
    milori_status status = mil_target_words(d, words, 6, -10.9, WORDS_MM, wide - 6, false);
    snprintf(words, sizeof words, "Ink against the coating: then this reads right. %s",
             how[t->kind]);
    if (status == MILORI_OK)
        status = mil_target_words(d, words, 6, -6.7, SMALL_MM, wide - 6, false);
    if (status == MILORI_OK && t->kind == MIL_TARGET_TIME)
        status = strip_numbers(d);
    if (status == MILORI_OK && t->kind == MIL_TARGET_INK)
        status = ramp_names(d);
    return status == MILORI_OK ? bar(d, high + 5.5) : status;
}

milori_status mil_target_draw(const mil_drawing *d) {
    patches(d);
    milori_status status = beads(d);
    return status == MILORI_OK ? all_words(d) : status;
}
