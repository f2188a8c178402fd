#include "print/picture_parts.h"

#include <math.h>
#include <stdlib.h>

#include "colour/lab.h"
#include "render/spill.h"
#include "tone/palette.h"

enum { WORDS = 65536 };

static bool of_scan_only(const mil_picture_wish *wish) {
    return wish->edge;
}

/* Light (Y, of the profile's white 1) of count px; light: room for channels * count. */
static void luminance(const mil_decode *decode, const uint16_t *codes, uint32_t count, float *light,
                      float *out) {
    mil_decode_row(decode, codes, count, light);
    for (uint32_t i = 0; i < count; i++) {
        double sum = 0;
        if (decode->channels == 1)
            sum = decode->to_xyz[0][1] * light[i];
        for (int c = 0; c < 3 && decode->channels == 3; c++)
            sum += decode->to_xyz[1][c] * light[3 * (size_t)i + (size_t)c];
        out[i] = (float)sum;
    }
}

milori_status mil_picture_positive_open(mil_picture *p) {
    const mil_source_info *info = mil_source_info_of(p->source);
    milori_status status = mil_decode_new(p->ctx, info, &p->file_notes, &p->decode);
    if (status != MILORI_OK)
        return status;
    if (p->has_packet && p->own.black_point) {
        static const uint16_t none[3] = {0, 0, 0};
        float light[3], black;
        luminance(p->decode, none, 1, light, &black);
        p->black = black > 0 && black < 0.5f ? black : 0;
    }
    p->word = mil_alloc(p->ctx, WORDS, sizeof *p->word);
    return p->word ? MILORI_OK : MILORI_ERR_MEMORY;
}

/* From the light of a positive of our own to the light of its tones along another palette. A
 * palette's lightest tone is the print's paper. */
static milori_status words_of_own(mil_picture *p) {
    mil_print_tones own;
    double(*end)[3] = mil_alloc(p->ctx, 2, sizeof *end);
    milori_status status = end ? mil_print_tones_make(p->ctx, &p->own, &own) : MILORI_ERR_MEMORY;
    if (status != MILORI_OK) {
        free(end);
        return status;
    }
    mil_palette_line(&p->own, NULL, NULL, 2, end);
    double lightest = mil_luminance(end[1][0]);
    for (int i = 0; i < WORDS; i++) {
        double light = (i / 65535. - p->black) / ((1 - p->black) * lightest);
        light = light > 0 ? light < 1 ? light : 1 : 0;
        p->word[i] = p->tones.word[own.place[(int)(65535 * light + 0.5)]];
    }
    free(end);
    mil_print_tones_free(&own);
    return MILORI_OK;
}

/* From the light of a file whose palette nobody knows: its lightness is the place. */
static void words_of_lightness(mil_picture *p) {
    for (int i = 0; i < WORDS; i++)
        p->word[i] = p->tones.word[(int)(655.35 * mil_lightness(i / 65535.) + 0.5)];
}

milori_status mil_picture_positive_take(mil_picture *p, const mil_picture_wish *wish) {
    static const int clockwise[4] = {1, 6, 3, 8}; /* TIFF 6.0, tag 274 */
    const mil_source_info *info = mil_source_info_of(p->source);
    if (of_scan_only(wish))
        return mil_fail(p->ctx, MILORI_ERR_ARGUMENT,
                        "%s: is a positive, and only its scan shows the sheet's edge; name the "
                        "scan, or leave --edge out",
                        p->path);
    p->turn = mil_orient_compose(info->orientation, clockwise[(p->choices.turn / 90) & 3]);
    p->width = p->turn >= 5 ? info->height : info->width;
    p->height = p->turn >= 5 ? info->width : info->height;
    if (p->has_packet)
        return words_of_own(p);
    words_of_lightness(p);
    if (!wish->palette_chosen && info->channels == 3)
        mil_note(&p->notes, "palette",
                 "holds no record of its palette: its lightness alone is printed, in neutral; "
                 "--palette names another");
    return MILORI_OK;
}

/* ---- drawing ------------------------------------------------------------------ */

typedef struct reading {
    mil_picture *p;
    uint32_t width; /* as stored */
    uint16_t *codes, *words;
    float *light, *row;
} reading;

