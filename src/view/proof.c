#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "view/proof_private.h"

/* mm. Captions of 2.6 mm are about 9 point. */
static const double margin = 9, title = 3.6, caption = 2.6, gap = 4, plot_wide = 96, plot_high = 46;

/* sRGB of 30 % of white's light, black, and a grey that stands back between the two. */
const uint16_t mil_proof_ground[3] = {38276, 38276, 38276};
const uint16_t mil_proof_ink[3] = {0, 0, 0};
const uint16_t mil_proof_faint[3] = {25700, 25700, 25700};

double mil_proof_px(const mil_proof_page *page, double mm) {
    return mm / 25.4 * page->proof->dpi;
}

milori_status mil_proof_words(const mil_proof_page *page, const char *words, double x, double y,
                              double height_mm, double most) {
    mil_mask mask = {0};
    uint32_t height = (uint32_t)fmax(mil_proof_px(page, height_mm) + 0.5, 6);
    milori_status status =
        mil_label(page->ctx, page->font, words, height, (uint32_t)fmax(most, 0), &mask);
    if (status == MILORI_OK)
        mil_canvas_ink(page->canvas, (int64_t)x, (int64_t)y, &mask, mil_proof_ink);
    mil_mask_free(&mask);
    return status;
}

/* ---- pictures ----------------------------------------------------------------- */

typedef struct showing {
    mil_session *session;
    size_t scan;
    int sheet;
} showing;

/* The tile's picture, no larger than the box, from its left top corner; columns from..to of it,
 * as parts of its width. */
static milori_status put_picture(const mil_proof_page *page, const mil_session_picture *picture,
                                 const mil_proof_box *box, double from, double to) {
    uint32_t left = (uint32_t)(from * picture->width + 0.5);
    uint32_t right = (uint32_t)(to * picture->width + 0.5), width = right - left;
    const uint16_t *codes = mil_plan_codes(picture->plan);
    uint16_t *row = mil_alloc(page->ctx, width, 3 * sizeof *row);
    if (!row)
        return MILORI_ERR_MEMORY;
    for (uint32_t y = 0; y < picture->height; y++) {
        const uint16_t *place = picture->places + (size_t)y * picture->width + left;
        for (uint32_t x = 0; x < width; x++)
            for (size_t c = 0; c < 3; c++)
                row[3 * x + c] = codes[(size_t)place[x] * 3 + c];
        mil_canvas_put(page->canvas, (int64_t)box->x + left, (int64_t)box->y + y, width, 1, row);
    }
    free(row);
    return MILORI_OK;
}

/* Most px of the longer side of a picture that fits the box. */
static uint32_t most_of(const mil_proof_box *box, uint32_t width, uint32_t height) {
    double scale = fmin(fmin(box->w / width, box->h / height), 1);
    return (uint32_t)fmax(floor(scale * (width > height ? width : height)), 1);
}

/* Renders tile i into the box and keeps its curves. */
static milori_status show_tile(const mil_proof_page *page, const showing *s, size_t i,
                               const mil_proof_box *box, double from, double to) {
    mil_session_wish wish = {
        .scan = s->scan, .sheet = s->sheet, .choices = page->proof->tile[i].choices};
    mil_session_picture picture;
    milori_status status = mil_session_plan(s->session, &wish, &picture);
    if (status != MILORI_OK)
        return status;
    wish.most = most_of(box, picture.width, picture.height);
    status = mil_session_picture_of(s->session, &wish, &picture);
    if (status == MILORI_OK)
        status = put_picture(page, &picture, box, from, to);
    if (status == MILORI_OK)
        status = mil_curves_make(page->ctx, mil_plan_tone(picture.plan), picture.separation,
                                 &wish.choices, &page->curves[i]);
    return status;
}

static milori_status say_caption(const mil_proof_page *page, size_t i, const mil_proof_box *box) {
    char words[600];
    snprintf(words, sizeof words, "%zu   %s", i + 1, page->proof->tile[i].words);
    return mil_proof_words(page, words, box->x, box->y - mil_proof_px(page, caption + 1), caption,
                           box->w);
}

/* ---- layout --------------------------------------------------------------------- */

/* Cells of columns x rows in the area, a caption's room above each. */
static mil_proof_box cell_of(const mil_proof_page *page, const mil_proof_box *area, size_t columns,
                             size_t rows, size_t i) {
    double between = mil_proof_px(page, gap), words = mil_proof_px(page, caption + 1);
    double w = (area->w - between * (double)(columns - 1)) / (double)columns;
    double h = (area->h - between * (double)(rows - 1)) / (double)rows;
    return (mil_proof_box){area->x + (double)(i % columns) * (w + between),
                           area->y + (double)(i / columns) * (h + between) + words, w, h - words};
}

