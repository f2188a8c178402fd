/* Mixes for scans whose codes are no longer what the scanner saw: compressed with loss, or with
 * levels stretched. */
#include "sheet/cells.h"

#include <math.h>
#include <string.h>

#include "sheet/linear.h"

static const double LEAST_NOISE = 4e-6; /* density squared: what no margin can vouch for */

static double dot(const double a[3], const double b[3]) {
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

static double spread_along(const double cov[3][3], const double w[3]) {
    double sum = 0;
    for (int a = 0; a < 3; a++)
        sum += w[a] * dot(cov[a], w);
    return sum;
}

/* How a change of density changes lightness: the weights of ITU-R BT.601, which JPEG uses, times
 * the slope of codes that grow as light to the power 1 / 2.2, as sRGB's nearly do. */
static void lightness_of(mil_cells *cells, double light[3]) {
    static const double LIGHT[3] = {0.299, 0.587, 0.114};
    for (int c = 0; c < 3; c++) {
        double middle = mil_cells_quantile(cells, cells->density[c], MIL_FRAME, 0.5);
        light[c] = LIGHT[c] * pow(10, -middle / 2.2);
    }
}

/* Fine picture as the file shows it: how each channel goes with lightness, in the frame beyond
 * what it does in the margin. Lightness is kept, so it ties fine detail to broad tones. */
static bool shown_detail(const double frame[3][3], const double margin[3][3], const double light[3],
                         const double signal[3], double own[3]) {
    double noise = spread_along(margin, light), all = spread_along(frame, light);
    double off = noise > 0 ? fmin(1, 0.7 * all / noise) : 1;
    for (int c = 0; c < 3; c++)
        own[c] = dot(frame[c], light) - off * dot(margin[c], light);
    double part = dot(light, own), whole = dot(light, signal);
    if (!(part > 1e-12) || !(whole > 0.1 * (light[0] + light[1] + light[2])))
        return false;
    for (int c = 0; c < 3; c++)
        own[c] *= whole / part;
    return own[0] > 0.2 && own[0] < 1.5;
}

/* Least variance in the frame for an answer of 1 to that detail (Capon 1969): what loss made of
 * colour is in there, block by block, as the margin's noise is. Where little of it stands out of
 * noise it is shown no smaller than red density shows it, and no larger than it is sure. */
void mil_mix_detail(mil_cells *cells, float *const smooth[3], const double signal[3],
                    double mix[3]) {
    double frame[3][3], margin[3][3], light[3], own[3], fine[3];
    const mil_fine all = {cells->density, smooth, true};
    mil_fine_covariance(cells, MIL_FRAME, &all, frame);
    mil_fine_covariance(cells, MIL_MARGIN, &all, margin);
    lightness_of(cells, light);
    if (!shown_detail((const double(*)[3])frame, (const double(*)[3])margin, light, signal, own))
        return;
    for (int c = 0; c < 3; c++)
        frame[c][c] += LEAST_NOISE;
    mil_least_noisy((const double(*)[3])frame, own, fine);
    double seen = spread_along((const double(*)[3])frame, fine);
    double sure = 1 - spread_along((const double(*)[3])margin, fine) / seen;
    double size = fmax(sure, fmin(own[0], 1));
    for (int c = 0; c < 3; c++)
        if (!(fabs(fine[c]) < 3))
            return;
    for (int c = 0; c < 3; c++)
        mix[c] = fine[c] * size;
}

/* Stretched levels are no reflectance: texture is not alike in the channels any more, and neither
 * coat nor dye has a colour that could be known. What is left is the axis along which the frame
 * varies most against the margin; red alone where that is no dye. */
void mil_mix_blind(mil_cells *cells, double signal[3], double mix[3]) {
    double frame[3][3], margin[3][3], w[3];
    mil_fine_between(cells, cells->density, MIL_FRAME, frame);
    mil_fine_between(cells, cells->density, MIL_MARGIN, margin);
    for (int c = 0; c < 3; c++)
        margin[c][c] += LEAST_NOISE;
    mil_leading_axis((const double(*)[3])frame, (const double(*)[3])margin, w);
    double red = dot(margin[0], w);
    bool dye = red != 0;
    for (int c = 0; c < 3 && dye; c++) {
        signal[c] = dot(margin[c], w) / red;
        dye = fabs(signal[c]) < 2;
    }
    double answer = dye ? dot(w, signal) : 0;
    for (int c = 0; c < 3; c++) {
        signal[c] = dye ? signal[c] : c == 0;
        mix[c] = dye ? w[c] / answer : c == 0;
    }
}
