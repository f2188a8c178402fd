#include "tone/palette_parts.h"

#include <math.h>
#include <string.h>

#include "colour/lab.h"
#include "tone/tone.h"

/* Neutral's darkest is D 2.26, about what a glossy silver print reaches; the
 * blue's is D 1.85, a little deeper than the 1.7 of a washed print on the newer
 * formula (Ware 2022). Both common practice at best, and seen to look right. */
static const double darkest_neutral = 5, darkest_blue = 12, lightest = 100;

/* a* and b* of the colours that draw the blue, at even steps of L*: Prussian
 * blue-black, a deep blue at its fullest near L* 44, then ever greener and paler
 * to the paper's white. Our own drawing after Prussian blue's hue in a thin film
 * (231.8 degrees; Mortimer & Reynolds 2005), towards which the lights run. */
enum { DRAWN = 7 };
static const double drawn[DRAWN][2] = {{1.3, -15.5},   {2.3, -29.2}, {-1.1, -45.7}, {-8.1, -34.2},
                                       {-13.2, -19.3}, {-6, -8.7},   {0, 0}};

/* The Bezier curve of the drawn colours: every derivative is continuous, so it
 * cannot band, and it stays inside what they enclose. */
static void blue_at(double at, double lab[3]) {
    double ab[DRAWN][2];
    memcpy(ab, drawn, sizeof ab);
    for (int n = DRAWN - 1; n > 0; n--)
        for (int i = 0; i < n; i++)
            for (int c = 0; c < 2; c++)
                ab[i][c] += at * (ab[i + 1][c] - ab[i][c]);
    lab[0] = darkest_blue + at * (lightest - darkest_blue);
    lab[1] = ab[0][0];
    lab[2] = ab[0][1];
}

static void lab_to_oklab(const double lab[3], double ok[3]) {
    double xyz[3];
    mil_lab_to_xyz(lab, xyz);
    mil_d50_to_d65(xyz, xyz);
    mil_xyz_to_oklab(xyz, ok);
}

static void oklab_to_lab(const double ok[3], double lab[3]) {
    double xyz[3];
    mil_oklab_to_xyz(ok, xyz);
    mil_d65_to_d50(xyz, xyz);
    mil_xyz_to_lab(xyz, lab);
}

/* The complement: the opposite side of OKLab's grey axis, at as much OKLab
 * chroma, at the same CIE L*. */
static void complement(const double lab[3], double out[3]) {
    const double grey[3] = {lab[0], 0, 0};
    double ok[3], ok_grey[3];
    lab_to_oklab(lab, ok);
    lab_to_oklab(grey, ok_grey);
    for (int c = 1; c < 3; c++)
        ok[c] = 2 * ok_grey[c] - ok[c];
    /* OKLab's L runs close to L* / 100, so this closes in at once. */
    for (int i = 0; i < 24; i++) {
        oklab_to_lab(ok, out);
        ok[0] += (lab[0] - out[0]) / 120;
    }
    oklab_to_lab(ok, out);
    out[0] = lab[0];
}

void mil_palette_path_new(const milori_choices *choices, mil_palette_path *path) {
    memset(path, 0, sizeof *path);
    path->palette = choices->palette;
    if (path->palette != MILORI_PALETTE_FILE)
        return;
    path->stops =
        choices->palette_stops < MILORI_PALETTE_MAX ? choices->palette_stops : MILORI_PALETTE_MAX;
    for (size_t i = 0; i < path->stops; i++) {
        const milori_palette_stop *stop = &choices->palette_stop[i];
        const double value[3] = {stop->L, stop->a, stop->b};
        for (int c = 0; c < 3; c++) {
            path->points[c][i][0] = stop->at;
            path->points[c][i][1] = value[c];
        }
    }
    for (int c = 0; c < 3; c++)
        mil_monotone_slopes(path->points[c], path->stops, path->slopes[c]);
}

void mil_palette_path_at(const mil_palette_path *path, double at, double lab[3]) {
    double blue[3];
    switch (path->palette) {
    case MILORI_BLUE:
        blue_at(at, lab);
        return;
    case MILORI_AMBER:
        blue_at(at, blue);
        complement(blue, lab);
        return;
    case MILORI_PALETTE_FILE:
        for (int c = 0; c < 3; c++)
            lab[c] = mil_monotone_at(path->points[c], path->slopes[c], path->stops, at);
        return;
    case MILORI_NEUTRAL:
        break;
    }
    lab[0] = darkest_neutral + at * (lightest - darkest_neutral);
    lab[1] = lab[2] = 0;
}
