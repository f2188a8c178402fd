#include "sheet/linear.h"

#include <math.h>

/* Jacobi's rotations: the columns of v become the eigenvectors of symmetric s. */
static void jacobi3(double s[3][3], double v[3][3]) {
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < 3; k++)
            v[i][k] = i == k;
    for (int sweep = 0; sweep < 24; sweep++)
        for (int p = 0; p < 2; p++)
            for (int q = p + 1; q < 3; q++) {
                if (fabs(s[p][q]) < 1e-300)
                    continue;
                double theta = (s[q][q] - s[p][p]) / (2 * s[p][q]);
                double t = (theta < 0 ? -1 : 1) / (fabs(theta) + sqrt(theta * theta + 1));
                double c = 1 / sqrt(t * t + 1), n = t * c;
                for (int k = 0; k < 3; k++) {
                    double a = s[k][p], b = s[k][q];
                    s[k][p] = c * a - n * b;
                    s[k][q] = n * a + c * b;
                }
                for (int k = 0; k < 3; k++) {
                    double a = s[p][k], b = s[q][k];
                    s[p][k] = c * a - n * b;
                    s[q][k] = n * a + c * b;
                    a = v[k][p];
                    b = v[k][q];
                    v[k][p] = c * a - n * b;
                    v[k][q] = n * a + c * b;
                }
            }
}

/* Forward: the inverse of lower factor l applied to b. */
static void lower3(const double l[9], const double b[3], double x[3]) {
    for (int i = 0; i < 3; i++) {
        double sum = b[i];
        for (int k = 0; k < i; k++)
            sum -= l[3 * i + k] * x[k];
        x[i] = sum / l[4 * i];
    }
}

void mil_leading_axis(const double f[3][3], const double m[3][3], double w[3]) {
    double l[9], trace = m[0][0] + m[1][1] + m[2][2];
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < 3; k++)
            l[3 * i + k] = m[i][k] + (i == k ? 1e-9 * trace + 1e-15 : 0);
    if (!mil_cholesky(l, 3)) {
        w[0] = 1;
        w[1] = w[2] = 0;
        return;
    }
    /* s = L^-1 F L^-T */
    double half[3][3], s[3][3], v[3][3];
    for (int k = 0; k < 3; k++) {
        double column[3] = {f[0][k], f[1][k], f[2][k]}, x[3];
        lower3(l, column, x);
        for (int i = 0; i < 3; i++)
            half[i][k] = x[i];
    }
    for (int i = 0; i < 3; i++)
        lower3(l, half[i], s[i]);
    jacobi3(s, v);
    int best = s[1][1] > s[0][0] ? 1 : 0;
    best = s[2][2] > s[best][best] ? 2 : best;
    /* w = L^-T y */
    for (int i = 2; i >= 0; i--) {
        double sum = v[i][best];
        for (int k = i + 1; k < 3; k++)
            sum -= l[3 * k + i] * w[k];
        w[i] = sum / l[4 * i];
    }
}

bool mil_solve3(const double a[3][3], const double b[3], double x[3]) {
    double m[3][4];
    for (int i = 0; i < 3; i++) {
        for (int k = 0; k < 3; k++)
            m[i][k] = a[i][k];
        m[i][3] = b[i];
    }
    for (int c = 0; c < 3; c++) {
        int p = c;
        for (int i = c + 1; i < 3; i++)
            if (fabs(m[i][c]) > fabs(m[p][c]))
                p = i;
        if (!(fabs(m[p][c]) > 1e-300))
            return false;
        for (int k = 0; k < 4; k++) {
            double swap = m[c][k];
            m[c][k] = m[p][k];
            m[p][k] = swap;
        }
        for (int i = c + 1; i < 3; i++) {
            double by = m[i][c] / m[c][c];
            for (int k = c; k < 4; k++)
                m[i][k] -= by * m[c][k];
        }
    }
    for (int i = 2; i >= 0; i--) {
        x[i] = m[i][3];
        for (int k = i + 1; k < 3; k++)
            x[i] -= m[i][k] * x[k];
        x[i] /= m[i][i];
    }
    return true;
}

bool mil_cholesky(double *a, size_t n) {
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k <= i; k++) {
            double sum = a[i * n + k];
            for (size_t j = 0; j < k; j++)
                sum -= a[i * n + j] * a[k * n + j];
            if (k < i)
                a[i * n + k] = sum / a[k * n + k];
            else if (sum > 0)
                a[i * n + i] = sqrt(sum);
            else
                return false;
        }
    return true;
}

void mil_cholesky_solve(const double *a, size_t n, double *b) {
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; k < i; k++)
            b[i] -= a[i * n + k] * b[k];
        b[i] /= a[i * n + i];
    }
    for (size_t i = n; i-- > 0;) {
        for (size_t k = i + 1; k < n; k++)
            b[i] -= a[k * n + i] * b[k];
        b[i] /= a[i * n + i];
    }
}
