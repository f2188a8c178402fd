/* Small symmetric problems: three channels, and least squares. */
#ifndef MILORI_LINEAR_H
#define MILORI_LINEAR_H

#include <stdbool.h>
#include <stddef.h>

/* The vector w along which w'Fw / w'Mw is greatest, by Jacobi's rotations after
 * Cholesky's factor of M; M is made safe by a trace's small part. */
void mil_leading_axis(const double f[3][3], const double m[3][3], double w[3]);
/* x of a x = b by Gauss with pivots; false if a is singular. */
bool mil_solve3(const double a[3][3], const double b[3], double x[3]);
/* Cholesky's factor of a symmetric positive n x n matrix in place (lower half);
 * false if it is not positive. */
bool mil_cholesky(double *a, size_t n);
/* Solves with that factor, in place. */
void mil_cholesky_solve(const double *a, size_t n, double *b);

#endif
