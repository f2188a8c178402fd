/* Finding the row of steps, for this room's tablet files only. */
#ifndef MILORI_TABLET_PRIVATE_H
#define MILORI_TABLET_PRIVATE_H

#include "print/tablet.h"

/* L* of a picture's cells, row by row; places are in cells, (0.5, 0.5) the middle of
 * the first. */
typedef struct mil_map {
    int nx, ny;
    float *L;
} mil_map;

/* A straight edge: towards (dx, dy) it grows lighter. */
typedef struct mil_edge {
    double x, y, dx, dy; /* middle; unit vector */
    double length, contrast;
} mil_edge;

enum { MIL_EDGES_MOST = 512 };

/* The map's straight edges, the strongest first. */
milori_status mil_edges_find(milori_context *ctx, const mil_map *map, mil_edge *edges,
                             size_t *count);

/* A row of like steps, lighter towards (dx, dy). */
typedef struct mil_row {
    double x, y;   /* middle of the first step */
    double dx, dy; /* unit vector along the row */
    double step;   /* from middle to middle */
    double width;  /* across */
} mil_row;

typedef enum mil_row_fault { MIL_ROW_FOUND, MIL_ROW_NONE, MIL_ROW_NO_END } mil_row_fault;

/* The row of steps (count of them) among the edges of the map. */
mil_row_fault mil_row_find(const mil_map *map, const mil_edge *edges, size_t edge_count,
                           size_t count, mil_row *row);

#endif
