/* What a time sheet and an ink target tell. */
#ifndef MILORI_TARGET_ANSWERS_H
#define MILORI_TARGET_ANSWERS_H

#include "print/patches.h"

typedef struct mil_time_answer {
    int strips;
    bool turned; /* strip 1 had most time: here it is the last */
    double just; /* L* that counts as a difference: the eye's or the print's own noise */
    int strip;   /* the first that none after it is darker than by just, from 0 */
    double L[MIL_TARGET_GROUPS], sigma[MIL_TARGET_GROUPS]; /* of each strip, 0 least time */
    double bare_L[MIL_TARGET_GROUPS];                      /* beside the film, or NaN */
    int bare_strip;                                        /* the same without film; -1 not known */
} mil_time_answer;

/* MILORI_ERR_SHEET with what to do if the deepest blue was not reached. file: for
 * messages. */
milori_status mil_time_answer_of(milori_context *ctx, const char *file, const mil_patches *patches,
                                 mil_time_answer *answer);

typedef struct mil_ramp {
    int group;
    double rgb[3];
    double dark_L, light_L; /* under no ink and under the most */
    bool covers;            /* comes within just of the lightest that any ramp prints */
    double needed;          /* share of the ink from where on it does; 1 if it does not */
} mil_ramp;

typedef struct mil_ink_answer {
    int ramps;
    double just, white_L; /* L*; white: the lightest that any ramp prints */
    mil_ramp ramp[MIL_TARGET_GROUPS];
    int best; /* the ramp that covers all with least to spare, or comes nearest to it */
} mil_ink_answer;

milori_status mil_ink_answer_of(milori_context *ctx, const char *file, const mil_patches *patches,
                                mil_ink_answer *answer);

#endif
