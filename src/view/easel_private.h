/* The page's questions and their answers; for the files easel*.c alone. */
#ifndef MILORI_EASEL_PRIVATE_H
#define MILORI_EASEL_PRIVATE_H

#include <jansson.h>

#include "view/easel.h"
#include "view/job.h"

struct mil_easel {
    milori_context *ctx;
    mil_session *session;
    mil_job *job;
    const milori_choices *first;
};

/* Answers with a JSON object, which is taken over. */
void mil_answer_json(mil_answer *answer, json_t *object);
/* Answers with the context's failure as {"error": ...} and clears it. */
void mil_answer_failure(milori_context *ctx, mil_answer *answer);

/* "scan" and "sheet" of a question, numbers from 0; sheet 0 where there is none. */
milori_status mil_ask_sheet(mil_easel *easel, const json_t *in, size_t *scan, int *sheet);
/* These and "choices": an object of choices laid over those at the start. */
milori_status mil_ask_choices(mil_easel *easel, const json_t *in, const char *key,
                              milori_choices *choices);
/* "part": [x, y, w, h]; absent: *has false. */
milori_status mil_ask_part(mil_easel *easel, const json_t *in, bool *has, mil_part_rect *part);
/* A whole number; absent: as it was. */
milori_status mil_ask_whole(mil_easel *easel, const json_t *in, const char *key, int64_t low,
                            int64_t high, int64_t *value);
/* choices as a JSON object; NULL after mil_fail(). */
json_t *mil_choices_object(milori_context *ctx, const milori_choices *choices);

typedef milori_status mil_question(mil_easel *easel, const json_t *in, mil_answer *answer);
mil_question mil_ask_picture, mil_ask_scan_picture, mil_ask_curves; /* easel_pictures.c */
mil_question mil_ask_scans, mil_ask_about_sheet, mil_ask_table, mil_ask_typed, mil_ask_choose,
    mil_ask_make, mil_ask_job, mil_ask_stop_job; /* easel_choices.c */

#endif
