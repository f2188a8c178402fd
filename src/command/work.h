/* Several scans at once: a thread and a context each, spoken of in order. */
#ifndef MILORI_WORK_H
#define MILORI_WORK_H

#include "command/batch.h"
#include "command/messages.h"

/* One scan's work. Anything but MILORI_ERR_LIMIT counts as dealt with: the work
 * has said in report what there is to say. MILORI_ERR_LIMIT while several share
 * the memory (alone false) must be returned unsaid: the scan is then taken up
 * again, with the same report, alone with the whole of it. */
typedef milori_status mil_work_one(void *data, size_t index, milori_context *ctx, bool alone,
                                   mil_report *report);

typedef struct mil_work {
    const mil_batch *batch;
    int jobs;        /* scans at once; 0 as suits machine and batch */
    size_t memory;   /* bytes, all jobs together */
    uint64_t pixels; /* 0: the library's default */
    bool quiet;
    mil_work_one *one;
    void *data;
} mil_work;

typedef struct mil_totals {
    int made, current, failed;
} mil_totals;

/* Works through the batch until its end or a signal. MILORI_ERR_MEMORY if no
 * thread could be had at all. */
milori_status mil_work_run(milori_context *ctx, const mil_work *work, mil_totals *totals);

#endif
