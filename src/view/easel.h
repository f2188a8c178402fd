/* The live page: a print in the middle of its ring of neighbours, rendered by the command's own
 * Plan. What it answers is said in src/view/page/README. */
#ifndef MILORI_EASEL_H
#define MILORI_EASEL_H

#include "view/server.h"
#include "view/session.h"

typedef struct mil_easel mil_easel;

/* As mil_session_new(). */
milori_status mil_easel_new(milori_context *ctx, const mil_session_scan *scans, size_t count,
                            const char *folder, const milori_choices *first, mil_easel **easel);
/* A mil_answerer. */
void mil_easel_answer(void *easel, const mil_request *request, mil_answer *answer);
/* Stops what is being made, and frees. NULL is fine. */
void mil_easel_free(mil_easel *easel);

#endif
