/* A process curve as a picture. */
#ifndef MILORI_PROCESS_PLOT_H
#define MILORI_PROCESS_PLOT_H

#include "print/patches.h"
#include "print/process.h"

/* L* of the print over ink: the patches (those left out apart; NULL none), the curve
 * with twice its uncertainty, as SVG (draw/plot.h). A string to free(). */
milori_status mil_process_plot(milori_context *ctx, const mil_process *process,
                               const mil_patches *patches, char **svg, size_t *size);

#endif
