/* The dye axis: the mix of densities that shows exposure and little else. */
#include "sheet/find_private.h"

#include <math.h>
#include <stdlib.h>

/* Blue dye takes red light most and uses yellow up: the sense of exposure in red, green and blue
 * density (REFERENCES: charge-transfer band near 700 nm, sensitiser near 420 nm). */
static const double EXPOSED[3] = {0.88, 0.43, -0.2};
static const double RING_MM = 3.2; /* from the cut inwards: mostly margin */
static const double WHITE = 0.03;  /* density of white paper, roughly */
enum { STEP = 3 };                 /* samples between two windows, about 1 mm */

/* Mean density of the 3 x 3 samples about (i, j); false if one of them is not valid. */
static bool window(const mil_patch *p, int i, int j, double mean[3]) {
    if (i < 1 || j < 1 || i >= p->nx - 1 || j >= p->ny - 1)
        return false;
    for (int c = 0; c < p->channels; c++)
        mean[c] = 0;
    for (int y = j - 1; y <= j + 1; y++)
        for (int x = i - 1; x <= i + 1; x++) {
            size_t at = (size_t)y * (size_t)p->nx + (size_t)x;
            if (!p->valid[at])
                return false;
            for (int c = 0; c < p->channels; c++)
                mean[c] += p->density[c][at] / 9;
        }
    return true;
}

/* Differences between windows one step apart, right and down, in the ring along the cut or
 * in what is inside of it. */
static size_t differences(const mil_patch *p, bool ring, mil_difference *out) {
    int wide = (int)(RING_MM / p->mm + 0.5);
    size_t n = 0;
    for (int j = 0; j < p->ny - STEP; j++)
        for (int i = 0; i < p->nx - STEP; i++) {
            bool at_rim = i < wide || j < wide || i >= p->nx - wide || j >= p->ny - wide;
            double a[3], b[3];
            if (at_rim != ring || !window(p, i, j, a))
                continue;
            for (int way = 0; way < 2; way++)
                if (window(p, i + (way ? 0 : STEP), j + (way ? STEP : 0), b)) {
                    for (int c = 0; c < p->channels; c++)
                        out[n].d[c] = (float)(b[c] - a[c]);
                    n++;
                }
        }
    return n;
}

void mil_covariance(const mil_difference *d, size_t n, int channels, double share, float *work,
                    double cov[3][3]) {
    for (size_t k = 0; k < n; k++) {
        double sum = 0;
        for (int c = 0; c < channels; c++)
            sum += (double)d[k].d[c] * d[k].d[c];
        work[k] = (float)sum;
    }
    double most = n ? mil_quantile(work, n, share) : 0;
    size_t used = 0;
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++)
            cov[a][b] = 0;
    for (size_t k = 0; k < n; k++) {
        double sum = 0;
        for (int c = 0; c < channels; c++)
            sum += (double)d[k].d[c] * d[k].d[c];
        if (sum > most)
            continue;
        used++;
        for (int a = 0; a < channels; a++)
            for (int b = 0; b < channels; b++)
                cov[a][b] += (double)d[k].d[a] * d[k].d[b];
    }
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++)
            cov[a][b] /= used ? (double)used : 1;
}

static void invert(double m[3][3], double inverse[3][3]) {
    double det = 0;
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++) {
            int r = (b + 1) % 3, s = (b + 2) % 3, u = (a + 1) % 3, v = (a + 2) % 3;
            inverse[a][b] = m[r][u] * m[s][v] - m[r][v] * m[s][u];
        }
    for (int b = 0; b < 3; b++)
        det += m[0][b] * inverse[b][0];
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++)
            inverse[a][b] /= det;
}

/* What the coat, thicker or thinner, changes: the density of the yellowest fifth of the sheet, less
 * that of white paper. */
