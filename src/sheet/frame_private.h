/* What the parts of finding a frame share. All in samples of the patch. */
#ifndef MILORI_FRAME_PRIVATE_H
#define MILORI_FRAME_PRIVATE_H

#include "sheet/find_private.h"

/* Sides and their order everywhere: top right bottom left of the patch. */
enum { MIL_TOP, MIL_RIGHT, MIL_BOTTOM, MIL_LEFT };

/* What is known of the frame before looking. */
typedef struct mil_frame_wish {
    double size_mm[2]; /* NaN: any */
} mil_frame_wish;

/* A rectangle that may be the frame. */
typedef struct mil_guess {
    double offset[4];   /* of each side from the patch's centre along the turned axes, outwards */
    double angle;       /* of the frame on the patch, radians */
    double evidence[4]; /* 0: no step along the side .. 1: a clear one along all of it */
    bool seen[4];       /* false: no line was taken for this side; offset is assumed or NaN */
    double outside;     /* picture-like unrest outside, 0 none */
    double score;
} mil_guess;

enum { MIL_GUESSES = 24 };

typedef struct mil_guesses {
    int count;
    mil_guess guess[MIL_GUESSES]; /* best first, each apart from the others */
} mil_guesses;

/* Straight steps in the map of exposedness, put together to rectangles. Fills patch->unrest. */
milori_status mil_frame_search(milori_context *ctx, mil_patch *patch, const mil_frame_wish *wish,
                               mil_guesses *guesses);

/* What a closer look at a guess's sides gave. */
typedef struct mil_closer {
    double share[4]; /* of each side's length whose step lies on the line */
    double error;    /* standard uncertainty of a corner between sides that were seen, samples */
    double sigma[4]; /* standard uncertainty of each side's offset, samples */
} mil_closer;

/* Moves the sides that were seen to the half levels of their steps, at one angle. */
milori_status mil_frame_refine(milori_context *ctx, const mil_patch *patch, mil_guess *guess,
                               mil_closer *closer);

/* ---- the sides at the grid's own cells (frame_rim.c, frame_fit.c) ---- */

/* A frame on the grid; lengths in cells, (0, 0) the grid's outer corner. */
typedef struct mil_sides {
    double cx, cy, angle; /* any place inside; radians */
    double offset[4];     /* outwards from there */
} mil_sides;

/* A place seen from side k: how far inside it, and how far along (right or down the frame). */
void mil_sides_place(const mil_sides *sides, int k, double x, double y, double *in, double *along);

typedef struct mil_rim_cell {
    float x, y, value; /* centre; a density, more where exposed */
} mil_rim_cell;

/* The cells near a frame's sides. count 0: too little margin to judge by. */
typedef struct mil_rim {
    double mm;    /* a cell's side */
    double noise; /* standard deviation of value between cells of margin */
    size_t count;
    mil_rim_cell *cell;
} mil_rim;

milori_status mil_rim_make(milori_context *ctx, const mil_grid *grid, const mil_rect *outline,
                           const mil_sides *sides, const bool seen[4], mil_rim *rim);
void mil_rim_free(mil_rim *rim);

/* What a fit gave. */
typedef struct mil_fitted {
    bool good;
    double corner_sigma, angle_sigma; /* standard uncertainties: px, radians */
} mil_fitted;

/* Moves a frame (px) whose sides were found to where its cells are half covered: the seen sides
 * by themselves at one angle, the others so that the frame keeps its size. Leaves the frame alone,
 * good false, if too little of it shows or it would move far. */
milori_status mil_frame_fit(milori_context *ctx, const mil_grid *grid, const mil_rect *outline,
                            const bool seen[4], mil_rect *frame, mil_fitted *fitted);

/* A frame chosen. */
typedef struct mil_choice {
    mil_guess guess;
    mil_closer closer;
    double outside;      /* unrest outside, for a sample of a mean side */
    double score, rival; /* rival: score of the best that lies elsewhere */
    const char *name;    /* nearest known size, "" none */
    double known;        /* how near, 0..1 */
    bool by_size;        /* sides not seen were set by a known size or the user's */
} mil_choice;

/* The best rectangle, its unseen sides filled in. guess.seen tells which were seen; false in
 * *any: no frame shows. */
milori_status mil_frame_choose(milori_context *ctx, mil_patch *patch, const mil_frame_wish *wish,
                               mil_choice *choice, bool *any);

/* A round frame (circle or ellipse along the guess's axes). */
typedef struct mil_round {
    double cx, cy, rx, ry, angle; /* samples, radians */
    double share;                 /* of its rim that shows a step on it */
    double outside;               /* unrest outside, as of a mil_choice */
    double sigma;                 /* standard uncertainty of its place, samples */
} mil_round;
milori_status mil_frame_round(milori_context *ctx, const mil_patch *patch, double angle,
                              mil_round *round, bool *any);

/* How near (0..1) a size in mm is to a known one, and that one's name and size. */
double mil_frame_known(double w_mm, double h_mm, const char **name, double size_mm[2]);

/* Finds the frame of one sheet whose outline is set in found, and says what is doubtful. */
milori_status mil_frame_find(milori_context *ctx, const mil_grid *grid,
                             const milori_choices *choices, mil_found *found);
/* The frame from the corners that the user gave. */
milori_status mil_frame_given(milori_context *ctx, const char *path, const mil_grid *grid,
                              const milori_choices *choices, mil_found *found);

/* The size of exposedness' step that counts in full. */
double mil_frame_full_step(const mil_patch *patch, float *work);

#endif
