#include "print/contact_sheet.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "print/codes.h"
#include "print/lay.h"
#include "print/paper.h"

static const double GAP_MM = 4, LEAST_MM = 10, LABEL_LEAST_MM = 2, LABEL_MOST_MM = 3.6;

/* A palette met, with what prints it: most pictures share one. */
typedef struct kind {
    milori_palette palette;
    size_t stops;
    milori_palette_stop stop[MILORI_PALETTE_MAX];
    mil_print_tones tones;
    mil_print_codes codes;
} kind;

typedef struct item {
    mil_canvas *words; /* as large as it could be among those expected */
    char *name;
    size_t kind;
} item;

struct mil_contact {
    milori_context *ctx;
    mil_layout_wish wish;
    const mil_output *output;
    size_t expected, count, kinds;
    item *item;
    kind *kind;
};

/* ---- the cells ------------------------------------------------------------------ */

typedef struct cells {
    uint32_t columns, rows;
    double width, height, label; /* mm; of a picture, and of the words below */
} cells;

static cells cells_of(const mil_contact *c, uint32_t columns, uint32_t count) {
    double room[2];
    mil_layout_room(&c->wish, room);
    cells k = {.columns = columns, .rows = (count + columns - 1) / columns};
    k.width = (room[0] - (columns - 1) * GAP_MM) / columns;
    double high = (room[1] - (k.rows - 1) * GAP_MM) / k.rows;
    k.label = fmin(fmax(0.08 * high, LABEL_LEAST_MM), LABEL_MOST_MM);
    k.height = high - k.label;
    return k;
}

/* The number of columns that leaves the largest square; the fewest of those alike. */
static cells best_cells(const mil_contact *c, uint32_t count) {
    cells best = cells_of(c, 1, count);
    for (uint32_t columns = 2; columns <= count; columns++) {
        cells k = cells_of(c, columns, count);
        if (fmin(k.width, k.height) > fmin(best.width, best.height) + 0.01)
            best = k;
    }
    return best;
}

/* The rows moved together as far as the tallest picture lets them. */
static void close_up(const mil_contact *c, cells *k) {
    double tallest = 0;
    for (size_t i = 0; i < c->count; i++) {
        const mil_canvas *words = c->item[i].words;
        tallest = fmax(tallest, (double)mil_canvas_height(words) / mil_canvas_width(words));
    }
    k->height = fmin(k->height, k->width * tallest);
}

static milori_status refuse_more(const mil_contact *c, uint32_t count) {
    uint32_t fit = count;
    cells k;
    do {
        k = best_cells(c, --fit);
    } while (fit > 1 && fmin(k.width, k.height) < LEAST_MM);
    return mil_fail(c->ctx, MILORI_ERR_ARGUMENT,
                    "%u pictures are too many for one page of %.0f x %.0f mm: %u fit; name fewer "
                    "or a larger --paper",
                    count, c->wish.paper_mm[0], c->wish.paper_mm[1], fit);
}

/* px of a picture within a cell. */
static void fit(const mil_contact *c, const cells *k, double width, double height, uint32_t px[2]) {
    double scale = fmin(k->width / width, k->height / height);
    px[0] = mil_px_of_mm(width * scale, c->wish.dpi);
    px[1] = mil_px_of_mm(height * scale, c->wish.dpi);
    for (int i = 0; i < 2; i++)
        px[i] = px[i] ? px[i] : 1;
}

/* ---- taking pictures ------------------------------------------------------------- */

milori_status mil_contact_new(milori_context *ctx, const mil_layout_wish *wish,
                              const mil_output *output, size_t expected, mil_contact **contact) {
    *contact = NULL;
    mil_contact *c = mil_alloc(ctx, 1, sizeof *c);
    if (!c)
        return MILORI_ERR_MEMORY;
    *c = (mil_contact){.ctx = ctx, .wish = *wish, .output = output};
    c->expected = expected > 0 ? expected : 1;
    cells k = c->expected < 100000 ? best_cells(c, (uint32_t)c->expected) : (cells){0};
    if (fmin(k.width, k.height) < LEAST_MM) {
        milori_status status = refuse_more(c, (uint32_t)c->expected);
        mil_contact_free(c);
        return status;
    }
    *contact = c;
    return MILORI_OK;
}

static bool same_palette(const kind *k, const milori_choices *choices) {
    return k->palette == choices->palette &&
           (k->palette != MILORI_PALETTE_FILE ||
            (k->stops == choices->palette_stops &&
             memcmp(k->stop, choices->palette_stop, k->stops * sizeof *k->stop) == 0));
}

static milori_status kind_of(mil_contact *c, const milori_choices *choices, size_t *index) {
    for (*index = 0; *index < c->kinds; ++*index)
        if (same_palette(&c->kind[*index], choices))
            return MILORI_OK;
    kind *grown = realloc(c->kind, (c->kinds + 1) * sizeof *grown);
    if (!grown)
        return mil_fail(c->ctx, MILORI_ERR_MEMORY, "out of memory: name fewer pictures");
    c->kind = grown;
    kind *k = &grown[c->kinds];
    *k = (kind){.palette = choices->palette, .stops = choices->palette_stops};
    memcpy(k->stop, choices->palette_stop, sizeof k->stop);
    milori_status status = mil_print_tones_make(c->ctx, choices, &k->tones);
    if (status == MILORI_OK)
        status = mil_print_codes_make(c->ctx, choices, c->output, &k->codes);
    if (status == MILORI_OK)
        c->kinds++;
    else
        mil_print_tones_free(&k->tones);
    return status;
}

