/* Fork and join. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

#include "render/pool.h"

enum { ITEMS = 1000 };

typedef struct tally {
    unsigned char seen[ITEMS];
    int worker[ITEMS];
} tally;

static void count_item(void *data, uint32_t item, int worker) {
    tally *t = data;
    t->seen[item]++;
    t->worker[item] = worker;
}

static void every_item_once(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    for (int threads = 1; threads <= 8; threads++) {
        mil_pool *pool = mil_pool_new(ctx, threads);
        int workers = mil_pool_workers(pool);
        assert_in_range(workers, 1, threads);
        for (uint32_t count = 0; count <= ITEMS; count = count * 3 + 1) {
            static tally t;
            memset(&t, 0, sizeof t);
            mil_pool_start(pool, count_item, &t, count);
            mil_pool_join(pool);
            for (uint32_t i = 0; i < ITEMS; i++) {
                assert_int_equal(t.seen[i], i < count);
                assert_in_range(t.worker[i], 0, workers - 1);
            }
        }
        mil_pool_free(pool);
    }
    milori_context_free(ctx);
}

static void freeing_joins(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    static tally t;
    memset(&t, 0, sizeof t);
    mil_pool *pool = mil_pool_new(ctx, 4);
    mil_pool_start(pool, count_item, &t, ITEMS);
    mil_pool_free(pool);
    for (int i = 0; i < ITEMS; i++)
        assert_int_equal(t.seen[i], 1);
    mil_pool_free(NULL);
    milori_context_free(ctx);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_item_once),
                                       cmocka_unit_test(freeing_joins)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
