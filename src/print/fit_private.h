/* The parts of mil_fit_process(), for its own files only. */
#ifndef MILORI_FIT_PRIVATE_H
#define MILORI_FIT_PRIVATE_H

#include "print/fit.h"
#include "print/smooth.h"

enum { MIL_FIT_POINTS = 129, MIL_FIT_TONES = 65 };

/* The patches that may be used, ink rising. */
typedef struct mil_samples {
    size_t count;
    double *x;       /* where the response is fitted: ink, or the tone that printed meant by it */
    double *ink, *L; /* of each */
    double *weight;  /* 1 over variance, mean about 1; 0: spoiled */
    double *left;    /* L less the fit */
    double *spread;  /* of left about here */
    double *work;
    mil_patch **patch;
    const mil_process *printed;
} mil_samples;

/* Weights, spoiled patches and repeat spread, by a robust fit that may fall. */
milori_status mil_fit_robust(milori_context *ctx, const char *file, mil_samples *samples,
                             mil_fit *fit, mil_smooth *free_fall);
/* MILORI_OK, or the refusal of what is no response. */
milori_status mil_fit_judge(milori_context *ctx, const char *file, const mil_samples *samples,
                            const mil_smooth *free_fall);
/* Lightness at MIL_FIT_POINTS even places of ink by a smooth response. */
void mil_fit_curve(const mil_samples *samples, const mil_smooth *smooth, double *L);
/* Standard uncertainty of such a curve and what repeating the print would change, by
 * drawing its residuals' signs anew (wild bootstrap, Liu 1988), the same every time. */
milori_status mil_fit_uncertainty(milori_context *ctx, const mil_samples *samples,
                                  const mil_smooth *smooth, double *sigma, mil_fit *fit);

#endif
