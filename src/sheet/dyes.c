/* The colours of paper, unexposed coat and picture dye, from the sheet itself. */
#include "sheet/cells.h"

#include <math.h>
#include <string.h>

#include "sheet/linear.h"

/* Rag paper against a scanner's white, where none shows bare: nearly white, a little warm.
 * Ours; an error of 0.02 is a hundredth of the coat's yellow. */
static const double PAPER[3] = {0.004, 0.005, 0.014};
/* Picture dye where the sheet is too faint to tell: ours, for a band near 700 nm seen through
 * ordinary filters, with the yellow it uses up. */
static const double IMAGE[3] = {1, 0.23, -0.35};

static void median_of(mil_cells *cells, mil_part part, double out[3]) {
    for (int c = 0; c < 3; c++)
        out[c] = mil_cells_quantile(cells, cells->ks[c], part, 0.5);
}

void mil_dyes_image(mil_cells *cells, double image[3]) {
    double frame[3][3], margin[3][3], w[3];
    mil_fine_between(cells, cells->ks, MIL_FRAME, frame);
    mil_fine_between(cells, cells->ks, MIL_MARGIN, margin);
    mil_leading_axis((const double(*)[3])frame, (const double(*)[3])margin, w);
    double signal = 0, noise = 0;
    for (int a = 0; a < 3; a++) {
        image[a] = 0;
        for (int b = 0; b < 3; b++) {
            image[a] += margin[a][b] * w[b];
            signal += w[a] * frame[a][b] * w[b];
            noise += w[a] * margin[a][b] * w[b];
        }
    }
    /* A picture dye is blue: it takes red light most, green less, and uses the yellow up. */
    double r = image[0];
    bool blue = r != 0 && image[1] / r > -0.1 && image[1] / r < 0.9 && image[2] / r > -1.2 &&
                image[2] / r < 0.5 && signal > 1.5 * noise;
    for (int c = 0; c < 3; c++)
        image[c] = blue ? image[c] / r : IMAGE[c];
}

void mil_dyes_find(mil_cells *cells, mil_dyes *dyes) {
    double margin[3], bare = 0;
    size_t all = mil_cells_count(cells);
    for (size_t i = 0; i < all; i++)
        bare += cells->part[i] == MIL_BARE;
    dyes->paper_seen = bare * cells->mm * cells->mm > 15;
    if (dyes->paper_seen)
        median_of(cells, MIL_BARE, dyes->paper);
    else
        memcpy(dyes->paper, PAPER, sizeof PAPER);
    median_of(cells, MIL_MARGIN, margin);
    for (int c = 0; c < 3; c++) {
        /* The coat can only add to the paper. */
        dyes->paper[c] = fmin(dyes->paper[c], margin[c]);
        dyes->yellow[c] = fmax(margin[c] - dyes->paper[c], c == 2 ? 0.02 : 0.002);
    }
    memcpy(dyes->image, IMAGE, sizeof IMAGE);
}
