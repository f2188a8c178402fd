/* Points, turned rectangles and the orientation tag. */
#ifndef MILORI_GEOMETRY_H
#define MILORI_GEOMETRY_H

#include <stdbool.h>
#include <stdint.h>

/* A rectangle turned by angle (radians, clockwise on the picture since y points
 * down, -pi/4 < angle <= pi/4) about its centre. px of the stored scan. */
typedef struct mil_rect {
    double cx, cy, w, h;
    double angle;
} mil_rect;

/* Corners clockwise from the one that is top left when angle is 0. */
void mil_rect_corners(const mil_rect *rect, double corners[4][2]);
/* The least-squares rectangle of four corners in clockwise order; false if they
 * are no quadrilateral. */
bool mil_rect_fit(const double corners[4][2], mil_rect *rect);
/* In the rectangle's own coordinates: u along its width from -1 to 1, v down its height. */
void mil_rect_local(const mil_rect *rect, double x, double y, double *u, double *v);
/* Distance inside the nearest side; negative outside. */
double mil_rect_inside(const mil_rect *rect, double x, double y);

/* A point of the stored scan (width x height px) to the upright one and back;
 * orientation 1..8 as in TIFF 6.0. */
void mil_orient(int orientation, double width, double height, double x, double y, double *ux,
                double *uy);
void mil_orient_back(int orientation, double width, double height, double ux, double uy, double *x,
                     double *y);
/* Orientations as a group: first a, then b. */
int mil_orient_compose(int a, int b);
/* Four corners in any order to clockwise (y down) from the one nearest the top left. */
void mil_corners_sort(double corners[4][2]);

#endif
