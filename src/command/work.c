#include "command/work.h"

#include <pthread.h>
#include <stdlib.h>
#include <unistd.h>

#include "command/progress.h"

/* What a job may need beside pictures that cannot be streamed: bands, grids, tables. */
#define JOB_BYTES ((size_t)256 << 20)

typedef struct crew {
    const mil_work *work;
    int jobs;
    bool terse;             /* bar and lines would share a terminal */
    pthread_rwlock_t share; /* read: memory shared; write: one scan has all of it */
    pthread_mutex_t lock;   /* what follows */
    size_t next, printed;
    mil_report *report;
    bool *ended;
    mil_bar bar;
    mil_totals *totals;
} crew;

/* What a job's progress callback needs. */
typedef struct place {
    crew *crew;
    size_t index;
} place;

static void tell(double done, void *data) {
    place *p = data;
    crew *c = p->crew;
    pthread_mutex_lock(&c->lock);
    mil_bar_tell(&c->bar, p->index, c->work->batch->entry[p->index].name, done);
    pthread_mutex_unlock(&c->lock);
}

static bool take(crew *c, size_t *index) {
    pthread_mutex_lock(&c->lock);
    bool more = c->next < c->work->batch->count && !mil_stopped();
    if (more)
        *index = c->next++;
    pthread_mutex_unlock(&c->lock);
    return more;
}

/* Prints the reports whose turn has come. */
static void print_ready(crew *c) {
    while (c->printed < c->next && c->ended[c->printed]) {
        mil_report *report = &c->report[c->printed++];
        c->totals->made += report->made;
        c->totals->current += report->current;
        c->totals->failed += report->failed;
        mil_bar_hide(&c->bar);
        mil_report_close(report);
    }
    fflush(stdout);
}

static void end(crew *c, size_t index) {
    pthread_mutex_lock(&c->lock);
    c->ended[index] = true;
    mil_bar_ended(&c->bar, index);
    print_ready(c);
    pthread_mutex_unlock(&c->lock);
}

static milori_status attempt(crew *c, milori_context *ctx, size_t index, bool alone) {
    const mil_work *work = c->work;
    milori_set_memory_limit(ctx, alone ? work->memory : work->memory / (size_t)c->jobs);
    if (alone)
        pthread_rwlock_wrlock(&c->share);
    else
        pthread_rwlock_rdlock(&c->share);
    milori_status status = work->one(work->data, index, ctx, alone, &c->report[index]);
    pthread_rwlock_unlock(&c->share);
    milori_clear(ctx);
    return status;
}

static milori_context *job_context(crew *c, place *p) {
    milori_context *ctx = milori_context_new();
    if (!ctx)
        return NULL;
    long processors = sysconf(_SC_NPROCESSORS_ONLN);
    int threads = processors > c->jobs ? (int)(processors / c->jobs) : 1;
    milori_set_threads(ctx, threads);
    if (c->work->pixels)
        milori_set_pixel_limit(ctx, c->work->pixels);
    milori_set_cancel(ctx, mil_stop_asked, NULL);
    milori_set_progress(ctx, tell, p);
    return ctx;
}

static void *job(void *data) {
    crew *c = data;
    place p = {.crew = c};
    milori_context *ctx = job_context(c, &p);
    while (take(c, &p.index)) {
        mil_report_open(&c->report[p.index], c->work->quiet, c->terse);
        if (!ctx)
            mil_report_fail(&c->report[p.index], "%s: out of memory; name fewer scans at once",
                            c->work->batch->entry[p.index].shown);
        else if (attempt(c, ctx, p.index, c->jobs == 1) == MILORI_ERR_LIMIT && c->jobs > 1)
            attempt(c, ctx, p.index, true);
        end(c, p.index);
    }
    milori_context_free(ctx);
    return NULL;
}

/* As many jobs as processors, but no more than scans, nor than half of the
 * machine's memory holds. */
static int suitable_jobs(const mil_work *work) {
    long processors = sysconf(_SC_NPROCESSORS_ONLN), pages = sysconf(_SC_PHYS_PAGES);
    size_t jobs = work->jobs > 0 ? (size_t)work->jobs : processors > 1 ? (size_t)processors : 1;
    if (work->jobs <= 0 && pages > 0) {
        size_t held = (size_t)pages / 2 * (size_t)sysconf(_SC_PAGESIZE) / JOB_BYTES;
        if (jobs > held)
            jobs = held;
    }
    if (jobs > work->batch->count)
        jobs = work->batch->count;
    return jobs < 1 ? 1 : jobs > 64 ? 64 : (int)jobs;
}

/* The first job runs in this thread: a machine that grants no other still works. */
static void run_jobs(crew *c) {
    pthread_t thread[64];
    int started = 0;
    while (started < c->jobs - 1 && pthread_create(&thread[started], NULL, job, c) == 0)
        started++;
    job(c);
    for (int i = 0; i < started; i++)
        pthread_join(thread[i], NULL);
}

milori_status mil_work_run(milori_context *ctx, const mil_work *work, mil_totals *totals) {
    crew c = {.work = work, .jobs = suitable_jobs(work), .totals = totals};
    size_t count = work->batch->count;
    c.report = mil_alloc(ctx, count, sizeof *c.report);
    c.ended = mil_alloc(ctx, count, sizeof *c.ended);
    if (c.report && c.ended) {
        pthread_rwlock_init(&c.share, NULL);
        pthread_mutex_init(&c.lock, NULL);
        mil_bar_open(&c.bar, count, !work->quiet);
        c.terse = c.bar.on && isatty(STDOUT_FILENO);
        run_jobs(&c);
        mil_bar_close(&c.bar);
        pthread_mutex_destroy(&c.lock);
        pthread_rwlock_destroy(&c.share);
    }
    bool well = c.report && c.ended;
    free(c.report);
    free(c.ended);
    return well ? MILORI_OK : MILORI_ERR_MEMORY;
}
