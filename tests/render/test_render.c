/* The second pass on painted scans: every turn, parts, threads, scales, stopping. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <dirent.h>

#include "render_help.h"
#include "turn_help.h"

/* Every px its own: no turn or shift of it looks the same. */
static double scatter(double x, double y) {
    uint32_t h = (uint32_t)x * 2654435761u ^ (uint32_t)y * 2246822519u;
    h ^= h >> 15;
    h *= 2654435761u;
    return (double)(h >> 12) / (1 << 20);
}

static double waves(double x, double y) {
    return 0.4 + 0.3 * sin(x * 0.31 + y * 0.07) * cos(y * 0.23);
}

enum { LEFT = 9, TOP = 6, WIDTH = 83, HEIGHT = 70 };
static const mil_rect upright = {LEFT + WIDTH / 2.0, TOP + HEIGHT / 2.0, WIDTH, HEIGHT, 0};

/* Clockwise by quarters, in plain words: the top row becomes the right column. */
static void turn_clockwise(int quarters, uint32_t *w, uint32_t *h, uint32_t *x, uint32_t *y) {
    for (; quarters > 0; quarters--) {
        uint32_t was_x = *x, was_w = *w;
        *x = *h - 1 - *y;
        *y = was_x;
        *w = *h;
        *h = was_w;
    }
}

static void one_turn(bed *b, int orientation, bool as_scanned, int turn) {
    milori_choices choices;
    milori_choices_default(&choices);
    choices.as_scanned = as_scanned;
    choices.turn = turn;
    b->measured.grid.orientation = orientation;
    mil_plan *plan = bed_plan(b, &choices);
    kept k = bed_render(b, plan, NULL, 1);
    for (uint32_t r = 0; r < HEIGHT; r++)
        for (uint32_t c = 0; c < WIDTH; c++) {
            uint32_t x = 0, y = 0, w = orientation >= 5 ? HEIGHT : WIDTH,
                     h = orientation >= 5 ? WIDTH : HEIGHT;
            turn_px(orientation, WIDTH, HEIGHT, c, r, &x, &y);
            if (!as_scanned)
                x = w - 1 - x;
            turn_clockwise(turn / 90, &w, &h, &x, &y);
            assert_int_equal(k.width, w);
            float amount = b->amount[(TOP + r) * b->width + LEFT + c];
            assert_int_equal(k.code[y * w + x], code_of(plan, amount));
        }
    free(k.code);
    mil_plan_free(plan);
}

/* Also: what is not tilted is copied, not resampled. */
static void every_turn_lands(void **state) {
    (void)state;
    bed b;
    bed_make(&b, 101, 83, upright, scatter);
    for (int orientation = 1; orientation <= 8; orientation++)
        for (int mirror = 0; mirror < 2; mirror++)
            for (int turn = 0; turn < 360; turn += 90)
                one_turn(&b, orientation, mirror, turn);
    bed_free(&b);
}

static const mil_rect tilted = {151.3, 120.8, 221.4, 160.2, 0.041};

static void same(const kept *whole, const kept *part, uint32_t x, uint32_t y) {
    for (uint32_t j = 0; j < part->height; j++)
        for (uint32_t i = 0; i < part->width; i++)
            assert_int_equal(part->code[j * part->width + i],
                             whole->code[(y + j) * whole->width + x + i]);
}

static void parts_are_the_whole(void **state) {
    (void)state;
    const mil_part_rect parts[] = {{0, 0, 1, 1},         {30, 17, 100, 90}, {3.4, 2.2, 50.1, 9.7},
                                   {150, 100, 900, 900}, {80, 0, 1, 160},   {0, 77, 221, 1}};
    const double angles[] = {0.041, -0.3, 0};
    bed b;
    bed_make(&b, 300, 240, tilted, scatter);
    for (int a = 0; a < 3; a++)
        for (int turn = 0; turn < 360; turn += 90) {
            milori_choices choices;
            milori_choices_default(&choices);
            choices.turn = turn;
            b.found.frame.angle = angles[a];
            mil_plan *plan = bed_plan(&b, &choices);
            kept whole = bed_render(&b, plan, NULL, 1);
            for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
                kept part = bed_render(&b, plan, &parts[i], 1);
                assert_in_range(part.width, 1, ceil(parts[i].w) + 1);
                same(&whole, &part, (uint32_t)parts[i].x, (uint32_t)parts[i].y);
                free(part.code);
            }
            free(whole.code);
            mil_plan_free(plan);
        }
    bed_free(&b);
}

