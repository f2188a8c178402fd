/* Positives made beside the page's own work, in a thread of their own. */
#ifndef MILORI_JOB_H
#define MILORI_JOB_H

#include "base/base.h"

typedef struct mil_job mil_job;

/* One positive to be made, or all sheets' of a scan. Strings are copied. */
typedef struct mil_job_item {
    const char *path, *shown, *stem;
    int sheet;              /* from 0; -1: all */
    milori_choices choices; /* of all these sheets */
} mil_job_item;

typedef struct mil_job_state {
    bool running;
    int items, done; /* scans or sheets asked for, and dealt with */
    int made, failed;
    double part;       /* of the one under work, 0..1 */
    const char *words; /* what there was to say, a line each; until the next call */
} mil_job_state;

/* No job yet; folder must outlive it. */
milori_status mil_job_new(milori_context *ctx, const char *folder, mil_job **job);
/* MILORI_ERR_EXISTS while the last one runs. A positive of another scan, or a file
 * that is none, is never written over: that item fails with a line. */
milori_status mil_job_start(milori_context *ctx, mil_job *job, const mil_job_item *items,
                            size_t count);
void mil_job_look(mil_job *job, mil_job_state *state);
/* Asks it to stop at the next band of rows; nothing is left half-written. */
void mil_job_stop(mil_job *job);
/* Stops it, waits and frees. NULL is fine. */
void mil_job_free(mil_job *job);

#endif
