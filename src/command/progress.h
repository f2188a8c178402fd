/* The bar on a terminal: count, name and time left. Not for use by several
 * threads at once: its owner holds a lock. */
#ifndef MILORI_PROGRESS_H
#define MILORI_PROGRESS_H

#include <stdbool.h>
#include <stddef.h>

typedef struct mil_bar {
    bool on;      /* false: nothing is drawn */
    size_t count; /* scans */
    double *done; /* of each, 0..1 */
    double sum;
    size_t ended;
    double started, drawn; /* seconds */
    bool visible;
} mil_bar;

/* A bar for count scans on standard error if wanted and if that is a terminal. */
void mil_bar_open(mil_bar *bar, size_t count, bool wanted);
/* Scan index, called name, has got so far: 0..1. */
void mil_bar_tell(mil_bar *bar, size_t index, const char *name, double done);
void mil_bar_ended(mil_bar *bar, size_t index);
/* Takes the bar off the terminal, so that lines can be printed. */
void mil_bar_hide(mil_bar *bar);
void mil_bar_close(mil_bar *bar);

#endif
