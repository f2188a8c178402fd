#include "colour/lab.h"

#include <lcms2.h>
#include <math.h>

/* ICC.1: the profile connection space's white. */
static const double white[3] = {.9642, 1, .8249};

static void times(const double m[3][3], const double v[3], double out[3]) {
    double r[3];
    for (int i = 0; i < 3; i++)
        r[i] = m[i][0] * v[0] + m[i][1] * v[1] + m[i][2] * v[2];
    for (int i = 0; i < 3; i++)
        out[i] = r[i];
}

/* ISO/CIE 11664-4 with the exact fractions of its two constants. */
static double root(double t) {
    return t > 216. / 24389 ? cbrt(t) : (24389. / 27 * t + 16) / 116;
}

static double unroot(double f) {
    return f > 6. / 29 ? f * f * f : (116 * f - 16) * 27 / 24389;
}

void mil_xyz_to_lab(const double xyz[3], double lab[3]) {
    double x = root(xyz[0] / white[0]), y = root(xyz[1]), z = root(xyz[2] / white[2]);
    lab[0] = 116 * y - 16;
    lab[1] = 500 * (x - y);
    lab[2] = 200 * (y - z);
}

void mil_lab_to_xyz(const double lab[3], double xyz[3]) {
    double y = (lab[0] + 16) / 116, x = y + lab[1] / 500, z = y - lab[2] / 200;
    xyz[0] = white[0] * unroot(x);
    xyz[1] = unroot(y);
    xyz[2] = white[2] * unroot(z);
}

double mil_lightness(double luminance) {
    return 116 * root(luminance) - 16;
}

double mil_luminance(double lightness) {
    return unroot((lightness + 16) / 116);
}

double mil_ciede2000(const double lab1[3], const double lab2[3]) {
    cmsCIELab one = {lab1[0], lab1[1], lab1[2]}, two = {lab2[0], lab2[1], lab2[2]};
    return cmsCIE2000DeltaE(&one, &two, 1, 1, 1);
}

/* Ottosson 2020: XYZ D65 to cone responses, their cube roots to OKLab; and the
 * inverses of both. */
static const double to_cones[3][3] = {{0.8189330101, 0.3618667424, -0.1288597137},
                                      {0.0329845436, 0.9293118715, 0.0361456387},
                                      {0.0482003018, 0.2643662691, 0.6338517070}};
static const double to_oklab[3][3] = {{0.2104542553, 0.7936177850, -0.0040720468},
                                      {1.9779984951, -2.4285922050, 0.4505937099},
                                      {0.0259040371, 0.7827717662, -0.8086757660}};
static const double from_cones[3][3] = {
    {1.2270138511035211, -0.5577999806518222, 0.2812561489664678},
    {-0.0405801784232806, 1.11225686961683, -0.07167667866560119},
    {-0.0763812845057069, -0.4214819784180127, 1.5861632204407947}};
static const double from_oklab[3][3] = {
    {0.9999999984505197, 0.3963377921737678, 0.21580375806075883},
    {1.0000000088817607, -0.10556134232365633, -0.0638541747717059},
    {1.0000000546724106, -0.08948418209496574, -1.2914855378640917}};

void mil_xyz_to_oklab(const double xyz[3], double lab[3]) {
    double cones[3];
    times(to_cones, xyz, cones);
    for (int i = 0; i < 3; i++)
        cones[i] = cbrt(cones[i]);
    times(to_oklab, cones, lab);
}

void mil_oklab_to_xyz(const double lab[3], double xyz[3]) {
    double cones[3];
    times(from_oklab, lab, cones);
    for (int i = 0; i < 3; i++)
        cones[i] = cones[i] * cones[i] * cones[i];
    times(from_cones, cones, xyz);
}

/* The Bradford transform between ICC's D50 and D65 at x .3127, y .3290. */
static const double d65_d50[3][3] = {
    {1.0478860032225505, 0.0229187651747795, -0.05021609531173304},
    {0.02958178249800339, 0.9904835184905486, -0.01707870770448269},
    {-0.00925188083920884, 0.01507260748703131, 0.7516781336176034}};
static const double d50_d65[3][3] = {
    {0.9555125889283472, -0.02307297517304351, 0.06330908471330186},
    {-0.0283247593101188, 1.0099429264007957, 0.02105443875138902},
    {0.01232870317482125, -0.02053530765430327, 1.3307136899175889}};

void mil_d50_to_d65(const double xyz[3], double out[3]) {
    times(d50_d65, xyz, out);
}

void mil_d65_to_d50(const double xyz[3], double out[3]) {
    times(d65_d50, xyz, out);
}
