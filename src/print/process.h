/* What the user's own process does to ink: the process curve. */
#ifndef MILORI_PROCESS_H
#define MILORI_PROCESS_H

#include "base/base.h"

enum { MIL_PROCESS_MOST = 256, MIL_PROCESS_ROUNDS = 1000 };

/* A printed and measured process: ink amounts of a contact negative against the
 * tones of the dry, darkened print.
 *
 * ink is the share of the ink range that the negative's own printing takes, 0 clear
 * film .. 1 the most of it; L the lightness (CIE L*, D50, as the flatbed's profile
 * has it) of the blue print under it. L rises with ink. */
typedef struct mil_process {
    size_t count; /* 2 .. MIL_PROCESS_MOST, ink rising */
    double ink[MIL_PROCESS_MOST], L[MIL_PROCESS_MOST];
    double sigma[MIL_PROCESS_MOST];   /* standard uncertainty of L, of the prints measured alone */
    double blue_lab[3], paper_lab[3]; /* of the print under clear film and under the most ink */
    double ink_rgb[3];                /* sRGB of the ink that was printed, 0..1 (see target) */
    double repeat_sigma;              /* spread of L of like patches over the sheet */
    double coat_sigma; /* spread of L from coat to coat, where tones move most; NaN: one coat yet */
    int round;         /* targets read in a row to come here: 1, 2 .. MIL_PROCESS_ROUNDS */
    char name[128];    /* the maker's: paper, coating, lamp */
} mil_process;

/* What is wrong with a process, in words; NULL nothing. */
const char *mil_process_fault(const mil_process *process);
/* Reads a process file (JSON, its format named in it) and checks it; what cannot
 * be used is refused with the reason. */
milori_status mil_process_read(milori_context *ctx, const char *path, mil_process *process);
/* Writes one that has no fault; numbers read back to the bit. */
milori_status mil_process_write(milori_context *ctx, const mil_process *process, const char *path,
                                bool replace);
/* Ink that gives a tone: tone 0 is the print's darkest, 1 its lightest, evenly
 * spaced in L* between the two. NULL process: ink = tone. Tones outside are the
 * ends'. Never falling, any thread. */
double mil_process_ink(const mil_process *process, double tone);
/* L of the print under ink 0..1: linear between the points. */
double mil_process_lightness(const mil_process *process, double ink);
/* The tone that ink gives: mil_process_ink() undone. NULL process: tone = ink. */
double mil_process_tone(const mil_process *process, double ink);

#endif
