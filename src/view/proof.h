/* One sheet under several choices, side by side on one labelled page. */
#ifndef MILORI_PROOF_H
#define MILORI_PROOF_H

#include "draw/canvas.h"
#include "view/session.h"

enum { MIL_PROOF_MOST = 96 };

typedef struct mil_proof_tile {
    const char *words; /* the choice that makes it again: "--stops -0.5" */
    milori_choices choices;
} mil_proof_tile;

typedef struct mil_proof {
    const char *title;
    const mil_proof_tile *tile;
    size_t count;     /* 1 .. MIL_PROOF_MOST */
    size_t columns;   /* 0: as fits the page best */
    bool strips;      /* each tile a strip across the same picture; else each the whole */
    uint32_t page[2]; /* px */
    double dpi;       /* of the page, for the size of its words */
} mil_proof;

/* Draws the page in sRGB: a canvas of three channels, a neutral grey round the
 * pictures (ISO 3664 wants the surround neutral and between 10 and 60 % bright),
 * a caption to each tile, the curves of all in a small plot. */
milori_status mil_proof_draw(milori_context *ctx, mil_session *session, size_t scan, int sheet,
                             const mil_proof *proof, mil_canvas **canvas);

#endif
