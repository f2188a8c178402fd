/* Printed charts: what one is, drawing it, and reading its print again.
 *
 * A chart is a lattice of square cells on clear film. A bead, a disc of full ink,
 * stands at every corner of a cell, so that the print shows light beads on its
 * deepest blue; some beads are pierced. Which ones says what the chart is, where
 * on it one is and which way round it lies, over and over across the sheet: no
 * single mark is needed. Most cells hold a patch. All of it can be told from
 * mil_target.
 *
 * Places are mm from the centre of the first bead, x to the right and y down, as
 * the print reads. */
#ifndef MILORI_TARGET_H
#define MILORI_TARGET_H

#include "print/patches.h"
#include "print/process.h"

/* mm: from bead to bead, side of a patch, across a bead and across its hole. */
#define MIL_TARGET_PITCH 10.0
#define MIL_TARGET_PATCH 6.4
#define MIL_TARGET_BEAD 3.2
#define MIL_TARGET_HOLE 1.5

enum {
    MIL_TARGET_VERSION = 1,
    MIL_TARGET_LEAST = 7,   /* columns or rows */
    MIL_TARGET_MOST = 63,   /* columns, rows or levels */
    MIL_TARGET_SHUFFLES = 8 /* seeds */
};

typedef struct mil_target {
    mil_target_kind kind;
    int columns, rows; /* cells */
    int levels;        /* inks of a tone target, steps of a ramp, strips of a time sheet */
    unsigned seed;
    bool curved;    /* tone targets: printed through a process curve */
    int ink[3];     /* tone targets: red, green, blue of full ink, 0..15 each */
    int half_stops; /* time sheets: half stops from strip to strip, 1 or 2 */
} mil_target;

/* What the user asks for. */
typedef struct mil_target_wish {
    mil_target_kind kind;
    double film_mm[2]; /* of the sheet of film, width and height */
    int ink[3], half_stops;
    unsigned seed;
    double noise; /* expected spread of like patches, L* */
    bool curved;
} mil_target_wish;

/* What fits on the film; MILORI_ERR_ARGUMENT if too little does. */
milori_status mil_target_plan(milori_context *ctx, const mil_target_wish *wish, mil_target *target);

/* What a cell holds. */
typedef struct mil_target_cell {
    double ink; /* of a curved target the tone that is to come out, 0 darkest .. 1 */
    int group;  /* as mil_patch has it */
    bool patch; /* false: clear film, or a strip's number */
    bool side;  /* time sheets: of the two columns that are never covered */
} mil_target_cell;

mil_target_cell mil_target_cell_at(const mil_target *target, int column, int row);
/* Repeats, ramps or strips. */
int mil_target_groups(const mil_target *target);
/* sRGB codes 0..1 of full ink of a group. */
void mil_target_group_rgb(const mil_target *target, int group, double rgb[3]);
/* "tone", "ink", "time". */
const char *mil_target_kind_name(mil_target_kind kind);
bool mil_target_kind_of(const char *name, mil_target_kind *kind);

/* Whether the bead at the corner (column, row) of cells is pierced. */
bool mil_target_pierced(const mil_target *target, int column, int row);

/* A bead found: its place in some lattice of its own, and whether it seems pierced. */
typedef struct mil_bead {
    int column, row; /* own numbering: any origin, any of the eight ways round */
    double x, y;     /* px or cells of what it was found on */
    double pierced;  /* -1 surely whole .. 1 surely pierced */
} mil_bead;

/* What the beads say. On success column and row of every bead are the chart's own
 * and mirrored tells whether (column, row) against (x, y) is a mirror image. false:
 * they say nothing that can be trusted. */
bool mil_target_decode(mil_bead *bead, size_t count, mil_target *target, bool *mirrored);

/* Writes the chart's film as a picture of its true size, mirrored. format: TIFF or
 * PNG. name: of the film's size, for the words on it. */
typedef struct mil_target_film {
    double film_mm[2], dpi;
    const char *film_name;
    const mil_process *process; /* of a curved target, else NULL */
    milori_format format;
    bool replace;
} mil_target_film;

milori_status mil_target_write(milori_context *ctx, const mil_target *target,
                               const mil_target_film *film, const char *path);

/* Finds the chart in a scan of its print and reads every patch. dpi: the user's, or
 * NaN. printed: the curve that a curved target was printed with, else NULL. Notes say what is worth
 * knowing ("mirrored", "torn" ...). A print that cannot be read or trusted fails with the reason
 * and what to do. */
milori_status mil_target_read(milori_context *ctx, const char *path, double dpi,
                              const mil_process *printed, milori_notes *notes, mil_target *target,
                              mil_patches *patches);

#endif
