/* The characteristic curve of a tablet's print as a picture. */
#ifndef MILORI_TABLET_PLOT_H
#define MILORI_TABLET_PLOT_H

#include "print/tablet.h"

/* The steps, the curve through them and the points T and S, as SVG (draw/plot.h). A
 * string to free(). */
milori_status mil_tablet_plot(milori_context *ctx, const mil_tablet_print *print, const char *title,
                              char **svg, size_t *size);

#endif
