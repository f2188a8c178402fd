#include "view/job.h"

#include <pthread.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "render/place.h"
#include "render/scan.h"
#include "scan/source.h"

typedef struct owned {
    char *path, *shown, *stem;
    int sheet;
    milori_choices choices;
} owned;

struct mil_job {
    const char *folder;
    pthread_mutex_t lock;
    pthread_t thread;
    bool started; /* there is a thread to join */
    atomic_bool stop;
    owned *item;
    size_t count;
    /* under lock */
    mil_job_state state;
    char *words, *shown_words;
    size_t words_size;
};

milori_status mil_job_new(milori_context *ctx, const char *folder, mil_job **out) {
    mil_job *job = mil_alloc(ctx, 1, sizeof *job);
    if (!job)
        return MILORI_ERR_MEMORY;
    job->folder = folder;
    if (pthread_mutex_init(&job->lock, NULL) != 0) {
        free(job);
        return mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: close other programs");
    }
    *out = job;
    return MILORI_OK;
}

static void drop_items(mil_job *job) {
    for (size_t i = 0; i < job->count; i++) {
        free(job->item[i].path);
        free(job->item[i].shown);
        free(job->item[i].stem);
    }
    free(job->item);
    job->item = NULL;
    job->count = 0;
}

static void say(mil_job *job, const char *format, ...) MIL_PRINTF(2, 3);
static void say(mil_job *job, const char *format, ...) {
    char line[1024];
    va_list list;
    va_start(list, format);
    vsnprintf(line, sizeof line, format, list);
    va_end(list);
    size_t n = strlen(line);
    pthread_mutex_lock(&job->lock);
    char *words = realloc(job->words, job->words_size + n + 2);
    if (words) {
        memcpy(words + job->words_size, line, n);
        memcpy(words + job->words_size + n, "\n", 2);
        job->words = words;
        job->words_size += n + 1;
    }
    pthread_mutex_unlock(&job->lock);
}

static bool asked_to_stop(void *data) {
    return atomic_load(&((mil_job *)data)->stop);
}

static void progress(double done, void *data) {
    mil_job *job = data;
    pthread_mutex_lock(&job->lock);
    job->state.part = done;
    pthread_mutex_unlock(&job->lock);
}

static void count_one(mil_job *job, bool made) {
    pthread_mutex_lock(&job->lock);
    if (made)
        job->state.made++;
    else
        job->state.failed++;
    pthread_mutex_unlock(&job->lock);
}

/* Whether the place is free or this scan's own; says what is in the way. */
static bool may_write(mil_job *job, milori_context *ctx, const owned *item, const char *path,
                      int number) {
    char digest[33] = "";
    const char *slash = strrchr(item->path, '/');
    char *source = mil_printable(slash ? slash + 1 : item->path);
    if (mil_file_digest(ctx, item->path, digest) != MILORI_OK || !source) {
        say(job, "%s", milori_message(ctx));
        free(source);
        return false;
    }
    const mil_making making = {source, digest, "", "", ""};
    mil_place place = mil_place_of(path, &making, number, NULL);
    bool may = place != MIL_PLACE_OTHER && place != MIL_PLACE_STRANGE;
    char *shown = may ? NULL : mil_printable(path);
    if (!may)
        say(job, "%s: is there and not this scan's positive; move it",
            shown ? shown : "its positive");
    free(shown);
    free(source);
    return may;
}

static void make_sheet(mil_job *job, milori_context *ctx, milori_scan *scan, const owned *item,
                       int index, int of) {
    char *path = mil_result_path(ctx, job->folder, item->stem, index + 1, of, item->choices.format);
    bool made = false;
    if (path && may_write(job, ctx, item, path, index + 1)) {
        made = milori_scan_positive(scan, index, &item->choices, path, true) == MILORI_OK;
        char *shown = mil_printable(path);
        if (made)
            say(job, "made %s", shown ? shown : "a positive");
        else
            say(job, "%s", milori_message(ctx));
        free(shown);
    }
    milori_clear(ctx);
    count_one(job, made);
    free(path);
}

