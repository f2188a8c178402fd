/* Which requests are let in. */
#ifndef MILORI_SERVER_GUARD_H
#define MILORI_SERVER_GUARD_H

#include "base/base.h"

enum { MIL_KEY_DIGITS = 32, MIL_BODY_MOST = 1 << 20 };

typedef struct mil_guard {
    char key[MIL_KEY_DIGITS + 1];
    int port;
} mil_guard;

/* What a request says of itself; NULL where it does not. */
typedef struct mil_caller {
    const char *method, *url; /* url with its slash */
    const char *host, *origin, *site, *type, *length;
} mil_caller;

/* A fresh key from the system's random numbers. */
milori_status mil_guard_key(milori_context *ctx, mil_guard *guard);
/* 0 if the request may be read, else the HTTP status to answer with. *path gets
 * what comes after the key. */
int mil_guard_check(const mil_guard *guard, const mil_caller *caller, const char **path);

#endif
