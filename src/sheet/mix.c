/* The mix of channels that shows picture dye and as little else as can be. */
#include "sheet/cells.h"

#include <math.h>
#include <string.h>

#include "sheet/judge.h"
#include "sheet/linear.h"

static const double LN10 = 2.302585092994046;
static const double STAIN[3] = {0.0014, 0.0036, 0.012}; /* K/S, spread of slow blotches. Ours */

double mil_density_ks(double density) {
    double r = pow(10, -density);
    r = r < 0.003 ? 0.003 : r > 1 ? 1 : r;
    return (1 - r) * (1 - r) / (2 * r);
}

double mil_ks_density(double ks) {
    ks = ks < 1e-4 ? 1e-4 : ks;
    return -log10(1 + ks - sqrt(ks * ks + 2 * ks));
}

/* dD / dKS */
static double density_slope(double ks) {
    ks = ks < 1e-4 ? 1e-4 : ks;
    double r = 1 + ks - sqrt(ks * ks + 2 * ks);
    return 2 * r / ((1 - r * r) * LN10);
}

/* Least squares with no part below nought: the covariance within the margin's cells as
 * texture (alike in all channels) + grain of the coat (along coat) + each channel's noise. */
static void split_noise(const double cov[3][3], const double coat[3], double part[5]) {
    double a[9][5], b[9], scale[3];
    for (int c = 0; c < 3; c++)
        scale[c] = sqrt(cov[c][c] > 1e-12 ? cov[c][c] : 1e-12);
    for (int i = 0; i < 9; i++) {
        int p = i / 3, q = i % 3;
        double s = scale[p] * scale[q];
        a[i][0] = 1 / s;
        a[i][1] = coat[p] * coat[q] / s;
        for (int c = 0; c < 3; c++)
            a[i][2 + c] = p == q && p == c ? 1 / s : 0;
        b[i] = cov[p][q] / s;
    }
    memset(part, 0, 5 * sizeof *part);
    /* One part at a time; five parts converge in a few hundred rounds. */
    for (int round = 0; round < 4000; round++)
        for (int k = 0; k < 5; k++) {
            double num = 0, den = 0;
            for (int i = 0; i < 9; i++) {
                double rest = b[i];
                for (int m = 0; m < 5; m++)
                    rest -= m == k ? 0 : a[i][m] * part[m];
                num += a[i][k] * rest;
                den += a[i][k] * a[i][k];
            }
            part[k] = num > 0 && den > 0 ? num / den : 0;
        }
}

static const int COV_PLACE[3][3] = {{0, 1, 2}, {1, 3, 4}, {2, 4, 5}};

/* Median over the margin's cells of one of the grid's covariance planes. */
static double margin_median(mil_cells *cells, const float *from) {
    float *plane = cells->exposed;
    size_t width = (size_t)cells->nx, pitch = (size_t)cells->grid->nx;
    for (size_t j = 0; j < (size_t)cells->ny; j++)
        memcpy(plane + j * width, from + (j + (size_t)cells->y0) * pitch + cells->x0,
               width * sizeof *plane);
    return mil_cells_quantile(cells, plane, MIL_MARGIN, 0.5);
}

void mil_margin_covariance(mil_cells *cells, double out[3][3]) {
    memset(out, 0, 9 * sizeof(double));
    for (int a = 0; a < cells->grid->channels; a++)
        for (int b = 0; b <= a; b++)
            out[a][b] = out[b][a] = margin_median(cells, cells->grid->cov[COV_PLACE[a][b]]);
}

static void add_outer(double n[3][3], const double v[3], double by) {
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++)
            n[a][b] += by * v[a] * v[b];
}

/* Change of the densities with the log of the coat, where exposure is `dye`. */
static void coat_direction(const mil_dyes *d, double dye, double out[3]) {
    for (int c = 0; c < 3; c++) {
        double own = d->yellow[c] + dye * d->image[c];
        double ks = fmax(d->paper[c] + own, 1e-3);
        out[c] = (ks - d->paper[c]) * density_slope(ks);
    }
}

void mil_least_noisy(const double n[3][3], const double signal[3], double mix[3]) {
    double answer = 0;
    if (!mil_solve3(n, signal, mix))
        mix[0] = 1, mix[1] = mix[2] = 0;
    for (int c = 0; c < 3; c++)
        answer += mix[c] * signal[c];
    for (int c = 0; c < 3; c++)
        mix[c] /= answer;
}

void mil_mix_find(mil_cells *cells, const mil_dyes *dyes, const double cov[3][3], double mix[3],
                  double detail[3], float *const smooth[3], float *leave) {
    double shot[3], plain[3], level[3], signal[3], stain[3], part[5];
    double middle = mil_cells_quantile(cells, cells->exposed, MIL_FRAME, 0.5);
    middle = middle < 0.03 ? 0.03 : middle > 0.35 ? 0.35 : middle;
    coat_direction(dyes, 0, plain);
    coat_direction(dyes, middle, level);
    for (int c = 0; c < 3; c++) {
        double margin = dyes->paper[c] + dyes->yellow[c];
        double there = fmax(margin + middle * dyes->image[c], 1e-3);
        signal[c] = mil_ks_density(there) - mil_ks_density(margin);
        stain[c] = STAIN[c] * density_slope(margin);
        /* Shot noise is as the light's root, so its variance in density as 1 / light. */
        shot[c] = (1 + pow(10, mil_ks_density(there) - mil_ks_density(margin))) / 2;
    }
    split_noise(cov, plain, part);
    /* The least noisy mix that answers 1 to the dye's change of the red density. */
    double n[3][3] = {{0}}, one[3] = {1, 1, 1};
    add_outer(n, one, part[0]);
    add_outer(n, plain, 2 * part[1]);
    add_outer(n, level, 2 * part[1]);
    add_outer(n, stain, 1);
    for (int c = 0; c < 3; c++) {
        n[c][c] += shot[c] * fmax(part[2 + c], 4e-6);
        signal[c] /= signal[0] > 0 && c > 0 ? signal[0] : 1;
    }
    signal[0] = 1;
    mil_least_noisy((const double(*)[3])n, signal, mix);
    bool stretched = mil_stretched(cells->grid);
    if (stretched)
        mil_mix_blind(cells, signal, mix);
    memcpy(detail, mix, 3 * sizeof *detail);
    if (cells->grid->lossy)
        mil_mix_detail(cells, smooth, signal, detail);
    size_t all = mil_cells_count(cells);
    for (size_t i = 0; i < all; i++) {
        double dye = cells->exposed[i], along[3];
        coat_direction(dyes, dye < -0.05 ? -0.05 : dye > 2 ? 2 : dye, along);
        double left = mix[0] * along[0] + mix[1] * along[1] + mix[2] * along[2];
        leave[i] = stretched ? 0 : (float)left;
    }
}

double mil_mix_grain(const double cov[3][3], const double mix[3]) {
    double sum = 0;
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++)
            sum += mix[a] * cov[a][b] * mix[b];
    return sum > 0 ? sum : 0;
}
