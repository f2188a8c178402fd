/* Small symmetric problems against LAPACK through NumPy and SciPy (1.24 and 1.10 in Debian 12). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "sheet/by_python.h"
#include "sheet/linear.h"

/* Symmetric positive F and M whose own spreads differ by up to 1000 in any directions; eigh's last
 * vector has w'Mw = 1 and w'Fw the greatest ratio. */
static const char LEADING[] =
    "import numpy as n, scipy.linalg as s\n"
    "g = n.random.default_rng(3)\n"
    "def spd():\n"
    "  q = n.linalg.qr(g.normal(size=(3, 3)))[0]\n"
    "  return q * 10.0 ** g.uniform(-3, 0, 3) @ q.T\n"
    "for k in range(40):\n"
    "  f, m = spd(), spd()\n"
    "  e, v = s.eigh(f, m)\n"
    "  for x in [*f.flat, *m.flat, e[2], *v[:, 2]]: print(repr(float(x)))";

static void leading_axis_is_scipys(void **state) {
    (void)state;
    FILE *python = python_starts(LEADING);
    for (int k = 0; k < 40; k++) {
        double f[3][3], m[3][3], e, v[3], w[3], wf = 0, wm = 0, cross = 0;
        python_says(python, 9, f[0]);
        python_says(python, 9, m[0]);
        python_says(python, 1, &e);
        python_says(python, 3, v);
        mil_leading_axis((const double(*)[3])f, (const double(*)[3])m, w);
        for (int a = 0; a < 3; a++)
            for (int b = 0; b < 3; b++) {
                wf += w[a] * f[a][b] * w[b];
                wm += w[a] * m[a][b] * w[b];
                cross += w[a] * m[a][b] * v[b];
            }
        /* The trace's small part that makes M safe moves the axis, and the ratio by its square:
         * 1e-9 of a trace of at most 3 on a least spread of 1e-3. */
        assert_true(fabs(wf / wm / e - 1) < 1e-9);
        assert_true(fabs(cross) / sqrt(wm) > 1 - 1e-9);
    }
    python_ends(python);
}

static void leading_axis_of_what_has_none(void **state) {
    (void)state;
    const double none[3][3] = {{0}}, one[3][3] = {{1, 1, 1}, {1, 1, 1}, {1, 1, 1}};
    const double f[3][3] = {{2, 0, 0}, {0, 5, 0}, {0, 0, 3}};
    const double bad[3][3] = {{NAN, 0, 0}, {0, 1, 0}, {0, 0, 1}};
    double w[3];
    /* No noise at all: F's own axis. */
    mil_leading_axis(f, none, w);
    assert_true(fabs(w[1]) > 1e6 * (fabs(w[0]) + fabs(w[2])));
    /* Noise in one direction only: an axis blind to it. */
    mil_leading_axis(f, one, w);
    assert_true(fabs(w[0] + w[1] + w[2]) < 1e-6 * (fabs(w[0]) + fabs(w[1]) + fabs(w[2])));
    /* No signal: any axis, but one. */
    mil_leading_axis(none, one, w);
    assert_true(isfinite(w[0]) && isfinite(w[1]) && isfinite(w[2]));
    assert_true(fabs(w[0]) + fabs(w[1]) + fabs(w[2]) > 0);
    mil_leading_axis(f, bad, w);
    assert_true(w[0] == 1 && w[1] == 0 && w[2] == 0);
}

/* Every other matrix has a zero on its diagonal, so that rows must change places. */
static const char SOLVE[] = "import numpy as n\n"
                            "g = n.random.default_rng(5)\n"
                            "for k in range(40):\n"
                            "  a, b = g.normal(size=(3, 3)), g.normal(size=3)\n"
                            "  a[k % 3, k % 3] *= k % 2\n"
                            "  x = n.linalg.solve(a, b)\n"
                            "  for y in [*a.flat, *b, *x]: print(repr(float(y)))";