static void threads_do_not_matter(void **state) {
    (void)state;
    const double scales[] = {1, 0.3};
    bed b;
    bed_make(&b, 300, 240, tilted, scatter);
    for (int s = 0; s < 2; s++)
        for (int turn = 0; turn <= 90; turn += 90) {
            milori_choices choices;
            milori_choices_default(&choices);
            choices.turn = turn;
            mil_plan *plan = bed_plan(&b, &choices);
            milori_set_threads(b.ctx, 1);
            kept one = bed_render(&b, plan, NULL, scales[s]);
            for (int threads = 2; threads <= 8; threads++) {
                milori_set_threads(b.ctx, threads);
                kept many = bed_render(&b, plan, NULL, scales[s]);
                assert_memory_equal(one.code, many.code,
                                    (size_t)one.width * one.height * sizeof *one.code);
                free(many.code);
            }
            free(one.code);
            mil_plan_free(plan);
        }
    bed_free(&b);
}

static void a_quarter_is_the_mean_of_sixteen(void **state) {
    (void)state;
    milori_choices choices;
    milori_choices_default(&choices);
    choices.as_scanned = true;
    bed b;
    bed_make(&b, 120, 100, (mil_rect){10 + 40, 8 + 36, 80, 72, 0}, scatter);
    mil_plan *plan = bed_plan(&b, &choices);
    kept k = bed_render(&b, plan, NULL, 0.25);
    assert_int_equal(k.width, 20);
    assert_int_equal(k.height, 18);
    for (uint32_t y = 0; y < k.height; y++)
        for (uint32_t x = 0; x < k.width; x++) {
            double sum = 0;
            for (uint32_t i = 0; i < 16; i++)
                sum += b.amount[(8 + 4 * y + i / 4) * b.width + 10 + 4 * x + i % 4];
            assert_in_range(k.code[y * k.width + x], code_of(plan, (float)(sum / 16)) - 3,
                            code_of(plan, (float)(sum / 16)) + 3);
        }
    free(k.code);
    mil_plan_free(plan);
    bed_free(&b);
}

/* The reduced picture lies where the whole one does, tilted or not, in any turn. */
static void reduced_lies_where_the_whole_does(void **state) {
    (void)state;
    const double scales[] = {0.5, 0.13};
    bed b;
    bed_make(&b, 300, 240, tilted, waves);
    for (int s = 0; s < 2; s++)
        for (int turn = 0; turn < 360; turn += 90) {
            milori_choices choices;
            milori_choices_default(&choices);
            choices.turn = turn;
            mil_plan *plan = bed_plan(&b, &choices);
            kept whole = bed_render(&b, plan, NULL, 1), k = bed_render(&b, plan, NULL, scales[s]);
            double worst = 0, px = (double)whole.width / k.width,
                   py = (double)whole.height / k.height;
            assert_in_range(k.width, whole.width * scales[s] - 1, whole.width * scales[s] + 1);
            for (uint32_t y = 0; y < k.height; y++)
                for (uint32_t x = 0; x < k.width; x++) {
                    double sum = 0, area = 0;
                    for (int v = (int)(y * py); v < (y + 1) * py - 1e-9; v++)
                        for (int u = (int)(x * px); u < (x + 1) * px - 1e-9; u++) {
                            double w = (fmin(u + 1, (x + 1) * px) - fmax(u, x * px)) *
                                       (fmin(v + 1, (y + 1) * py) - fmax(v, y * py));
                            sum += w * amount_of(plan, whole.code[v * (int)whole.width + u]);
                            area += w;
                        }
                    worst =
                        fmax(worst, fabs(sum / area - amount_of(plan, k.code[y * k.width + x])));
                }
            print_message("scale %.2f turn %3d: %.4f from the mean of the whole at most\n",
                          scales[s], turn, worst);
            assert_true(worst < 0.01);
            free(whole.code);
            free(k.code);
            mil_plan_free(plan);
        }
    bed_free(&b);
}

static bool ask_third(void *data) {
    return ++*(int *)data >= 3;
}

