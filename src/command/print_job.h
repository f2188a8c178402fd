/* What `milori print` is asked for, read from its options before any work. */
#ifndef MILORI_PRINT_JOB_H
#define MILORI_PRINT_JOB_H

#include "command/batch.h"
#include "command/options.h"
#include "command/progress.h"
#include "print/layout.h"
#include "print/page_write.h"
#include "print/picture.h"

typedef struct mil_print_job {
    milori_context *ctx;
    const mil_options *options;
    mil_batch batch;
    milori_choices choices, own; /* own: for the scan that --like's record is of */
    mil_layout_wish layout;
    double sharpen_mm; /* 0 none */
    bool edge;
    int sheet; /* from 0; -1 not said */
    mil_output *output;
    mil_page_file file; /* but for dpi and output, which each page has */
    mil_bar bar;
    size_t at;         /* the entry that is worked on */
    double base, span; /* of its work: what is told of now */
} mil_print_job;

/* Everything is to be freed by mil_print_job_free(), on failure too. */
milori_status mil_print_job_read(milori_context *ctx, const mil_options *options,
                                 mil_print_job *job);
void mil_print_job_free(mil_print_job *job);

/* Opens an entry of the batch under the job's choices, and says its notes. A
 * positive is refused where the command line holds choices of a scan. */
milori_status mil_print_job_open(mil_print_job *job, const mil_entry *entry, mil_picture **picture);
/* MILORI_ERR_ARGUMENT if the choice says how a scan is made positive, and so nothing of
 * the finished positive that entry is. */
milori_status mil_print_job_allow(const mil_print_job *job, const mil_entry *entry,
                                  const char *choice);
/* The wish that sheet index of a picture is taken with. choices must live as long. */
mil_picture_wish mil_print_job_wish(const mil_print_job *job, const milori_choices *choices);
/* What the bar shows from now on of entry at: its work from base to base + span, 0..1. */
void mil_print_job_stage(mil_print_job *job, size_t at, double base, double span);
/* Prints notes as lines about the entry, but those that a print knows better. */
void mil_print_job_notes(mil_print_job *job, const char *about, const milori_notes *notes);
/* "made FILE", unless quiet. */
void mil_print_job_made(mil_print_job *job, const char *path);

/* Says the context's failure; the exit status that it ends with. */
int mil_print_job_failed(mil_print_job *job);

/* The pages, print_contact.c. They return the
 * program's exit status and have said what went wrong. */
int mil_print_contact(mil_print_job *job);
int mil_print_strip(mil_print_job *job, mil_picture *picture);

#endif
