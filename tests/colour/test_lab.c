/* CIELAB, OKLab, Bradford and CIEDE2000 against published numbers. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "colour/lab.h"

#define near(a, b, tolerance) assert_true(fabs((a) - (b)) <= (tolerance))

/* L* of Y by ISO/CIE 11664-4 (computed from its formula; REFERENCES). */
static void lightness_of_luminance(void **state) {
    (void)state;
    static const double table[6][2] = {{.90, 95.997}, {.50, 76.069}, {.18, 49.496},
                                       {.10, 37.842}, {.05, 26.735}, {.01, 8.991}};
    for (int i = 0; i < 6; i++) {
        near(mil_lightness(table[i][0]), table[i][1], 6e-4);
        near(mil_luminance(table[i][1]), table[i][0], 3e-5);
    }
    near(mil_lightness(0), 0, 1e-12);
    near(mil_lightness(.001), .001 * 24389 / 27, 1e-9);
}

static void lab_and_back(void **state) {
    (void)state;
    const double white[3] = {.9642, 1, .8249}; /* ICC.1, D50 */
    double lab[3], xyz[3];
    mil_xyz_to_lab(white, lab);
    near(lab[0], 100, 1e-12);
    near(lab[1], 0, 1e-12);
    near(lab[2], 0, 1e-12);
    for (int i = 0; i < 1000; i++) {
        const double in[3] = {i % 10 * 11, i / 10 % 10 * 20 - 90, i / 100 * 20 - 90};
        mil_lab_to_xyz(in, xyz);
        mil_xyz_to_lab(xyz, lab);
        for (int c = 0; c < 3; c++)
            near(lab[c], in[c], 1e-9);
    }
}

/* Slope of CIELAB's root at t, and half a unit of the printed XYZ's last place:
 * together what rounding can have done to a patch. */
static double root_slope(double t) {
    return t > 216. / 24389 ? 1 / (3 * pow(cbrt(t), 2)) : 24389. / 27 / 116;
}
#define ROUNDING 5e-5

/* Every patch of FOGRA39L as Debian's icc-profiles-free ships it: measured XYZ
 * (per cent, two decimals) beside CIELAB (two decimals), D50. */
static void lab_of_printed_patches(void **state) {
    (void)state;
    FILE *file = fopen("/usr/share/color/icc/FOGRA39L.ti3", "r");
    assert_non_null(file);
    char line[256];
    int patches = 0, cyan = 0;
    while (fgets(line, sizeof line, file)) {
        double v[11], lab[3];
        if (sscanf(line, "%lf %lf %lf %lf %lf %lf %lf %lf %lf %lf %lf", v, v + 1, v + 2, v + 3,
                   v + 4, v + 5, v + 6, v + 7, v + 8, v + 9, v + 10) != 11)
            continue;
        const double xyz[3] = {v[5] / 100, v[6] / 100, v[7] / 100};
        mil_xyz_to_lab(xyz, lab);
        double x = root_slope(xyz[0] / .9642), y = root_slope(xyz[1]),
               z = root_slope(xyz[2] / .8249);
        near(lab[0], v[8], .006 + ROUNDING * 116 * y);
        near(lab[1], v[9], .006 + ROUNDING * 500 * (x / .9642 + y));
        near(lab[2], v[10], .006 + ROUNDING * 200 * (y + z / .8249));
        patches++;
        if (v[5] == 15.02 && v[6] == 22.93 && v[7] == 52.85) {
            near(lab[0], 55, .01);
            near(lab[1], -37, .03);
            near(lab[2], -50, .03);
            cyan++;
        }
    }
    fclose(file);
    assert_int_equal(patches, 1617);
    assert_true(cyan > 0);
}

/* Ottosson 2020, the table of his page, three decimals. */
static void oklab_table(void **state) {
    (void)state;
    static const double table[4][6] = {{.950, 1, 1.089, 1, 0, 0},
                                       {1, 0, 0, .450, 1.236, -.019},
                                       {0, 1, 0, .922, -.671, .263},
                                       {0, 0, 1, .153, -1.415, -.449}};
    for (int i = 0; i < 4; i++) {
        double ok[3], xyz[3];
        mil_xyz_to_oklab(table[i], ok);
        mil_oklab_to_xyz(ok, xyz);
        for (int c = 0; c < 3; c++) {
            near(ok[c], table[i][3 + c], 5.1e-4);
            near(xyz[c], table[i][c], 1e-9);
        }
    }
}