static void three_equations_as_numpy_solves_them(void **state) {
    (void)state;
    FILE *python = python_starts(SOLVE);
    for (int k = 0; k < 40; k++) {
        double a[3][3], b[3], want[3], x[3];
        python_says(python, 9, a[0]);
        python_says(python, 3, b);
        python_says(python, 3, want);
        assert_true(mil_solve3((const double(*)[3])a, b, x));
        double size = fabs(want[0]) + fabs(want[1]) + fabs(want[2]);
        for (int c = 0; c < 3; c++)
            assert_true(fabs(x[c] - want[c]) < 1e-12 * size * (1 + size));
    }
    python_ends(python);
}

static void singular_equations_are_refused(void **state) {
    (void)state;
    const double b[3] = {1, 2, 3};
    const double none[3][3] = {{0}}, twice[3][3] = {{1, 2, 4}, {2, 4, 8}, {0, 1, 1}};
    const double no_column[3][3] = {{1, 0, 2}, {3, 0, 1}, {2, 0, 5}};
    const double bad[3][3] = {{NAN, NAN, NAN}, {NAN, NAN, NAN}, {NAN, NAN, NAN}};
    double x[3];
    assert_false(mil_solve3(none, b, x));
    assert_false(mil_solve3(twice, b, x));
    assert_false(mil_solve3(no_column, b, x));
    assert_false(mil_solve3(bad, b, x));
}

enum { MOST = 200 };

/* A covariance such as the fog's: neighbours go together, and a little noise. */
static const char CHOLESKY[] = "import numpy as n\n"
                               "g = n.random.default_rng(9)\n"
                               "for k in (1, 2, 3, 17, 200):\n"
                               "  p = g.uniform(0, 60, (k, 2))\n"
                               "  d = ((p[:, None] - p[None]) ** 2).sum(2)\n"
                               "  a = n.exp(-d / 128) + n.diag(g.uniform(0.01, 0.1, k))\n"
                               "  b = g.normal(size=k)\n"
                               "  print(k)\n"
                               "  for m in (a, b, n.linalg.cholesky(a), n.linalg.solve(a, b)):\n"
                               "    print(chr(10).join(repr(float(x)) for x in m.flat))";

static void cholesky_is_numpys(void **state) {
    (void)state;
    static double a[MOST * MOST], factor[MOST * MOST], b[MOST], want[MOST];
    FILE *python = python_starts(CHOLESKY);
    for (int k = 0; k < 5; k++) {
        double size;
        python_says(python, 1, &size);
        size_t n = (size_t)size;
        assert_true(n >= 1 && n <= MOST);
        python_says(python, n * n, a);
        python_says(python, n, b);
        python_says(python, n * n, factor);
        python_says(python, n, want);
        /* Only the lower half may be read. */
        for (size_t i = 0; i < n; i++)
            for (size_t j = i + 1; j < n; j++)
                a[i * n + j] = NAN;
        assert_true(mil_cholesky(a, n));
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j <= i; j++)
                assert_true(fabs(a[i * n + j] - factor[i * n + j]) < 1e-12);
        mil_cholesky_solve(a, n, b);
        for (size_t i = 0; i < n; i++)
            assert_true(fabs(b[i] - want[i]) < 1e-10 * (1 + fabs(want[i])));
    }
    python_ends(python);
}

static void cholesky_refuses_what_is_not_positive(void **state) {
    (void)state;
    double zero[1] = {0}, less[4] = {1, 0, 2, 3.9}, flat[4] = {1, 0, 2, 4};
    double bad[4] = {1, 0, NAN, 4}, good[4] = {1, 0, 2, 4.1};
    assert_false(mil_cholesky(zero, 1));
    assert_false(mil_cholesky(less, 2));
    assert_false(mil_cholesky(flat, 2));
    assert_false(mil_cholesky(bad, 2));
    assert_true(mil_cholesky(good, 2));
    assert_true(mil_cholesky(NULL, 0));
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(leading_axis_is_scipys),
                                       cmocka_unit_test(leading_axis_of_what_has_none),
                                       cmocka_unit_test(three_equations_as_numpy_solves_them),
                                       cmocka_unit_test(singular_equations_are_refused),
                                       cmocka_unit_test(cholesky_is_numpys),
                                       cmocka_unit_test(cholesky_refuses_what_is_not_positive)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
