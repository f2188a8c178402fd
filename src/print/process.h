/* What the user's own process does to ink: the process curve. */
#ifndef MILORI_PROCESS_H
#define MILORI_PROCESS_H

#include "base/base.h"

enum { MIL_PROCESS_MOST = 256 };

/* A printed and measured process: ink amounts of a contact negative against the
 * tones of the dry, darkened print.
 *
 * ink is the share of the ink range that the negative's own printing takes, 0 clear
 * film .. 1 the most of it; L the lightness (CIE L*, D50, as the flatbed's profile
 * has it) of the blue print under it. L rises with ink. */
typedef struct mil_process {
    size_t count; /* 2 .. MIL_PROCESS_MOST, ink rising */
    double ink[MIL_PROCESS_MOST], L[MIL_PROCESS_MOST];
    double sigma[MIL_PROCESS_MOST];   /* standard uncertainty of L */
    double blue_lab[3], paper_lab[3]; /* of the deepest blue and of the cleared paper */
    double ink_rgb[3];                /* sRGB of the ink that was printed, 0..1 (see target) */
    double repeat_sigma;              /* spread of L of like patches over the sheet */
    int round;                        /* targets read in a row to come here: 1, 2 .. */
    char name[128];                   /* the maker's: paper, coating, lamp */
} mil_process;

/* Reads a process file (JSON, its format named in it) and checks it; what cannot
 * be used is refused with the reason. */
milori_status mil_process_read(milori_context *ctx, const char *path, mil_process *process);
milori_status mil_process_write(milori_context *ctx, const mil_process *process, const char *path,
                                bool replace);
/* Ink that gives a tone: tone 0 is the print's darkest, 1 its lightest, evenly
 * spaced in L* between the two. NULL process: ink = tone. Rising, any thread. */
double mil_process_ink(const mil_process *process, double tone);

#endif
