/* What was read from a printed chart: its patches, each with its tone and spread. */
#ifndef MILORI_PATCHES_H
#define MILORI_PATCHES_H

#include "base/base.h"

typedef enum mil_target_kind { MIL_TARGET_TIME, MIL_TARGET_INK, MIL_TARGET_TONE } mil_target_kind;

enum { MIL_TARGET_GROUPS = 64 };

/* A patch of a chart, in the order of the chart's cells, row by row.
 *
 * ink: share of the ink range on the film, 0 clear .. 1 the most of it. group: of a
 * tone target the repeat it belongs to; of an ink target its ramp; of a time sheet
 * the strip, 0 the one exposed least. L, a, b: CIELAB (D50) of the blue print as the
 * scan's profile has it, unevenness of coat and light over the sheet taken off
 * (tone targets alone). sigma: standard uncertainty of L, this patch alone. x_mm,
 * y_mm: its centre on the chart, from its left top, as the print reads. */
typedef struct mil_patch {
    double ink;
    int group;
    double L, a, b, sigma;
    double x_mm, y_mm;
    bool used;
    const char *why; /* not used: the reason, a few words that are never freed; else NULL */
} mil_patch;

typedef struct mil_patches {
    size_t count;
    mil_patch *patch;
    mil_target_kind kind;
    int columns, rows; /* cells of the chart */
    int levels;        /* different inks of a ramp; strips of a time sheet */
    int groups;        /* repeats, ramps or strips */
    unsigned seed;     /* of the shuffling */
    double ink_rgb[3]; /* sRGB codes 0..1 of the ink at its most: tone targets */
    double group_rgb[MIL_TARGET_GROUPS][3]; /* the same for each ramp of an ink target */
    double stops;                           /* time sheets: stops from strip to strip */
    double clear_L, clear_sigma; /* under clear film between the patches: middle, spread */
    double repeat_sigma; /* spread of L of like patches over the sheet, what is smooth taken off */
    double uneven;       /* L from end to end that was taken off as uneven coat or light */
    double clipped;      /* share of the patches' px at either end of the scan's codes, 0..1 */
    size_t spoiled;      /* patches not used */
    bool mirrored;       /* the print reads left to right reversed: read all the same */
    bool film_only;      /* time sheets: no bare coat was found beside the film */
    double bare_L[MIL_TARGET_GROUPS]; /* time sheets: of each strip beside the film, or NaN */
} mil_patches;

void mil_patches_free(mil_patches *patches);

#endif
