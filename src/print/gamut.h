/* How much of a picture lies outside the printer's gamut, how far, and at which
 * lightnesses. */
#ifndef MILORI_GAMUT_H
#define MILORI_GAMUT_H

#include "colour/output.h"

enum { MIL_GAMUT_RANGES = 8 };

/* A stretch of the palette outside the gamut. */
typedef struct mil_gamut_range {
    double from, to;             /* L* of the palette, from < to */
    double asked_from, asked_to; /* the same as asked of the printer (mil_output_asked()) */
    uint64_t pixels;             /* that lie there */
} mil_gamut_range;

/* Over some pixels: mean, what 95 % are within, the worst; 0 if there are none. */
typedef struct mil_gamut_distances {
    double mean, most_95, worst;
    double worst_L, worst_asked_L; /* the palette's L* where that worst is, and as asked; NaN if
                                      there are none */
} mil_gamut_distances;

/* Distances are CIEDE2000 between what is asked of the printer, after black point compensation,
 * and what its codes give (mil_output_asked(), mil_output_given()). A place is outside if the
 * nearest colour that the printer has is CIEDE2000 1 or more away. */
typedef struct mil_gamut {
    uint64_t pixels, outside; /* all, and those outside */
    double share;             /* outside / pixels, 0..1; 0 without pixels */
    mil_gamut_distances far;  /* of the pixels outside */
    mil_gamut_distances all;  /* of all pixels: what the intent changes and the profile's tables
                                 miss is in these too */
    /* Of the palette, whether or not pixels lie there: up to MIL_GAMUT_RANGES from dark to light;
     * gaps below half an L* are not told apart. */
    size_t ranges;
    mil_gamut_range range[MIL_GAMUT_RANGES];
    milori_intent intent;
    bool black_point; /* asked after compensation */
    double black_L;   /* what L* 0 was fitted to, if so */
    double paper[3];  /* CIELAB of the bare paper, absolute */
} mil_gamut;

/* line: count (2 .. 65536) colours of the palette as they were wished, darkest first, before
 * anything kept them inside the gamut; codes: what is printed for them, channels * count; pixels:
 * how many pixels lie at each place. */
milori_status mil_gamut_measure(milori_context *ctx, const mil_output *output,
                                const double (*line)[3], const uint16_t *codes,
                                const uint64_t *pixels, uint32_t count, mil_gamut *gamut);
/* What the user should know, a few lines each ended by \n; what fits in size (1000 is enough). */
void mil_gamut_words(const mil_gamut *gamut, char *words, size_t size);

#endif
