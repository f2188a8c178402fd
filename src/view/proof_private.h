/* Pieces of a proof; for the files proof*.c alone. */
#ifndef MILORI_PROOF_PRIVATE_H
#define MILORI_PROOF_PRIVATE_H

#include "draw/label.h"
#include "view/curves.h"
#include "view/proof.h"

typedef struct mil_proof_box {
    double x, y, w, h; /* px of the page */
} mil_proof_box;

typedef struct mil_proof_page {
    milori_context *ctx;
    const mil_proof *proof;
    mil_canvas *canvas;
    mil_font *font;
    mil_curves *curves; /* count */
} mil_proof_page;

extern const uint16_t mil_proof_ground[3], mil_proof_ink[3], mil_proof_faint[3];

double mil_proof_px(const mil_proof_page *page, double mm);
/* Words with their left top at (x, y), no wider than most px (0: any). */
milori_status mil_proof_words(const mil_proof_page *page, const char *words, double x, double y,
                              double height_mm, double most);
/* The curves of all tiles, numbered as they are. */
milori_status mil_proof_plot(const mil_proof_page *page, const mil_proof_box *box);

#endif
