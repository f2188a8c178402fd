/* Threads that share one list of items at a time: fork and join. */
#ifndef MILORI_POOL_H
#define MILORI_POOL_H

#include "base/base.h"

typedef struct mil_pool mil_pool;

/* One item of the work; worker is 0 .. mil_pool_workers() - 1, no two at once the same. */
typedef void (*mil_pool_job)(void *data, uint32_t item, int worker);

/* threads - 1 threads beside the caller's own; fewer if the system gives fewer. NULL after
 * mil_fail(). */
mil_pool *mil_pool_new(milori_context *ctx, int threads);
int mil_pool_workers(const mil_pool *pool);
/* Starts items 0 .. count - 1; the caller may do something else until it joins. */
void mil_pool_start(mil_pool *pool, mil_pool_job job, void *data, uint32_t count);
/* Helps with what is left, as worker 0, and returns when all is done. */
void mil_pool_join(mil_pool *pool);
/* Joins, ends the threads and frees. NULL is fine. */
void mil_pool_free(mil_pool *pool);

#endif
