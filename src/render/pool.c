#include "render/pool.h"

#include <pthread.h>
#include <stdlib.h>

enum { MOST = 64 };

typedef struct worker {
    mil_pool *pool;
    int number;
} worker;

struct mil_pool {
    pthread_mutex_t lock;
    pthread_cond_t work, done;
    mil_pool_job job;
    void *data;
    uint32_t next, count, open; /* open: items not finished */
    bool end;
    int threads; /* beside the caller's */
    pthread_t thread[MOST];
    worker each[MOST];
};

/* Takes items until none is left; the lock is held on entry and on return. */
static void take_items(mil_pool *pool, int number) {
    while (pool->next < pool->count) {
        uint32_t item = pool->next++;
        pthread_mutex_unlock(&pool->lock);
        pool->job(pool->data, item, number);
        pthread_mutex_lock(&pool->lock);
        if (--pool->open == 0)
            pthread_cond_signal(&pool->done);
    }
}

static void *work(void *data) {
    worker *me = data;
    mil_pool *pool = me->pool;
    pthread_mutex_lock(&pool->lock);
    while (!pool->end) {
        take_items(pool, me->number);
        if (!pool->end)
            pthread_cond_wait(&pool->work, &pool->lock);
    }
    pthread_mutex_unlock(&pool->lock);
    return NULL;
}

mil_pool *mil_pool_new(milori_context *ctx, int threads) {
    mil_pool *pool = mil_alloc(ctx, 1, sizeof *pool);
    if (!pool)
        return NULL;
    pthread_mutex_init(&pool->lock, NULL);
    pthread_cond_init(&pool->work, NULL);
    pthread_cond_init(&pool->done, NULL);
    for (int i = 1; i < threads && i < MOST; i++) {
        worker *w = &pool->each[pool->threads];
        *w = (worker){pool, i};
        if (pthread_create(&pool->thread[pool->threads], NULL, work, w) != 0)
            break;
        pool->threads++;
    }
    return pool;
}

int mil_pool_workers(const mil_pool *pool) {
    return pool->threads + 1;
}

void mil_pool_start(mil_pool *pool, mil_pool_job job, void *data, uint32_t count) {
    pthread_mutex_lock(&pool->lock);
    pool->job = job;
    pool->data = data;
    pool->next = 0;
    pool->count = pool->open = count;
    pthread_cond_broadcast(&pool->work);
    pthread_mutex_unlock(&pool->lock);
}

void mil_pool_join(mil_pool *pool) {
    pthread_mutex_lock(&pool->lock);
    take_items(pool, 0);
    while (pool->open > 0)
        pthread_cond_wait(&pool->done, &pool->lock);
    pool->next = pool->count = 0;
    pthread_mutex_unlock(&pool->lock);
}

void mil_pool_free(mil_pool *pool) {
    if (!pool)
        return;
    mil_pool_join(pool);
    pthread_mutex_lock(&pool->lock);
    pool->end = true;
    pthread_cond_broadcast(&pool->work);
    pthread_mutex_unlock(&pool->lock);
    for (int i = 0; i < pool->threads; i++)
        pthread_join(pool->thread[i], NULL);
    pthread_cond_destroy(&pool->done);
    pthread_cond_destroy(&pool->work);
    pthread_mutex_destroy(&pool->lock);
    free(pool);
}
