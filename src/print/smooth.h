/* A smooth response through uncertain points that never falls. */
#ifndef MILORI_SMOOTH_H
#define MILORI_SMOOTH_H

#include "base/base.h"

enum { MIL_SMOOTH_PIECES = 32, MIL_SMOOTH_COEFS = MIL_SMOOTH_PIECES + 3 };

/* Cubic B-splines on MIL_SMOOTH_PIECES equal pieces of 0 .. 1 with a penalty on
 * second differences (Eilers & Marx 1996), coefficients that never fall. */
typedef struct mil_smooth {
    double coef[MIL_SMOOTH_COEFS];
    double lambda;  /* the penalty's weight */
    double freedom; /* effective degrees of freedom */
} mil_smooth;

/* Through count points (x 0..1, y) of weights w >= 0. lambda > 0 is kept; 0 is
 * chosen by generalised cross-validation with freedom counted 1.4 times (Kim & Gu
 * 2004), which keeps it from following noise. free_fall: coefficients may fall.
 * false if the points are too few or all weights 0. */
bool mil_smooth_fit(const double *x, const double *y, const double *w, size_t count, bool free_fall,
                    double lambda, mil_smooth *smooth);
double mil_smooth_at(const mil_smooth *smooth, double x);
/* Change of y over x, per unit of x. */
double mil_smooth_slope(const mil_smooth *smooth, double x);

#endif
