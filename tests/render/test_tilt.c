/* A tilted pattern comes out straight, in its place and with its contrast. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "render_help.h"

static const double PI = 3.14159265358979323846;
static mil_rect frame = {203.3, 151.9, 300, 200, 0};
static double cycles; /* a px of the frame */
static bool down;     /* bars lie across: the wave runs down */

/* Bars along the frame's own sides, as thin as cycles says. */
static double bars(double x, double y) {
    double c = cos(frame.angle), s = sin(frame.angle);
    double u = (x - frame.cx) * c + (y - frame.cy) * s;
    double v = -(x - frame.cx) * s + (y - frame.cy) * c;
    return 0.5 + 0.3 * cos(2 * PI * cycles * (down ? v : u));
}

typedef struct found_wave {
    double lag, contrast; /* px; of what was painted */
} found_wave;

/* The bars in one row or column of the result, by projection on the wave that should be there. */
static found_wave wave_at(const mil_plan *plan, const kept *k, uint32_t line) {
    double a = 0, b = 0, n = 0;
    uint32_t count = down ? k->height : k->width;
    /* Whole periods only, clear of the frame's ends. */
    uint32_t periods = (uint32_t)((count - 40) * cycles);
    uint32_t take = (uint32_t)(periods / cycles + 0.5);
    for (uint32_t i = 20; i < 20 + take; i++) {
        uint16_t code = down ? k->code[i * k->width + line] : k->code[line * k->width + i];
        double place = i + 0.5 - count / 2.0, value = amount_of(plan, code) - 0.5;
        a += value * cos(2 * PI * cycles * place);
        b += value * sin(2 * PI * cycles * place);
        n += 0.5;
    }
    return (found_wave){atan2(b, a) / (2 * PI * cycles), hypot(a, b) / n / 0.3};
}

static found_wave worst_wave(const mil_plan *plan, const kept *k) {
    found_wave worst = {0, 1};
    uint32_t lines = down ? k->width : k->height;
    for (uint32_t line = 20; line < lines - 20; line += 7) {
        found_wave w = wave_at(plan, k, line);
        worst.lag = fmax(worst.lag, fabs(w.lag));
        worst.contrast = fmin(worst.contrast, w.contrast);
    }
    return worst;
}

static void straight_and_sharp(void **state) {
    (void)state;
    const double angles[] = {0.6, 2, -2, 7, -15};
    const double fine[] = {0.1, 0.25, 0.4}, least[] = {0.995, 0.995, 0.9};
    milori_choices choices;
    milori_choices_default(&choices);
    choices.as_scanned = true;
    for (int f = 0; f < 3; f++)
        for (int i = 0; i < 10; i++) {
            bed b;
            frame.angle = angles[i / 2] * PI / 180;
            cycles = fine[f];
            down = i % 2;
            bed_make(&b, 420, 320, frame, bars);
            mil_plan *plan = bed_plan(&b, &choices);
            kept k = bed_render(&b, plan, NULL, 1);
            assert_int_equal(k.width, 300);
            assert_int_equal(k.height, 200);
            found_wave w = worst_wave(plan, &k);
            print_message("tilt %5.1f deg, %.2f cycles a px %s: off %.4f px, contrast %.4f\n",
                          angles[i / 2], cycles, down ? "down  " : "across", w.lag, w.contrast);
            assert_true(w.lag < 0.03);
            if (fabs(angles[i / 2]) <= 7)
                assert_true(w.contrast > least[f]);
            free(k.code);
            mil_plan_free(plan);
            bed_free(&b);
        }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(straight_and_sharp)};
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
