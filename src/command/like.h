/* The choices of an earlier positive, or of a choices file. */
#ifndef MILORI_LIKE_H
#define MILORI_LIKE_H

#include "base/base.h"

/* What a choices file or a positive tells. */
typedef struct mil_record {
    milori_choices choices;      /* all, also what is one sheet's own (corners, unexposed) */
    char digest[33];             /* of the scan that they were for; "" in a choices file */
    char dodge[33], profile[33]; /* of the files that they name; "" none, or not recorded */
} mil_record;

/* Takes from path: a positive that milori made, or a JSON object of choices. Choices that it does
 * not hold keep the value they have in record. */
milori_status mil_like_read(milori_context *ctx, const char *path, mil_record *record);

#endif
