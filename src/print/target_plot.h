/* What a printed chart told, as a picture. */
#ifndef MILORI_TARGET_PLOT_H
#define MILORI_TARGET_PLOT_H

#include "print/process.h"
#include "print/target_answers.h"

/* Lightness over ink with the curve and its uncertainty (tone; process is its fit),
 * over ink for each ramp (ink), over time (time; answer). What does not belong to
 * the chart's kind is NULL. SVG (draw/plot.h): a string to free(). */
milori_status mil_target_plot(milori_context *ctx, const char *title, const mil_patches *patches,
                              const mil_process *process, const mil_time_answer *answer, char **svg,
                              size_t *size);

#endif