/* The columns that show a picture of width x height largest. */
static size_t best_columns(const mil_proof_page *page, const mil_proof_box *area, uint32_t width,
                           uint32_t height) {
    size_t best = 1, count = page->proof->count;
    double largest = 0;
    for (size_t columns = 1; columns <= count; columns++) {
        mil_proof_box cell = cell_of(page, area, columns, (count + columns - 1) / columns, 0);
        double scale = fmin(cell.w / width, cell.h / height);
        if (scale > largest) {
            largest = scale;
            best = columns;
        }
    }
    return best;
}

static milori_status show_tiles(const mil_proof_page *page, const showing *s,
                                const mil_proof_box *area, uint32_t width, uint32_t height) {
    const mil_proof *proof = page->proof;
    size_t columns = proof->columns ? proof->columns : best_columns(page, area, width, height);
    size_t rows = (proof->count + columns - 1) / columns;
    milori_status status = MILORI_OK;
    for (size_t i = 0; i < proof->count && status == MILORI_OK; i++) {
        const mil_proof_box cell = cell_of(page, area, columns, rows, i);
        if (cell.w < 8 || cell.h < 8)
            return mil_fail(page->ctx, MILORI_ERR_ARGUMENT,
                            "%zu pictures do not fit on one page; name fewer values", proof->count);
        status = show_tile(page, s, i, &cell, 0, 1);
        if (status == MILORI_OK)
            status = say_caption(page, i, &cell);
    }
    return status;
}

/* One picture as large as fits, each tile a strip of it from top to bottom. */
static milori_status show_strips(const mil_proof_page *page, const showing *s,
                                 const mil_proof_box *area, uint32_t width, uint32_t height) {
    size_t count = page->proof->count;
    mil_proof_box whole = cell_of(page, area, 1, 1, 0);
    double scale = fmin(fmin(whole.w / width, whole.h / height), 1);
    milori_status status = MILORI_OK;
    whole.x += floor((whole.w - scale * width) / 2);
    for (size_t i = 0; i < count && status == MILORI_OK; i++) {
        double from = (double)i / (double)count, to = (double)(i + 1) / (double)count;
        const mil_proof_box strip = {whole.x + from * scale * width, whole.y,
                                     scale * width / (double)count - 4, whole.h};
        status = show_tile(page, s, i, &whole, from, to);
        if (status == MILORI_OK)
            status = say_caption(page, i, &strip);
    }
    return status;
}

static milori_status draw(const mil_proof_page *page, const showing *s) {
    const mil_proof *proof = page->proof;
    double edge = mil_proof_px(page, margin), head = mil_proof_px(page, title + gap);
    double foot = mil_proof_px(page, plot_high + gap);
    const mil_proof_box area = {edge, edge + head, proof->page[0] - 2 * edge,
                                proof->page[1] - 2 * edge - head - foot};
    const mil_proof_box plot = {proof->page[0] - edge - mil_proof_px(page, plot_wide),
                                proof->page[1] - edge - mil_proof_px(page, plot_high),
                                mil_proof_px(page, plot_wide), mil_proof_px(page, plot_high)};
    const mil_session_wish wish = {
        .scan = s->scan, .sheet = s->sheet, .choices = proof->tile[0].choices};
    mil_session_picture first;
    milori_status status = mil_session_plan(s->session, &wish, &first);
    if (status == MILORI_OK)
        status = mil_proof_words(page, proof->title, edge, edge, title, area.w);
    if (status == MILORI_OK)
        status =
            (proof->strips ? show_strips : show_tiles)(page, s, &area, first.width, first.height);
    return status == MILORI_OK ? mil_proof_plot(page, &plot) : status;
}

milori_status mil_proof_draw(milori_context *ctx, mil_session *session, size_t scan, int sheet,
                             const mil_proof *proof, mil_canvas **canvas) {
    mil_proof_page page = {.ctx = ctx, .proof = proof};
    const showing s = {session, scan, sheet};
    milori_status status = MILORI_ERR_MEMORY;
    page.curves = mil_alloc(ctx, proof->count, sizeof *page.curves);
    if (page.curves)
        status = mil_font_open(ctx, &page.font);
    if (status == MILORI_OK)
        status =
            mil_canvas_new(ctx, proof->page[0], proof->page[1], 3, mil_proof_ground, &page.canvas);
    if (status == MILORI_OK)
        status = draw(&page, &s);
    mil_font_free(page.font);
    free(page.curves);
    if (status != MILORI_OK) {
        mil_canvas_free(page.canvas);
        page.canvas = NULL;
    }
    *canvas = page.canvas;
    return status;
}