static void stopping_leaves_nothing(void **state) {
    (void)state;
    bed b;
    bed_make(&b, 64, 900, (mil_rect){32, 450, 60, 880, 0}, waves);
    setenv("TMPDIR", folder, 1);
    for (int turn = 0; turn <= 90; turn += 90) {
        milori_choices choices;
        milori_choices_default(&choices);
        choices.turn = turn;
        mil_plan *plan = bed_plan(&b, &choices);
        int asked = 0;
        kept k = {.channels = plan->channels};
        mil_render_size(plan, NULL, 1, &k.width, &k.height);
        k.code = malloc((size_t)k.width * k.height * sizeof *k.code);
        const mil_taker taker = {keep_rows, &k};
        milori_set_cancel(b.ctx, ask_third, &asked);
        assert_int_equal(mil_render(b.ctx, plan, b.measured.source, NULL, 1, &taker),
                         MILORI_ERR_CANCELLED);
        milori_set_cancel(b.ctx, NULL, NULL);
        milori_clear(b.ctx);
        assert_true(k.rows < k.height / 2);
        free(k.code);
        mil_plan_free(plan);
    }
    unsetenv("TMPDIR");
    DIR *list = opendir(folder);
    for (struct dirent *e; (e = readdir(list));)
        assert_true(e->d_name[0] == '.' || strcmp(e->d_name, "scan.tif") == 0);
    closedir(list);
    bed_free(&b);
}

static milori_status refuse_rows(void *data, uint32_t count, const uint16_t *codes) {
    (void)count;
    (void)codes;
    return mil_fail(data, MILORI_ERR_WRITE, "the shed is full");
}

static void a_refusal_is_passed_on(void **state) {
    (void)state;
    milori_choices choices;
    milori_choices_default(&choices);
    bed b;
    bed_make(&b, 64, 300, (mil_rect){32, 150, 60, 280, 0}, waves);
    mil_plan *plan = bed_plan(&b, &choices);
    const mil_taker taker = {refuse_rows, b.ctx};
    assert_int_equal(mil_render(b.ctx, plan, b.measured.source, NULL, 1, &taker), MILORI_ERR_WRITE);
    assert_string_equal(milori_message(b.ctx), "the shed is full");
    mil_plan_free(plan);
    bed_free(&b);
}

/* A tilt that needs many rows at once is charged, and given back. */
static void the_limit_bites(void **state) {
    (void)state;
    milori_choices choices;
    milori_choices_default(&choices);
    bed b;
    bed_make(&b, 300, 240, tilted, waves);
    b.found.frame.angle = 0.3;
    mil_plan *plan = bed_plan(&b, &choices);
    kept k = {.width = 1};
    const mil_taker taker = {keep_rows, &k};
    milori_set_memory_limit(b.ctx, 90000);
    assert_int_equal(mil_render(b.ctx, plan, b.measured.source, NULL, 1, &taker), MILORI_ERR_LIMIT);
    assert_non_null(strstr(milori_message(b.ctx), "scan.tif"));
    milori_clear(b.ctx);
    milori_set_memory_limit(b.ctx, 200000);
    for (int i = 0; i < 3; i++) {
        k = bed_render(&b, plan, NULL, 1);
        free(k.code);
    }
    mil_plan_free(plan);
    bed_free(&b);
}

static void a_frame_off_the_scan_is_refused(void **state) {
    (void)state;
    milori_choices choices;
    milori_choices_default(&choices);
    bed b;
    bed_make(&b, 64, 64, (mil_rect){500, 20, 40, 40, 0}, waves);
    mil_plan *plan = NULL;
    assert_int_equal(mil_plan_new(b.ctx, &b.measured, 0, &choices, &plan), MILORI_ERR_SHEET);
    assert_null(plan);
    bed_free(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_turn_lands),
                                       cmocka_unit_test(parts_are_the_whole),
                                       cmocka_unit_test(threads_do_not_matter),
                                       cmocka_unit_test(a_quarter_is_the_mean_of_sixteen),
                                       cmocka_unit_test(reduced_lies_where_the_whole_does),
                                       cmocka_unit_test(stopping_leaves_nothing),
                                       cmocka_unit_test(a_refusal_is_passed_on),
                                       cmocka_unit_test(the_limit_bites),
                                       cmocka_unit_test(a_frame_off_the_scan_is_refused)};
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