static void make_item(mil_job *job, milori_context *ctx, const owned *item) {
    milori_scan *scan = NULL;
    milori_status status = milori_scan_open(ctx, item->path, &scan);
    if (status == MILORI_OK)
        status = milori_scan_measure(scan, &item->choices);
    if (status == MILORI_OK) {
        int of = milori_scan_facts_of(scan)->sheets;
        for (int i = 0; i < of && !asked_to_stop(job); i++)
            if (item->sheet < 0 || item->sheet == i)
                make_sheet(job, ctx, scan, item, i, of);
    } else if (status != MILORI_ERR_CANCELLED) {
        say(job, "%s", milori_message(ctx));
        count_one(job, false);
    }
    milori_clear(ctx);
    milori_scan_close(scan);
}

static void *work(void *data) {
    mil_job *job = data;
    milori_context *ctx = milori_context_new();
    if (ctx) {
        milori_set_cancel(ctx, asked_to_stop, job);
        milori_set_progress(ctx, progress, job);
    } else {
        say(job, "out of memory: close other programs");
    }
    for (size_t i = 0; ctx && i < job->count && !asked_to_stop(job); i++) {
        make_item(job, ctx, &job->item[i]);
        pthread_mutex_lock(&job->lock);
        job->state.done++;
        job->state.part = 0;
        pthread_mutex_unlock(&job->lock);
    }
    milori_context_free(ctx);
    pthread_mutex_lock(&job->lock);
    job->state.running = false;
    pthread_mutex_unlock(&job->lock);
    return NULL;
}

static milori_status copy_items(milori_context *ctx, mil_job *job, const mil_job_item *items,
                                size_t count) {
    job->item = mil_alloc(ctx, count, sizeof *job->item);
    if (!job->item)
        return MILORI_ERR_MEMORY;
    job->count = count;
    for (size_t i = 0; i < count; i++) {
        owned *o = &job->item[i];
        *o = (owned){mil_strdup(ctx, items[i].path), mil_strdup(ctx, items[i].shown),
                     mil_strdup(ctx, items[i].stem), items[i].sheet, items[i].choices};
        if (!o->path || !o->shown || !o->stem)
            return MILORI_ERR_MEMORY;
    }
    return MILORI_OK;
}

/* The thread of the last job is at its end: takes it in. */
static void join(mil_job *job) {
    if (job->started)
        pthread_join(job->thread, NULL);
    job->started = false;
    drop_items(job);
}

milori_status mil_job_start(milori_context *ctx, mil_job *job, const mil_job_item *items,
                            size_t count) {
    mil_job_state now;
    mil_job_look(job, &now);
    if (now.running)
        return mil_fail(ctx, MILORI_ERR_EXISTS, "positives are being made; wait or stop them");
    join(job);
    free(job->words);
    job->words = NULL;
    job->words_size = 0;
    atomic_store(&job->stop, false);
    job->state = (mil_job_state){.running = true, .items = (int)count};
    milori_status status = copy_items(ctx, job, items, count);
    if (status == MILORI_OK && pthread_create(&job->thread, NULL, work, job) != 0)
        status = mil_fail(ctx, MILORI_ERR_MEMORY, "the system gives no thread; try again");
    job->started = status == MILORI_OK;
    if (status != MILORI_OK) {
        job->state.running = false;
        drop_items(job);
    }
    return status;
}

void mil_job_look(mil_job *job, mil_job_state *state) {
    pthread_mutex_lock(&job->lock);
    free(job->shown_words);
    job->shown_words = job->words ? strdup(job->words) : NULL;
    *state = job->state;
    state->words = job->shown_words ? job->shown_words : "";
    pthread_mutex_unlock(&job->lock);
}

void mil_job_stop(mil_job *job) {
    atomic_store(&job->stop, true);
}

void mil_job_free(mil_job *job) {
    if (!job)
        return;
    mil_job_stop(job);
    join(job);
    pthread_mutex_destroy(&job->lock);
    free(job->words);
    free(job->shown_words);
    free(job);
}
