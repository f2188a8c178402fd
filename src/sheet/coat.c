/* How thick the coat is at each cell, and how far it was exposed there. */
#include "sheet/cells.h"

#include <math.h>

#include "sheet/find_private.h"
#include "sheet/linear.h"

/* What is expected of a sheet before it is looked at; standard deviations. Ours. */
static const double COAT_SPREAD = 0.25;          /* of its mean */
static const double STAIN_SPREAD = 0.03;         /* K/S in blue */
static const double TEXTURE = 0.006;             /* of the light, a cell's mean */
static const double NOISE = 0.004;               /* K/S */
static const double STAIN[3] = {0.12, 0.3, 1.0}; /* K/S of a yellow-brown, blue 1 */

/* dKS / dlnR: what a texture that scales the light does to K/S. */
static double slope(double ks) {
    double r = 1 + ks - sqrt(ks * ks + 2 * ks);
    return (1 - r * r) / (2 * r);
}

/* ks = paper + coat * yellow + dye * image + stain + texture + noise, the most probable coat
 * and dye given these spreads (Gaussian, so one 3 x 3 system a cell). */
static void unmix(const mil_dyes *d, const double ks[3], double *coat, double *dye) {
    double r[3], j[3], jj = 0, h[3][3], g[3], x[3] = {1, 0, 0};
    const double *a[3] = {d->yellow, d->image, STAIN};
    for (int c = 0; c < 3; c++) {
        r[c] = ks[c] - d->paper[c];
        j[c] = slope(ks[c]);
        jj += j[c] * j[c];
    }
    /* Inverse of NOISE^2 I + TEXTURE^2 j j' (Sherman and Morrison). */
    double in = 1 / (NOISE * NOISE), t = TEXTURE * TEXTURE * in;
    double k = t / (1 + t * jj);
    double aj[3], rj = 0;
    for (int c = 0; c < 3; c++)
        rj += r[c] * j[c];
    for (int p = 0; p < 3; p++) {
        aj[p] = 0;
        for (int c = 0; c < 3; c++)
            aj[p] += a[p][c] * j[c];
    }
    for (int p = 0; p < 3; p++) {
        g[p] = -k * aj[p] * rj;
        for (int c = 0; c < 3; c++)
            g[p] += a[p][c] * r[c];
        g[p] *= in;
        for (int q = 0; q < 3; q++) {
            h[p][q] = -k * aj[p] * aj[q];
            for (int c = 0; c < 3; c++)
                h[p][q] += a[p][c] * a[q][c];
            h[p][q] *= in;
        }
    }
    h[0][0] += 1 / (COAT_SPREAD * COAT_SPREAD);
    g[0] += 1 / (COAT_SPREAD * COAT_SPREAD);
    h[1][1] += 1e-4;
    h[2][2] += 1 / (STAIN_SPREAD * STAIN_SPREAD);
    mil_solve3((const double(*)[3])h, g, x);
    *coat = x[0] < 0.3 ? 0.3 : x[0] > 3 ? 3 : x[0];
    *dye = x[1];
}

/* The picture cannot know where the brush was thick: whatever of the coat goes with the
 * exposure, by bins of it, is a fault of the colours and taken off. */
static void forget_picture(mil_cells *cells) {
    enum { BINS = 32 };
    double edge[BINS + 1], mean[BINS], sum[BINS] = {0}, count[BINS] = {0}, at[BINS] = {0};
    for (int b = 0; b <= BINS; b++)
        edge[b] = mil_cells_quantile(cells, cells->exposed, MIL_FRAME, (double)b / BINS);
    size_t all = mil_cells_count(cells);
    for (size_t i = 0; i < all; i++) {
        if (cells->part[i] != MIL_FRAME)
            continue;
        int b = 0;
        while (b < BINS - 1 && cells->exposed[i] > edge[b + 1])
            b++;
        sum[b] += cells->coat[i];
        at[b] += cells->exposed[i];
        count[b]++;
    }
    /* Neighbouring bins lean on each other. */
    for (int b = 0; b < BINS; b++) {
        double s = 0, w = 0;
        for (int k = 0; k < BINS; k++) {
            double g = exp(-0.5 * (k - b) * (k - b) / 2.25) * (count[k] > 0);
            s += g * (count[k] > 0 ? sum[k] / count[k] : 0);
            w += g;
        }
        mean[b] = w > 0 ? s / w : 0;
        at[b] = count[b] > 0 ? at[b] / count[b] : edge[b];
    }
    double dark = (mean[0] + mean[1] + mean[2] + mean[3]) / 4;
    for (size_t i = 0; i < all; i++) {
        if (cells->part[i] != MIL_FRAME && cells->part[i] != MIL_DOUBT)
            continue;
        int b = 0;
        while (b < BINS - 2 && cells->exposed[i] > at[b + 1])
            b++;
        double span = at[b + 1] - at[b];
        double f = span > 0 ? (cells->exposed[i] - at[b]) / span : 0;
        f = f < 0 ? 0 : f > 1 ? 1 : f;
        double off = mean[b] + f * (mean[b + 1] - mean[b]) - dark;
        cells->coat[i] = (float)(cells->coat[i] - off);
    }
}

void mil_coat_find(mil_cells *cells, const mil_dyes *dyes) {
    size_t all = mil_cells_count(cells);
    for (size_t i = 0; i < all; i++) {
        double ks[3] = {cells->ks[0][i], cells->ks[1][i], cells->ks[2][i]}, coat, amount;
        unmix(dyes, ks, &coat, &amount);
        cells->coat[i] = (float)log(coat);
        cells->exposed[i] = (float)(amount / coat);
    }
    forget_picture(cells);
    double level = mil_cells_quantile(cells, cells->coat, MIL_MARGIN, 0.5);
    for (size_t i = 0; i < all; i++) {
        double c = cells->coat[i] - level;
        bool known = cells->part[i] >= MIL_MARGIN;
        cells->coat[i] = known ? (float)(c < -0.6 ? -0.6 : c > 0.6 ? 0.6 : c) : 0;
    }
}