enum { BAND = MIL_SPILL_STRIP };

static milori_status reading_new(mil_picture *p, reading *r) {
    const mil_source_info *info = mil_source_info_of(p->source);
    *r = (reading){.p = p, .width = info->width};
    size_t px = (size_t)BAND * (p->width > p->height ? p->width : p->height);
    r->codes = mil_alloc(p->ctx, (size_t)BAND * info->width * (size_t)info->channels, 2);
    r->words = mil_alloc(p->ctx, px, sizeof *r->words);
    r->light = mil_alloc(p->ctx, (size_t)info->width * (size_t)info->channels, sizeof *r->light);
    r->row = mil_alloc(p->ctx, info->width, sizeof *r->row);
    return r->codes && r->words && r->light && r->row ? MILORI_OK : MILORI_ERR_MEMORY;
}

static void reading_free(reading *r) {
    free(r->codes);
    free(r->words);
    free(r->light);
    free(r->row);
}

/* The next count rows, as words. */
static milori_status read_rows(reading *r, uint32_t count) {
    mil_picture *p = r->p;
    size_t samples = (size_t)r->width * (size_t)p->decode->channels;
    milori_status status = mil_source_read(p->source, count, r->codes);
    for (uint32_t y = 0; y < count && status == MILORI_OK; y++) {
        luminance(p->decode, r->codes + y * samples, r->width, r->light, r->row);
        uint16_t *words = r->words + (size_t)y * r->width;
        for (uint32_t i = 0; i < r->width; i++) {
            float light = r->row[i] > 0 ? r->row[i] < 1 ? r->row[i] : 1 : 0;
            words[i] = p->word[(int)(65535 * light + 0.5f)];
        }
    }
    return status;
}

/* Every row, to the canvas where the picture lies as stored, else to the spill. */
static milori_status read_all(reading *r, mil_canvas *canvas, mil_spill *spill) {
    uint32_t height = mil_source_info_of(r->p->source)->height;
    milori_status status = mil_source_rewind(r->p->source);
    for (uint32_t y = 0; y < height && status == MILORI_OK; y += BAND) {
        uint32_t n = height - y < BAND ? height - y : BAND;
        status = read_rows(r, n);
        if (status == MILORI_OK && spill)
            status = mil_spill_put(spill, n, r->words);
        else if (status == MILORI_OK)
            mil_canvas_put(canvas, 0, y, r->width, n, r->words);
        if (status == MILORI_OK)
            status = mil_check_cancel(r->p->ctx);
        mil_progress(r->p->ctx, (double)(y + n) / height);
    }
    return status;
}

static milori_status turn_over(reading *r, mil_spill *spill, mil_canvas *canvas) {
    mil_picture *p = r->p;
    milori_status status = MILORI_OK;
    for (uint32_t y = 0; y < p->height && status == MILORI_OK; y += BAND) {
        uint32_t n = p->height - y < BAND ? p->height - y : BAND;
        status = mil_spill_get(spill, y, n, r->words);
        if (status == MILORI_OK)
            mil_canvas_put(canvas, 0, y, p->width, n, r->words);
    }
    return status;
}

/* The whole positive: its file is read from the top in any case. */
milori_status mil_picture_positive_draw(mil_picture *p, mil_part_rect *part, mil_canvas **canvas) {
    static const uint16_t dark = 0;
    const mil_source_info *info = mil_source_info_of(p->source);
    reading r;
    mil_spill *spill = NULL;
    *part = (mil_part_rect){0, 0, p->width, p->height};
    milori_status status = reading_new(p, &r);
    if (status == MILORI_OK)
        status = mil_canvas_new(p->ctx, p->width, p->height, 1, &dark, canvas);
    if (status == MILORI_OK && p->turn != 1)
        status = mil_spill_new(p->ctx, info->width, info->height, p->turn, &spill);
    if (status == MILORI_OK)
        status = read_all(&r, *canvas, spill);
    if (status == MILORI_OK && spill)
        status = turn_over(&r, spill, *canvas);
    mil_spill_free(spill);
    reading_free(&r);
    return status;
}

void mil_picture_positive_close(mil_picture *p) {
    mil_decode_free(p->decode);
    mil_source_close(p->source);
    free(p->word);
}
