#include "print/picture_parts.h"

#include <stdlib.h>

#include "tone/choices.h"

/* Scans are opened for the whole sheet where its edge is to show. */
static milori_choices choices_of(const mil_picture *p, const mil_picture_wish *wish) {
    milori_choices choices = p->choices;
    choices.whole_sheet = choices.whole_sheet || wish->edge;
    return choices;
}

milori_status mil_picture_scan_open(mil_picture *p, const mil_picture_wish *wish) {
    milori_status status = mil_choices_check(p->ctx, wish->choices);
    if (status == MILORI_OK)
        status = mil_measured_open(p->ctx, p->path, &p->measured);
    if (status == MILORI_OK)
        status = mil_measured_analyse(p->ctx, &p->measured, wish->choices);
    return status;
}

static void take_notes(mil_picture *p, int sheet) {
    const milori_notes *from[2] = {&p->measured.found[sheet].notes,
                                   &p->measured.separation[sheet].notes};
    for (int k = 0; k < 2; k++)
        for (size_t i = 0; i < from[k]->count; i++)
            mil_note(&p->notes, from[k]->note[i].code, "%s", from[k]->note[i].text);
}

milori_status mil_picture_scan_take(mil_picture *p, int sheet, const mil_picture_wish *wish) {
    if (sheet < 0 || sheet >= p->measured.count)
        return mil_fail(p->ctx, MILORI_ERR_ARGUMENT, "%s: there is no sheet %d; there %s %d",
                        p->path, sheet + 1, p->measured.count == 1 ? "is" : "are",
                        p->measured.count);
    mil_plan_free(p->plan);
    mil_edge_free(p->edge);
    p->plan = NULL;
    p->edge = NULL;
    milori_choices choices = choices_of(p, wish);
    milori_status status = mil_choices_check(p->ctx, &choices);
    if (status == MILORI_OK)
        status = mil_plan_new_places(p->ctx, &p->measured, sheet, &choices, &p->plan);
    if (status == MILORI_OK && wish->edge)
        status = mil_edge_new(p->ctx, &p->measured, sheet, &p->edge);
    if (status == MILORI_OK) {
        mil_plan_size(p->plan, &p->width, &p->height);
        take_notes(p, sheet);
    }
    return status;
}

/* Rows of places on their way to a canvas of words. */
typedef struct drawing {
    const mil_picture *p;
    mil_canvas *canvas;
    uint32_t left, top, y;
    uint16_t *words;
} drawing;

static milori_status take_rows(void *data, uint32_t count, const uint16_t *places) {
    drawing *d = data;
    uint32_t width = mil_canvas_width(d->canvas);
    for (uint32_t j = 0; j < count; j++, d->y++) {
        const uint16_t *from = places + (size_t)j * width;
        for (uint32_t i = 0; i < width; i++)
            d->words[i] = d->p->tones.word[from[i]];
        if (d->p->edge)
            mil_edge_row(d->p->edge, d->p->plan, d->left, d->top + d->y, width, d->words);
        mil_canvas_put(d->canvas, 0, d->y, width, 1, d->words);
    }
    return MILORI_OK;
}

milori_status mil_picture_scan_draw(mil_picture *p, mil_part_rect *part, mil_canvas **canvas) {
    static const uint16_t dark = 0;
    drawing d = {.p = p, .left = (uint32_t)part->x, .top = (uint32_t)part->y};
    uint32_t width = (uint32_t)part->w, height = (uint32_t)part->h;
    const mil_taker taker = {take_rows, &d};
    milori_status status = mil_canvas_new(p->ctx, width, height, 1, &dark, canvas);
    if (status != MILORI_OK)
        return status;
    d.canvas = *canvas;
    d.words = mil_alloc(p->ctx, width, sizeof *d.words);
    status = d.words ? mil_render(p->ctx, p->plan, p->measured.source, part, 1, &taker)
                     : MILORI_ERR_MEMORY;
    free(d.words);
    return status;
}

void mil_picture_scan_close(mil_picture *p) {
    mil_plan_free(p->plan);
    mil_edge_free(p->edge);
    if (p->is_scan)
        mil_measured_close(&p->measured);
}