static void solve_bradford(const double from[3], const double to[3], double m[3][3]) {
    /* Lam's cone responses as published, and the inverse (Lindbloom; memory). */
    static const double b[3][3] = {
        {.8951, .2664, -.1614}, {-.7502, 1.7135, .0367}, {.0389, -.0685, 1.0296}};
    static const double inverse[3][3] = {
        {.98699290546671215, -.14705425642099013, .15996265166373123},
        {.43230526972339456, .51836027153677736, .04929122821285561},
        {-.00852866457517733, .04004282165408487, .96848669578755}};
    double gain[3];
    for (int k = 0; k < 3; k++)
        gain[k] = (b[k][0] * to[0] + b[k][1] * to[1] + b[k][2] * to[2]) /
                  (b[k][0] * from[0] + b[k][1] * from[1] + b[k][2] * from[2]);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            m[i][j] = 0;
            for (int k = 0; k < 3; k++)
                m[i][j] += inverse[i][k] * gain[k] * b[k][j];
        }
}

/* The published D65 to D50 matrix (Lindbloom; REFERENCES) is for whites .95047 1
 * 1.08883 and .96422 1 .82521. It proves the arithmetic of this test, which is
 * then done again for ICC's D50 and D65 at x .3127 y .3290. */
static void bradford(void **state) {
    (void)state;
    static const double published[3][3] = {{1.0478112, .0228866, -.0501270},
                                           {.0295424, .9904844, -.0170491},
                                           {-.0092345, .0150436, .7521316}};
    const double d65[3] = {.95047, 1, 1.08883}, d50[3] = {.96422, 1, .82521};
    const double ours65[3] = {.3127 / .3290, 1, (1 - .3127 - .3290) / .3290};
    const double ours50[3] = {.9642, 1, .8249};
    double m[3][3];
    solve_bradford(d65, d50, m);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            near(m[i][j], published[i][j], 1e-7);
    solve_bradford(ours65, ours50, m);
    for (int j = 0; j < 3; j++) {
        const double unit[3] = {j == 0, j == 1, j == 2};
        double out[3], back[3];
        mil_d65_to_d50(unit, out);
        mil_d50_to_d65(out, back);
        for (int i = 0; i < 3; i++) {
            near(out[i], m[i][j], 1e-9);
            near(out[i], published[i][j], 5e-4);
            near(back[i], unit[i], 1e-12);
        }
    }
}

/* Sharma, Wu & Dalal 2005: 34 pairs in Debian's python3-skimage. */
static void ciede2000_of_sharma(void **state) {
    (void)state;
    FILE *file =
        fopen("/usr/lib/python3/dist-packages/skimage/color/tests/ciede2000_test_data.txt", "r");
    assert_non_null(file);
    char line[512];
    int pairs = 0;
    while (fgets(line, sizeof line, file)) {
        double v[20];
        int n = 0;
        for (char *word = strtok(line, " \t\n"); word && n < 20 && *word != '#';
             word = strtok(NULL, " \t\n"))
            v[n++] = strtod(word, NULL);
        if (n < 20)
            continue;
        near(mil_ciede2000(v + 2, v + 17), v[15], 5e-5);
        near(mil_ciede2000(v + 17, v + 2), v[15], 5e-5);
        pairs++;
    }
    fclose(file);
    assert_int_equal(pairs, 34);
    /* The first three again, from the paper as REFERENCES quotes it. */
    static const double blue[3] = {50, 0, -82.7485};
    static const double three[3][4] = {{50, 2.6772, -79.7751, 2.0425},
                                       {50, 3.1571, -77.2803, 2.8615},
                                       {50, 2.8361, -74.0200, 3.4412}};
    for (int i = 0; i < 3; i++)
        near(mil_ciede2000(three[i], blue), three[i][3], 5e-5);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(lightness_of_luminance),
                                       cmocka_unit_test(lab_and_back),
                                       cmocka_unit_test(lab_of_printed_patches),
                                       cmocka_unit_test(oklab_table),
                                       cmocka_unit_test(bradford),
                                       cmocka_unit_test(ciede2000_of_sharma)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
