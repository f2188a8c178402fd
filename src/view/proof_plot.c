/* The curves of a proof's tiles in one small plot. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "draw/stroke.h"
#include "view/proof_private.h"

static const double words_mm = 2.2, line_mm = 0.35, left_mm = 9, foot_mm = 8;
enum { EVERY = 2 }; /* stops between marks */

typedef struct axes {
    double least, most; /* stops */
    mil_proof_box box;  /* of the plot itself, px of the page */
} axes;

static double x_of(const axes *a, double stops) {
    return (stops - a->least) / (a->most - a->least) * a->box.w;
}

static double y_of(const axes *a, double lightness) {
    return a->box.h * (1 - lightness / 100);
}

static axes axes_of(const mil_proof_page *page, const mil_proof_box *box) {
    axes a = {.least = INFINITY, .most = -INFINITY};
    for (size_t i = 0; i < page->proof->count; i++) {
        a.least = fmin(a.least, page->curves[i].light[0]);
        a.most = fmax(a.most, page->curves[i].light[MIL_CURVE_SAMPLES - 1]);
    }
    double left = mil_proof_px(page, left_mm), foot = mil_proof_px(page, foot_mm);
    a.box = (mil_proof_box){box->x + left, box->y, box->w - left, box->h - foot};
    return a;
}

static milori_status stroke(const mil_proof_page *page, const axes *a, const double (*points)[2],
                            size_t count, double dash, const uint16_t *ink) {
    mil_mask mask = {0};
    milori_status status =
        mil_mask_new(page->ctx, (uint32_t)a->box.w + 1, (uint32_t)a->box.h + 1, &mask);
    if (status == MILORI_OK) {
        mil_stroke(&mask, points, count, mil_proof_px(page, line_mm), dash);
        mil_canvas_ink(page->canvas, (int64_t)a->box.x, (int64_t)a->box.y, &mask, ink);
    }
    mil_mask_free(&mask);
    return status;
}

static milori_status draw_frame(const mil_proof_page *page, const axes *a) {
    const double frame[5][2] = {
        {0.5, 0.5}, {0.5, a->box.h}, {a->box.w, a->box.h}, {a->box.w, 0.5}, {0.5, 0.5}};
    char words[32];
    double small = mil_proof_px(page, words_mm);
    milori_status status = stroke(page, a, frame, 5, 0, mil_proof_faint);
    for (int stops = (int)ceil(a->least); stops <= a->most && status == MILORI_OK; stops++) {
        const double mark[2][2] = {{x_of(a, stops), a->box.h}, {x_of(a, stops), a->box.h - small}};
        status = stroke(page, a, mark, 2, 0, mil_proof_faint);
        snprintf(words, sizeof words, "%+d", stops);
        if (status == MILORI_OK && stops % EVERY == 0)
            status = mil_proof_words(page, words, a->box.x + mark[0][0] - small,
                                     a->box.y + a->box.h + small / 2, words_mm, 0);
    }
    for (int L = 0; L <= 100 && status == MILORI_OK; L += 50) {
        snprintf(words, sizeof words, "L* %d", L);
        status = mil_proof_words(page, words, a->box.x - mil_proof_px(page, left_mm),
                                 a->box.y + fmin(fmax(y_of(a, L) - small / 2, 0), a->box.h - small),
                                 words_mm, 0);
    }
    if (status == MILORI_OK)
        status = mil_proof_words(page, "light in the scene, stops about the print's middle",
                                 a->box.x, a->box.y + a->box.h + 2.2 * small, words_mm, a->box.w);
    return status;
}

/* One curve, and its number beside it, each at another place along it. */
static milori_status draw_curve(const mil_proof_page *page, const axes *a, size_t i) {
    double points[MIL_CURVE_SAMPLES][2];
    const mil_curves *c = &page->curves[i];
    size_t count = page->proof->count;
    for (int k = 0; k < MIL_CURVE_SAMPLES; k++) {
        points[k][0] = x_of(a, c->light[k]);
        points[k][1] = y_of(a, c->lightness[k]);
    }
    /* Unbroken, long dashes, short dashes and so on: told apart without colour. */
    static const double dashes[] = {0, 3, 1.4, 0.7};
    milori_status status = stroke(page, a, (const double(*)[2])points, MIL_CURVE_SAMPLES,
                                  mil_proof_px(page, dashes[i % 4]), mil_proof_ink);
    double share = count > 1 ? (double)i / (double)(count - 1) : 0.5, target = 15 + 70 * share;
    int at = 0;
    while (at + 1 < MIL_CURVE_SAMPLES && c->lightness[at] < target)
        at++;
    char words[16];
    snprintf(words, sizeof words, "%zu", i + 1);
    if (status == MILORI_OK)
        status = mil_proof_words(page, words, a->box.x + points[at][0] + mil_proof_px(page, 0.8),
                                 a->box.y + points[at][1], words_mm, 0);
    return status;
}

milori_status mil_proof_plot(const mil_proof_page *page, const mil_proof_box *box) {
    const axes a = axes_of(page, box);
    milori_status status = draw_frame(page, &a);
    for (size_t i = 0; i < page->proof->count && status == MILORI_OK; i++)
        status = draw_curve(page, &a, i);
    return status;
}
