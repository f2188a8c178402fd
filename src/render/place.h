/* Whose the file is that lies where a positive would go. */
#ifndef MILORI_PLACE_H
#define MILORI_PLACE_H

#include "base/base.h"

/* What a positive would be made from. */
typedef struct mil_making {
    const char *source;          /* the scan's file name, mil_printable() */
    const char *digest;          /* of the scan; "" unknown: then nothing is current */
    const char *choices;         /* JSON, as mil_packet holds it */
    const char *dodge, *profile; /* digests of the files that the choices name, "" none */
} mil_making;

typedef enum mil_place {
    MIL_PLACE_FREE = 0,
    MIL_PLACE_CURRENT, /* this very positive */
    MIL_PLACE_OWN,     /* milori's, of this scan, made otherwise */
    MIL_PLACE_OTHER,   /* milori's, of another scan of this name */
    MIL_PLACE_STRANGE  /* some other file */
} mil_place;

/* What is at path, where the positive number (from 1) would be written; *of (may
 * be NULL) gets how many sheets the scan held, when current. */
mil_place mil_place_of(const char *path, const mil_making *making, int number, int *of);

#endif
