#include "print/test_strip.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "print/codes.h"
#include "print/lay.h"
#include "print/paper.h"

static const double LABEL_MM = 3.6, GAP_MM = 2.5, LEAST_MM = 8;

typedef struct strips {
    milori_context *ctx;
    const mil_strip_wish *wish;
    mil_picture *picture;
    int sheet;
    mil_picture_wish picture_wish;
    mil_canvas *canvas;
    mil_font *font;
    uint32_t x, y, width, height; /* of the first strip, px of the page */
    uint32_t label, step;         /* px: height of words; from strip to strip */
    mil_part_rect part;           /* of the picture */
} strips;

static milori_status lay_out(strips *s) {
    const mil_layout_wish *l = &s->wish->layout;
    uint32_t px[2];
    double mm[2], room[2], count = (double)s->wish->vary.count;
    if (l->no_paper)
        return mil_fail(s->ctx, MILORI_ERR_ARGUMENT, "test strips need paper; name one");
    mil_picture_size(s->picture, &px[0], &px[1]);
    mil_layout_picture(l, px[0], px[1], mm);
    mil_layout_room(l, room);
    double width = fmin(mm[0], room[0]), foot = s->wish->foot ? LABEL_MM + GAP_MM : 0;
    double height = fmin(mm[1], (room[1] - foot) / count - LABEL_MM - GAP_MM);
    if (!(width >= LEAST_MM && height >= LEAST_MM))
        return mil_fail(s->ctx, MILORI_ERR_ARGUMENT,
                        "%zu strips leave each %.0f x %.0f mm of this paper; name fewer values or "
                        "a larger --paper",
                        s->wish->vary.count, fmax(width, 0), fmax(height, 0));
    s->width = mil_px_of_mm(width, l->dpi);
    s->height = mil_px_of_mm(height, l->dpi);
    s->label = mil_px_of_mm(LABEL_MM, l->dpi);
    s->step = s->height + mil_px_of_mm(LABEL_MM + GAP_MM, l->dpi);
    s->x = mil_px_of_mm(l->margin_mm[3] + (room[0] - width) / 2, l->dpi);
    s->y = mil_px_of_mm(l->margin_mm[0], l->dpi);
    double scale = px[0] / mm[0], w = width * scale, h = height * scale;
    s->part = (mil_part_rect){(px[0] - w) / 2, (px[1] - h) / 2, w, h};
    return MILORI_OK;
}

/* One strip through its own output: its choice may be the rendering intent. */
static milori_status draw_strip(strips *s, size_t index, const mil_output *output) {
    char words[128];
    mil_print_codes codes;
    uint32_t y = s->y + (uint32_t)index * s->step;
    milori_status status =
        mil_print_codes_make(s->ctx, mil_picture_choices(s->picture), output, &codes);
    if (status != MILORI_OK)
        return status;
    const mil_lay lay = {.canvas = s->canvas,
                         .x = s->x,
                         .y = y,
                         .width = s->width,
                         .height = s->height,
                         .sharpen_px = s->wish->sharpen_mm * s->wish->layout.dpi / 25.4,
                         .tones = mil_picture_tones(s->picture),
                         .code = codes.code};
    status = mil_lay_picture(s->ctx, s->picture, &s->part, &lay);
    snprintf(words, sizeof words, "%s %s", s->wish->vary.choice->name, s->wish->vary.text[index]);
    if (status == MILORI_OK)
        status = mil_lay_label(s->ctx, s->font, words, s->canvas, s->x + s->width / 2,
                               y + s->height, s->label, s->width, codes.code);
    mil_print_codes_free(&codes);
    return status;
}

static milori_status one_strip(strips *s, size_t index) {
    milori_choices *choices = mil_alloc(s->ctx, 1, sizeof *choices);
    mil_output *output = NULL;
    if (!choices)
        return MILORI_ERR_MEMORY;
    *choices = *s->picture_wish.choices;
    mil_picture_wish wish = s->picture_wish;
    wish.choices = choices;
    wish.palette_chosen = wish.palette_chosen || strcmp(s->wish->vary.choice->name, "palette") == 0;
    milori_status status = mil_variation_set(s->ctx, &s->wish->vary, index, choices);
    if (status == MILORI_OK)
        status = mil_picture_take(s->picture, s->sheet, &wish);
    if (status == MILORI_OK)
        status = mil_output_new_print(s->ctx, s->wish->printer, choices->intent,
                                      choices->black_point, &output);
    if (status == MILORI_OK)
        status = draw_strip(s, index, output);
    mil_output_free(output);
    free(choices);
    return status;
}

static milori_status draw_foot(strips *s, const uint16_t *ink) {
    const mil_layout_wish *l = &s->wish->layout;
    double room[2];
    if (!s->wish->foot)
        return MILORI_OK;
    mil_layout_room(l, room);
    uint32_t wide = mil_px_of_mm(room[0], l->dpi);
    return mil_lay_label(s->ctx, s->font, s->wish->foot, s->canvas,
                         mil_px_of_mm(l->margin_mm[3] + room[0] / 2, l->dpi),
                         mil_px_of_mm(l->margin_mm[0] + room[1] - LABEL_MM, l->dpi), s->label, wide,
                         ink);
}

/* The page, its words in the darkest that the printer has. */
static milori_status make_page(strips *s) {
    const mil_layout_wish *l = &s->wish->layout;
    static const double black[1][3] = {{0, 0, 0}};
    uint16_t paper[4], ink[4];
    mil_output *output = NULL;
    milori_status status =
        mil_output_new_print(s->ctx, s->wish->printer, MILORI_RELATIVE, true, &output);
    if (status != MILORI_OK)
        return status;
    mil_print_paper(output, paper);
    mil_output_line(output, black, 1, ink);
    status = mil_canvas_new(s->ctx, mil_px_of_mm(l->paper_mm[0], l->dpi),
                            mil_px_of_mm(l->paper_mm[1], l->dpi), mil_output_channels(output),
                            paper, &s->canvas);
    mil_output_free(output);
    return status == MILORI_OK ? draw_foot(s, ink) : status;
}

milori_status mil_strip_draw(milori_context *ctx, mil_picture *picture, int sheet,
                             const mil_picture_wish *picture_wish, const mil_strip_wish *wish,
                             mil_canvas **canvas) {
    strips s = {.ctx = ctx,
                .wish = wish,
                .picture = picture,
                .sheet = sheet,
                .picture_wish = *picture_wish};
    *canvas = NULL;
    milori_status status = lay_out(&s);
    if (status == MILORI_OK)
        status = mil_font_open(ctx, &s.font);
    if (status == MILORI_OK)
        status = make_page(&s);
    for (size_t i = 0; i < wish->vary.count && status == MILORI_OK; i++)
        status = one_strip(&s, i);
    mil_font_free(s.font);
    if (status == MILORI_OK)
        *canvas = s.canvas;
    else
        mil_canvas_free(s.canvas);
    return status;
}
