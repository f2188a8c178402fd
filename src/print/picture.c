#include "print/picture_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "print/resample.h"
#include "scan/packet.h"
#include "tone/choices.h"

/* The kernel's reach beyond a part, px of the coarser side. */
static const double REACH = 4;

/* Whether the file open is a positive; its packet's choices into p. */
static milori_status find_packet(mil_picture *p, bool *found) {
    const mil_source_info *info = mil_source_info_of(p->source);
    mil_packet packet;
    *found = false;
    if (!info->xmp)
        return MILORI_OK;
    if (mil_packet_read(p->ctx, p->path, info->xmp, info->xmp_size, &packet) != MILORI_OK) {
        bool other = milori_failure(p->ctx) == MILORI_ERR_FORMAT; /* some program's own packet */
        if (other)
            milori_clear(p->ctx);
        return other ? MILORI_OK : milori_failure(p->ctx);
    }
    milori_choices_default(&p->own);
    milori_status status = mil_choices_from_named_json(p->ctx, &p->own, packet.choices,
                                                       strlen(packet.choices), p->path);
    *found = status == MILORI_OK;
    mil_packet_free(&packet);
    return status;
}

static milori_status open(mil_picture *p, const char *path, const mil_picture_wish *wish) {
    p->path = mil_strdup(p->ctx, path);
    if (!p->path)
        return MILORI_ERR_MEMORY;
    milori_status status = mil_source_open(p->ctx, path, &p->file_notes, &p->source);
    if (status == MILORI_OK)
        status = find_packet(p, &p->has_packet);
    if (status != MILORI_OK)
        return status;
    p->is_scan = !p->has_packet && !wish->positive;
    if (!p->is_scan)
        return mil_picture_positive_open(p);
    mil_source_close(p->source);
    p->source = NULL;
    mil_notes_free(&p->file_notes);
    return mil_picture_scan_open(p, wish);
}

milori_status mil_picture_open(milori_context *ctx, const char *path, const mil_picture_wish *wish,
                               mil_picture **out) {
    *out = NULL;
    mil_picture *p = mil_alloc(ctx, 1, sizeof *p);
    if (!p)
        return MILORI_ERR_MEMORY;
    p->ctx = ctx;
    milori_status status = open(p, path, wish);
    if (status == MILORI_OK)
        status = mil_picture_take(p, 0, wish);
    if (status != MILORI_OK) {
        mil_picture_close(p);
        return status;
    }
    *out = p;
    return MILORI_OK;
}

milori_status mil_picture_take(mil_picture *p, int sheet, const mil_picture_wish *wish) {
    mil_print_tones_free(&p->tones);
    mil_notes_free(&p->notes);
    p->choices = *wish->choices;
    if (!p->is_scan && p->has_packet && !wish->palette_chosen) {
        p->choices = p->own;
        p->choices.turn = wish->choices->turn;
        p->choices.intent = wish->choices->intent;
        p->choices.black_point = wish->choices->black_point;
    }
    milori_status status = mil_print_tones_make(p->ctx, &p->choices, &p->tones);
    if (status != MILORI_OK)
        return status;
    return p->is_scan ? mil_picture_scan_take(p, sheet, wish) : mil_picture_positive_take(p, wish);
}

void mil_picture_close(mil_picture *p) {
    if (!p)
        return;
    mil_picture_scan_close(p);
    mil_picture_positive_close(p);
    mil_print_tones_free(&p->tones);
    mil_notes_free(&p->notes);
    mil_notes_free(&p->file_notes);
    free(p->path);
    free(p);
}

bool mil_picture_is_scan(const mil_picture *p) {
    return p->is_scan;
}

int mil_picture_sheets(const mil_picture *p) {
    return p->is_scan ? p->measured.count : 1;
}

void mil_picture_size(const mil_picture *p, uint32_t *width, uint32_t *height) {
    *width = p->width;
    *height = p->height;
}

const milori_notes *mil_picture_file_notes(const mil_picture *p) {
    return p->is_scan ? &p->measured.notes : &p->file_notes;
}

const milori_notes *mil_picture_notes(const mil_picture *p) {
    return &p->notes;
}

const milori_choices *mil_picture_choices(const mil_picture *p) {
    return &p->choices;
}

const mil_print_tones *mil_picture_tones(const mil_picture *p) {
    return &p->tones;
}

/* One side of a part with what the kernel reaches beyond it, in whole px. */
static void widen(double *start, double *length, uint32_t out, uint32_t most) {
    double reach = ceil(REACH * fmax(*length / out, 1));
    double low = fmax(floor(*start) - reach, 0);
    double high = fmin(ceil(*start + *length) + reach, most);
    *start = low;
    *length = high - low;
}

milori_status mil_picture_words(mil_picture *p, const mil_part_rect *part, uint32_t width,
                                uint32_t height, const mil_taker *taker) {
    const mil_part_rect all = {0, 0, p->width, p->height};
    mil_part_rect wanted = part ? *part : all, drawn = wanted;
    mil_canvas *canvas = NULL;
    widen(&drawn.x, &drawn.w, width, p->width);
    widen(&drawn.y, &drawn.h, height, p->height);
    milori_status status = p->is_scan ? mil_picture_scan_draw(p, &drawn, &canvas)
                                      : mil_picture_positive_draw(p, &drawn, &canvas);
    wanted.x -= drawn.x;
    wanted.y -= drawn.y;
    if (status == MILORI_OK)
        status = mil_print_resample(p->ctx, canvas, &wanted, width, height, taker);
    mil_canvas_free(canvas);
    return status;
}