static void coat_of(const mil_patch *p, float *work, double coat[3]) {
    size_t n = 0;
    for (int k = 0; k < p->nx * p->ny; k++)
        if (p->valid[k])
            work[n++] = p->density[2][k] - p->density[0][k];
    double least = mil_quantile(work, n, 0.8);
    double sum[3] = {0}, count = 0;
    for (int k = 0; k < p->nx * p->ny; k++)
        if (p->valid[k] && p->density[2][k] - p->density[0][k] >= least) {
            for (int c = 0; c < 3; c++)
                sum[c] += p->density[c][k];
            count++;
        }
    for (int c = 0; c < 3; c++)
        coat[c] = count > 0 ? sum[c] / count - WHITE : 0;
}

/* The leading generalised eigenvector. */
void mil_dye_axis(double inside[3][3], double noise[3][3], double w[3]) {
    double inverse[3][3];
    invert(noise, inverse);
    double sense = 0;
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++)
            sense += EXPOSED[a] * inverse[a][b] * EXPOSED[b];
    double v[3] = {EXPOSED[0], EXPOSED[1], EXPOSED[2]};
    for (int round = 0; round < 30; round++) {
        double u[3] = {0}, next[3] = {0}, size = 0, along = 0;
        for (int a = 0; a < 3; a++)
            for (int b = 0; b < 3; b++)
                u[a] += inverse[a][b] * v[b];
        for (int a = 0; a < 3; a++)
            along += u[a] * EXPOSED[a];
        for (int a = 0; a < 3; a++) {
            for (int b = 0; b < 3; b++)
                next[a] += inside[a][b] * u[b];
            next[a] += 6 / sense * along * EXPOSED[a];
            size += next[a] * next[a];
        }
        for (int a = 0; a < 3; a++)
            v[a] = next[a] / sqrt(size);
    }
    double along = 0;
    for (int a = 0; a < 3; a++) {
        w[a] = 0;
        for (int b = 0; b < 3; b++)
            w[a] += inverse[a][b] * v[b];
        along += w[a] * EXPOSED[a];
    }
    for (int a = 0; a < 3 && along < 0; a++)
        w[a] = -w[a];
}

static void weights(const mil_patch *p, mil_difference *d, float *work, double w[3]) {
    double noise[3][3], inside[3][3], coat[3];
    mil_covariance(d, differences(p, true, d), 3, 0.8, work, noise);
    mil_covariance(d, differences(p, false, d), 3, 0.995, work, inside);
    coat_of(p, work, coat);
    for (int a = 0; a < 3; a++) {
        for (int b = 0; b < 3; b++)
            noise[a][b] += 0.15 * 0.15 * coat[a] * coat[b] + 0.002 * 0.002;
        noise[a][a] += 0.0007 * 0.0007;
    }
    mil_dye_axis(inside, noise, w);
}

milori_status mil_patch_dye(milori_context *ctx, mil_patch *p) {
    size_t count = (size_t)p->nx * (size_t)p->ny;
    mil_difference *d = mil_alloc(ctx, 2 * count, sizeof *d);
    float *work = mil_alloc(ctx, 2 * count, sizeof *work);
    milori_status status = d && work ? MILORI_OK : MILORI_ERR_MEMORY;
    if (status == MILORI_OK) {
        double w[3] = {1, 0, 0};
        if (p->channels == 3)
            weights(p, d, work, w);
        size_t n = differences(p, true, d);
        for (size_t k = 0; k < n; k++) {
            double sum = 0;
            for (int c = 0; c < p->channels; c++)
                sum += w[c] * d[k].d[c];
            work[k] = (float)fabs(sum);
        }
        double sigma = 1.4826 * mil_quantile(work, n, 0.4) * 1.28;
        sigma = sigma > 1e-9 ? sigma : 1e-9;
        for (size_t k = 0; k < count; k++) {
            double sum = 0;
            for (int c = 0; c < p->channels; c++)
                sum += w[c] * p->density[c][k];
            p->dye[k] = (float)(sum / sigma);
        }
    }
    free(d);
    free(work);
    return status;
}
