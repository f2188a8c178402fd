/* One context for a test program, made before its tests and freed after. */
#ifndef TEST_CONTEXT_H
#define TEST_CONTEXT_H

#include "base/base.h"

static milori_context *ctx;

static int set_up(void **state) {
    (void)state;
    ctx = milori_context_new();
    return ctx ? 0 : -1;
}

static int tear_down(void **state) {
    (void)state;
    milori_context_free(ctx);
    return 0;
}

#endif