typedef struct taking {
    mil_canvas *canvas;
    uint32_t y;
} taking;

static milori_status take_rows(void *data, uint32_t count, const uint16_t *words) {
    taking *t = data;
    mil_canvas_put(t->canvas, 0, t->y, mil_canvas_width(t->canvas), count, words);
    t->y += count;
    return MILORI_OK;
}

milori_status mil_contact_add(mil_contact *c, mil_picture *picture, const char *name) {
    static const uint16_t dark = 0;
    uint32_t width, height, px[2];
    item *grown = realloc(c->item, (c->count + 1) * sizeof *grown);
    if (!grown)
        return mil_fail(c->ctx, MILORI_ERR_MEMORY, "out of memory: name fewer pictures");
    c->item = grown;
    item *it = &grown[c->count];
    *it = (item){0};
    cells k = best_cells(c, (uint32_t)c->expected);
    mil_picture_size(picture, &width, &height);
    fit(c, &k, width, height, px);
    it->name = mil_strdup(c->ctx, name);
    milori_status status =
        it->name ? kind_of(c, mil_picture_choices(picture), &it->kind) : MILORI_ERR_MEMORY;
    if (status == MILORI_OK)
        status = mil_canvas_new(c->ctx, px[0], px[1], 1, &dark, &it->words);
    if (status == MILORI_OK) {
        taking t = {.canvas = it->words};
        const mil_taker taker = {take_rows, &t};
        status = mil_picture_words(picture, NULL, px[0], px[1], &taker);
    }
    if (status == MILORI_OK) {
        c->count++;
    } else {
        mil_canvas_free(it->words);
        free(it->name);
    }
    return status;
}

size_t mil_contact_count(const mil_contact *c) {
    return c->count;
}

/* ---- the page -------------------------------------------------------------------- */

static milori_status draw_item(mil_contact *c, mil_font *font, const cells *k, uint32_t index,
                               mil_canvas *canvas) {
    const item *it = &c->item[index];
    double dpi = c->wish.dpi;
    uint32_t px[2];
    fit(c, k, mil_canvas_width(it->words), mil_canvas_height(it->words), px);
    double left = c->wish.margin_mm[3] + index % k->columns * (k->width + GAP_MM);
    double foot =
        c->wish.margin_mm[0] + k->height + index / k->columns * (k->height + k->label + GAP_MM);
    uint32_t middle = mil_px_of_mm(left + k->width / 2, dpi), bottom = mil_px_of_mm(foot, dpi);
    const mil_lay lay = {.canvas = canvas,
                         .x = middle > px[0] / 2 ? middle - px[0] / 2 : 0,
                         .y = bottom > px[1] ? bottom - px[1] : 0,
                         .width = px[0],
                         .height = px[1],
                         .tones = &c->kind[it->kind].tones,
                         .code = c->kind[it->kind].codes.code};
    milori_status status = mil_lay_words(c->ctx, it->words, &lay);
    if (status != MILORI_OK)
        return status;
    return mil_lay_label(c->ctx, font, it->name, canvas, middle, bottom,
                         mil_px_of_mm(k->label, dpi), mil_px_of_mm(k->width, dpi), lay.code);
}

milori_status mil_contact_draw(mil_contact *c, mil_canvas **canvas) {
    uint16_t paper[4];
    mil_font *font = NULL;
    *canvas = NULL;
    cells k = best_cells(c, (uint32_t)c->count);
    if (fmin(k.width, k.height) < LEAST_MM)
        return refuse_more(c, (uint32_t)c->count);
    close_up(c, &k);
    mil_print_paper(c->output, paper);
    milori_status status = mil_font_open(c->ctx, &font);
    if (status == MILORI_OK)
        status = mil_canvas_new(c->ctx, mil_px_of_mm(c->wish.paper_mm[0], c->wish.dpi),
                                mil_px_of_mm(c->wish.paper_mm[1], c->wish.dpi),
                                mil_output_channels(c->output), paper, canvas);
    for (uint32_t i = 0; i < c->count && status == MILORI_OK; i++) {
        status = draw_item(c, font, &k, i, *canvas);
        if (status == MILORI_OK)
            status = mil_check_cancel(c->ctx);
    }
    mil_font_free(font);
    if (status != MILORI_OK) {
        mil_canvas_free(*canvas);
        *canvas = NULL;
    }
    return status;
}

void mil_contact_free(mil_contact *c) {
    if (!c)
        return;
    for (size_t i = 0; i < c->count; i++) {
        mil_canvas_free(c->item[i].words);
        free(c->item[i].name);
    }
    for (size_t i = 0; i < c->kinds; i++) {
        mil_print_tones_free(&c->kind[i].tones);
        mil_print_codes_free(&c->kind[i].codes);
    }
    free(c->item);
    free(c->kind);
    free(c);
}
