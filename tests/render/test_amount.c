/* Amounts against the separation's own words, in double. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "render/amount.h"
#include "render_help.h"

enum { W = 2500, H = 24, CELL = 7 };

static double ramp(double x, double y) {
    return 0.2 + 0.6 * x / W + 0.01 * y;
}

static mil_surface hilly(unsigned seed) {
    mil_surface s = flat_surface(W, H, CELL, 0);
    for (int i = 0; i < s.nx * s.ny; i++) {
        seed = seed * 1664525u + 1013904223u;
        s.knot[i] = (float)(seed >> 8) / (1 << 24);
    }
    return s;
}

static double at(const mil_surface *s, uint32_t x, uint32_t y) {
    float line[W];
    mil_surface_row(s, y + 0.5, line);
    return mil_surface_at(s, line, x + 0.5);
}

/* A three-channel separation beside the bed's own grey scan. */
static void make_colour(bed *b, float *tables[3]) {
    static const double mix[3] = {0.9, -0.5, -0.3};
    b->separation.channels = b->decode.channels = 3;
    for (int c = 0; c < 3; c++) {
        b->separation.mix[c] = mix[c];
        b->measured.absorb.table[c] = tables[c];
    }
    b->separation.inner = hilly(5);
    b->separation.fog = hilly(7);
    b->separation.sun = hilly(6);
    for (int i = 0; i < b->separation.sun.nx * b->separation.sun.ny; i++)
        b->separation.sun.knot[i] = 3 * b->separation.sun.knot[i] - 1;
}

static double expected(const bed *b, const uint16_t *row, uint32_t x, uint32_t y, bool white) {
    const mil_separation *s = &b->separation;
    double z = at(&s->inner, x, y);
    for (int c = 0; c < 3; c++)
        z += s->mix[c] * b->measured.absorb.table[c][row[3 * x + c]];
    double amount = s->unit * (mil_density_ks(s->base + z) - mil_density_ks(s->base));
    amount -= at(&s->fog, x, y);
    double sun = fmin(fmax(at(&s->sun, x, y), 0), 1);
    return (1 - sun) * amount + (white ? sun * 4 * s->scale.light : 0);
}

static void amounts_are_the_separations(void **state) {
    (void)state;
    static float tables[3][65536];
    static uint16_t row[3 * W];
    float *grey, *three[3] = {tables[0], tables[1], tables[2]};
    for (int i = 0; i < 65536; i++)
        for (int c = 0; c < 3; c++)
            tables[c][i] = (float)pow(i / 65535.0, 0.5 + c);
    for (unsigned i = 0; i < 3 * W; i++)
        row[i] = (uint16_t)(i * 40503u);
    bed b;
    bed_make(&b, W, H, (mil_rect){W / 2.0, H / 2.0, W - 10, H - 4, 0}, ramp);
    grey = b.measured.absorb.table[0];
    make_colour(&b, three);
    for (int white = 0; white < 2; white++) {
        milori_choices choices;
        milori_choices_default(&choices);
        choices.sun = white ? MILORI_SUN_WHITE : MILORI_SUN_BLACK;
        mil_plan *plan = bed_plan(&b, &choices);
        mil_amount_room room;
        float out[W];
        assert_int_equal(mil_amount_room_make(b.ctx, plan, &room), MILORI_OK);
        for (uint32_t y = 0; y < H; y += 5) {
            mil_amount_row(plan, &room, row, y, 3, W - 7, out);
            for (uint32_t i = 0; i < W - 7; i++) {
                double want = expected(&b, row, 3 + i, y, white);
                assert_true(fabs(out[i] - want) < 2e-6 * (1 + fabs(want)));
            }
        }
        mil_amount_room_free(&room);
        mil_plan_free(plan);
    }
    b.measured.absorb.table[0] = grey;
    bed_free(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(amounts_are_the_separations)};
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
