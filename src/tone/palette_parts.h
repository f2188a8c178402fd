/* The parts of mil_palette_line(), for the palettes' own files only. */
#ifndef MILORI_PALETTE_PARTS_H
#define MILORI_PALETTE_PARTS_H

#include "tone/palette.h"

/* A palette made ready: its colour at a place 0..1. */
typedef struct mil_palette_path {
    milori_palette palette;
    size_t stops; /* of the user's own: place and value of each channel */
    double points[3][MILORI_PALETTE_MAX][2];
    double slopes[3][MILORI_PALETTE_MAX];
} mil_palette_path;

void mil_palette_path_new(const milori_choices *choices, mil_palette_path *path);
void mil_palette_path_at(const mil_palette_path *path, double at, double lab[3]);

/* By how much chroma is lowered along the line: factors 0..1 at even places. */
enum { MIL_PALETTE_KNOTS = 257 };
typedef struct mil_palette_limit {
    bool needed; /* false: nowhere */
    double factor[MIL_PALETTE_KNOTS];
} mil_palette_limit;

void mil_palette_limit_new(const mil_palette_path *path,
                           bool (*holds)(const void *, const double[3]), const void *data,
                           mil_palette_limit *limit);
double mil_palette_limit_at(const mil_palette_limit *limit, double at);

#endif
