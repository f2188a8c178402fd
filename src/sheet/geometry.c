#include "sheet/geometry.h"

#include <math.h>
#include <string.h>

static const double PI = 3.14159265358979323846;

void mil_rect_corners(const mil_rect *rect, double corners[4][2]) {
    const double side[4][2] = {{-0.5, -0.5}, {0.5, -0.5}, {0.5, 0.5}, {-0.5, 0.5}};
    double c = cos(rect->angle), s = sin(rect->angle);
    for (int i = 0; i < 4; i++) {
        double u = side[i][0] * rect->w, v = side[i][1] * rect->h;
        corners[i][0] = rect->cx + u * c - v * s;
        corners[i][1] = rect->cy + u * s + v * c;
    }
}

/* Whether every turn from side to side is to the right (y down), so that the
 * four corners bound a convex quadrilateral, clockwise. */
static bool is_clockwise(const double p[4][2]) {
    for (int i = 0; i < 4; i++) {
        const double *a = p[i], *b = p[(i + 1) % 4], *c = p[(i + 2) % 4];
        double cross = (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]);
        if (!(cross > 0))
            return false;
    }
    return true;
}

/* Brings the angle into (-pi/4, pi/4]; a quarter turn swaps width and height. */
static void wrap_quarter(mil_rect *rect) {
    double quarters = ceil(rect->angle / (PI / 2) - 0.5);
    rect->angle -= quarters * (PI / 2);
    if (fmod(fabs(quarters), 2) > 0.5) {
        double w = rect->w;
        rect->w = rect->h;
        rect->h = w;
    }
}

bool mil_rect_fit(const double p[4][2], mil_rect *rect) {
    if (!is_clockwise(p))
        return false;
    /* Mean of the two sides along the width (a) and of the two along the height,
     * turned back a quarter (b). For an angle t the best width is Re(a e^-it), the
     * best height Re(b e^-it); their squares' sum is greatest at 2t = arg(a^2 + b^2). */
    double ax = (p[1][0] - p[0][0] + p[2][0] - p[3][0]) / 2;
    double ay = (p[1][1] - p[0][1] + p[2][1] - p[3][1]) / 2;
    double bx = (p[3][1] - p[0][1] + p[2][1] - p[1][1]) / 2;
    double by = -(p[3][0] - p[0][0] + p[2][0] - p[1][0]) / 2;
    double t = 0.5 * atan2(2 * (ax * ay + bx * by), ax * ax - ay * ay + bx * bx - by * by);
    if (ax * cos(t) + ay * sin(t) < 0)
        t += PI;
    mil_rect r = {.cx = (p[0][0] + p[1][0] + p[2][0] + p[3][0]) / 4,
                  .cy = (p[0][1] + p[1][1] + p[2][1] + p[3][1]) / 4,
                  .w = ax * cos(t) + ay * sin(t),
                  .h = bx * cos(t) + by * sin(t),
                  .angle = t};
    if (!(r.w > 0) || !(r.h > 0))
        return false;
    wrap_quarter(&r);
    *rect = r;
    return true;
}

void mil_rect_local(const mil_rect *rect, double x, double y, double *u, double *v) {
    double c = cos(rect->angle), s = sin(rect->angle);
    double dx = x - rect->cx, dy = y - rect->cy;
    *u = (dx * c + dy * s) / (rect->w / 2);
    *v = (-dx * s + dy * c) / (rect->h / 2);
}

double mil_rect_inside(const mil_rect *rect, double x, double y) {
    double u, v;
    mil_rect_local(rect, x, y, &u, &v);
    return fmin((1 - fabs(u)) * rect->w, (1 - fabs(v)) * rect->h) / 2;
}

/* TIFF 6.0, tag 274: the turn of each orientation, as the matrix that takes the stored axes
 * to the upright ones. */
static const int turn[9][4] = {{1, 0, 0, 1},   {1, 0, 0, 1},   {-1, 0, 0, 1},
                               {-1, 0, 0, -1}, {1, 0, 0, -1},  {0, 1, 1, 0},
                               {0, -1, 1, 0},  {0, -1, -1, 0}, {0, 1, -1, 0}};

static const int *turn_of(int orientation) {
    return turn[orientation >= 1 && orientation <= 8 ? orientation : 1];
}

void mil_orient(int orientation, double width, double height, double x, double y, double *ux,
                double *uy) {
    const int *m = turn_of(orientation);
    /* A negative axis counts from the far border. */
    double shift_x = m[0] < 0 ? width : m[1] < 0 ? height : 0;
    double shift_y = m[2] < 0 ? width : m[3] < 0 ? height : 0;
    *ux = m[0] * x + m[1] * y + shift_x;
    *uy = m[2] * x + m[3] * y + shift_y;
}

void mil_orient_back(int orientation, double width, double height, double ux, double uy, double *x,
                     double *y) {
    const int *m = turn_of(orientation);
    double dx = ux - (m[0] < 0 ? width : m[1] < 0 ? height : 0);
    double dy = uy - (m[2] < 0 ? width : m[3] < 0 ? height : 0);
    *x = m[0] * dx + m[2] * dy;
    *y = m[1] * dx + m[3] * dy;
}

int mil_orient_compose(int a, int b) {
    const int *m = turn_of(a), *n = turn_of(b);
    const int both[4] = {n[0] * m[0] + n[1] * m[2], n[0] * m[1] + n[1] * m[3],
                         n[2] * m[0] + n[3] * m[2], n[2] * m[1] + n[3] * m[3]};
    for (int i = 1; i <= 8; i++)
        if (!memcmp(both, turn[i], sizeof both))
            return i;
    return 1;
}

void mil_corners_sort(double corners[4][2]) {
    double cx = 0, cy = 0, angle[4], sorted[4][2];
    for (int i = 0; i < 4; i++) {
        cx += corners[i][0] / 4;
        cy += corners[i][1] / 4;
    }
    int order[4] = {0, 1, 2, 3}, first = 0;
    for (int i = 0; i < 4; i++)
        angle[i] = atan2(corners[i][1] - cy, corners[i][0] - cx);
    for (int i = 1; i < 4; i++)
        for (int k = i; k > 0 && angle[order[k]] < angle[order[k - 1]]; k--) {
            int swap = order[k];
            order[k] = order[k - 1];
            order[k - 1] = swap;
        }
    for (int i = 0; i < 4; i++) {
        memcpy(sorted[i], corners[order[i]], sizeof sorted[i]);
        if (sorted[i][0] + sorted[i][1] < sorted[first][0] + sorted[first][1])
            first = i;
    }
    for (int i = 0; i < 4; i++)
        memcpy(corners[i], sorted[(first + i) % 4], sizeof corners[i]);
}
