/* From a target's patches to a process curve. */
#ifndef MILORI_FIT_H
#define MILORI_FIT_H

#include "print/patches.h"
#include "print/process.h"

/* How a fit went; L* throughout. */
typedef struct mil_fit {
    size_t used, spoiled, levels;     /* patches, of which left out; different inks */
    double repeat_sigma;              /* spread of like patches, this print */
    double missed_mean, missed_worst; /* how far this print's tones lie from even ones */
    double next_mean, next_worst; /* what the next round would change, were it on this very coat;
                                     another coat adds its own */
    double moved;       /* from the earlier rounds to this print, root mean square; NaN: round 1 */
    double dark_slope;  /* rise over the first twentieth of ink, as a multiple of the mean rise */
    double light_slope; /* the same over the last one */
    double ink_needed;  /* ink from which on the print is within 1 of its lightest */
} mil_fit;

/* Fits the tone target's patches; those that lie far off are marked as not used, with
 * the reason. printed: the curve that the target was printed with, which this round
 * refines (its own round, name and ink go on), or NULL. file: the scan, for messages.
 *
 * Refused with MILORI_ERR_SHEET, the reason and what to do: too few patches, tones
 * that fall as ink rises, at the dark end or elsewhere, beyond what the repeats
 * spread; no range of tones; clear film that has not reached the deepest blue.
 * Notes: "exposure" (the blue may not be the deepest), "ink" (too little or far more
 * than the process needs), "coat" (far from the earlier rounds). */
milori_status mil_fit_process(milori_context *ctx, const char *file, mil_patches *patches,
                              const mil_process *printed, mil_process *process, mil_fit *fit,
                              milori_notes *notes);

#endif
