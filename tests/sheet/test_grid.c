/* The first pass: light to absorption, rows to cells. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "sheet/separate.h"

enum { WIDTH = 23, HEIGHT = 14 };

typedef struct fixture {
    milori_context *ctx;
    char path[64];
    uint16_t code[HEIGHT][WIDTH][3];
} fixture;

static void put(unsigned char *at, uint32_t value, int bytes) {
    for (int k = 0; k < bytes; k++)
        at[k] = (unsigned char)(value >> (8 * k));
}

/* A bare little-endian TIFF of 16 bits, written by hand from TIFF 6.0 (from memory). */
static void write_tiff(const fixture *f, int channels, uint32_t dpi) {
    enum { TAGS = 12, HEAD = 8 + 2 + 12 * TAGS + 4, EXTRA = 24 };
    unsigned char head[HEAD + EXTRA] = {'I', 'I', 42, 0, 8};
    const uint32_t bytes = (uint32_t)(WIDTH * HEIGHT * channels * 2);
    const uint32_t tag[TAGS][4] = {{256, 3, 1, WIDTH},
                                   {257, 3, 1, HEIGHT},
                                   {258, 3, (uint32_t)channels, channels == 3 ? HEAD : 16},
                                   {259, 3, 1, 1},
                                   {262, 3, 1, channels == 3 ? 2 : 1},
                                   {273, 4, 1, HEAD + EXTRA},
                                   {277, 3, 1, (uint32_t)channels},
                                   {278, 3, 1, HEIGHT},
                                   {279, 4, 1, bytes},
                                   {282, 5, 1, HEAD + 8},
                                   {283, 5, 1, HEAD + 16},
                                   {296, 3, 1, 2}};
    put(head + 8, TAGS, 2);
    for (int k = 0; k < TAGS; k++) {
        put(head + 10 + 12 * k, tag[k][0], 2);
        put(head + 12 + 12 * k, tag[k][1], 2);
        put(head + 14 + 12 * k, tag[k][2], 4);
        put(head + 18 + 12 * k, tag[k][3], 4);
    }
    for (int k = 0; k < 3; k++)
        put(head + HEAD + 2 * k, 16, 2);
    for (int k = 0; k < 2; k++) {
        put(head + HEAD + 8 + 8 * k, dpi, 4);
        put(head + HEAD + 12 + 8 * k, 1, 4);
    }
    FILE *file = fopen(f->path, "wb");
    assert_non_null(file);
    fwrite(head, 1, sizeof head, file);
    for (int y = 0; y < HEIGHT; y++)
        for (int x = 0; x < WIDTH; x++)
            for (int c = 0; c < channels; c++) {
                unsigned char two[2];
                put(two, f->code[y][x][c], 2);
                fwrite(two, 1, 2, file);
            }
    assert_int_equal(fclose(file), 0);
}

static int set_up(void **state) {
    fixture *f = calloc(1, sizeof *f);
    uint32_t seed = 7;
    f->ctx = milori_context_new();
    strcpy(f->path, "/tmp/milori-grid-XXXXXX");
    close(mkstemp(f->path));
    for (int y = 0; y < HEIGHT; y++)
        for (int x = 0; x < WIDTH; x++)
            for (int c = 0; c < 3; c++) {
                seed = seed * 1664525u + 1013904223u;
                f->code[y][x][c] = (uint16_t)(20000 + (seed >> 18) + 500 * (unsigned)c);
            }
    /* Clipped: half of the second cell of the first row in red, one pixel in blue. */
    for (int y = 0; y < 4; y++)
        for (int x = 4; x < 6; x++)
            f->code[y][x][0] = 0;
    f->code[1][1][2] = 65535;
    *state = f;
    return 0;
}

static int tear_down(void **state) {
    fixture *f = *state;
    unlink(f->path);
    milori_context_free(f->ctx);
    free(f);
    return 0;
}

static void build(fixture *f, double dpi, mil_grid *grid, mil_absorb *absorb, mil_decode **decode) {
    mil_source *source;
    milori_notes notes = {0};
    assert_int_equal(mil_source_open(f->ctx, f->path, &notes, &source), MILORI_OK);
    assert_int_equal(mil_decode_new(f->ctx, mil_source_info_of(source), &notes, decode), MILORI_OK);
    assert_int_equal(mil_absorb_init(f->ctx, *decode, absorb), MILORI_OK);
    assert_int_equal(mil_grid_build(f->ctx, source, absorb, dpi, grid), MILORI_OK);
    mil_source_close(source);
    mil_notes_free(&notes);
}

/* IEC 61966-2-1 and ISO 5-4, straight from the formulas. */
static double light_of(uint16_t code) {
    double v = code / 65535.0;
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

static double absorbed(double light) {
    return -log10(light > 0.002 ? light : 0.002);
}

/* One cell by two plain passes: mean first, then products of deviations. */
static void check_cell(const fixture *f, const mil_grid *g, int i, int j) {
    int x1 = i * 4 + 4 < WIDTH ? i * 4 + 4 : WIDTH, y1 = j * 4 + 4 < HEIGHT ? j * 4 + 4 : HEIGHT;
    double light[3] = {0}, amount[3] = {0}, cov[3][3] = {{0}}, n = 0;
    for (int y = j * 4; y < y1; y++)
        for (int x = i * 4; x < x1; x++, n++)
            for (int c = 0; c < 3; c++) {
                light[c] += light_of(f->code[y][x][c]);
                amount[c] += absorbed(light_of(f->code[y][x][c]));
            }
    for (int y = j * 4; y < y1; y++)
        for (int x = i * 4; x < x1; x++)
            for (int a = 0; a < 3; a++)
                for (int b = 0; b < 3; b++)
                    cov[a][b] += (absorbed(light_of(f->code[y][x][a])) - amount[a] / n) *
                                 (absorbed(light_of(f->code[y][x][b])) - amount[b] / n) / (n - 1);
    size_t at = (size_t)(j * g->nx + i);
    const double want[6] = {cov[0][0], cov[0][1], cov[0][2], cov[1][1], cov[1][2], cov[2][2]};
    for (int c = 0; c < 3; c++) {
        assert_true(fabs(g->light[c][at] - light[c] / n) < 2e-6);
        assert_true(fabs(g->absorb[c][at] - amount[c] / n) < 2e-4 * (amount[c] / n) + 1e-5);
    }
    for (int k = 0; k < 6; k++)
        assert_true(fabs(g->cov[k][at] - want[k]) < 1e-3 * sqrt(cov[0][0] * cov[0][0] + 1e-4));
}

static void cells_hold_means_and_covariances(void **state) {
    fixture *f = *state;
    mil_grid g;
    mil_absorb absorb;
    mil_decode *decode;
    write_tiff(f, 3, 300);
    build(f, NAN, &g, &absorb, &decode);
    assert_true(g.mm_known && fabs(g.mm_px - 25.4 / 300) < 1e-12);
    assert_int_equal(g.cell, 4);
    assert_int_equal(g.nx, 6);
    assert_int_equal(g.ny, 4);
    for (int j = 0; j < g.ny; j++)
        for (int i = 0; i < g.nx; i++)
            check_cell(f, &g, i, j);
    assert_true(g.clip_low[0][1] == 0.5f && g.clip_low[1][1] == 0 && g.clip_low[0][0] == 0);
    assert_true(g.clip_high[2][0] == 1.0f / 16 && g.clip_high[2][1] == 0);
    assert_int_equal(g.code_low[0], 0);
    assert_int_equal(g.code_high[2], 65535);
    assert_true(g.code_low[1] >= 20500 && g.code_high[1] < 20500 + 16384);
    mil_grid_free(&g);
    mil_absorb_free(&absorb);
    mil_decode_free(decode);
}

static void codes_are_counted(void **state) {
    fixture *f = *state;
    mil_grid g;
    mil_absorb absorb;
    mil_decode *decode;
    for (int y = 0; y < HEIGHT; y++)
        for (int x = 0; x < WIDTH; x++)
            f->code[y][x][0] = (uint16_t)(30000 + 10 * (x % 5));
    write_tiff(f, 1, 300);
    build(f, NAN, &g, &absorb, &decode);
    assert_int_equal(g.channels, 1);
    assert_int_equal(g.codes_used[0], 5);
    assert_int_equal(g.code_low[0], 30000);
    assert_int_equal(g.code_high[0], 30040);
    assert_null(g.light[1]);
    assert_null(g.cov[1]);
    assert_true(g.cov[0][0] > 0);
    mil_grid_free(&g);
    mil_absorb_free(&absorb);
    mil_decode_free(decode);
}

static void millimetres_are_believed_or_not(void **state) {
    fixture *f = *state;
    const struct {
        uint32_t file;
        double user;
        bool known;
        uint32_t cell;
    } cases[] = {{600, NAN, true, 8}, {2, NAN, false, 4},  {50000, NAN, false, 4},
                 {72, NAN, true, 1},  {600, 150, true, 2}, {2, 1200, true, 16},
                 {150, NAN, true, 2}};
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        mil_grid g;
        mil_absorb absorb;
        mil_decode *decode;
        write_tiff(f, 3, cases[k].file);
        build(f, cases[k].user, &g, &absorb, &decode);
        assert_int_equal(g.mm_known, cases[k].known);
        assert_int_equal(g.cell, cases[k].cell);
        mil_grid_free(&g);
        mil_absorb_free(&absorb);
        mil_decode_free(decode);
    }
}

/* REFERENCES, Kubelka-Munk and density rows (computed from the formulas). */
static void absorption_is_that_of_the_tables(void **state) {
    (void)state;
    const double ks[][2] = {{0.02, 24.01},   {0.05, 9.025}, {0.10, 4.05},
                            {0.18, 1.86778}, {0.20, 1.6},   {0.25, 1.125},
                            {0.50, 0.25},    {0.80, 0.025}, {0.90, 0.0055556}};
    const double density[][2] = {
        {0.90, 0.0458}, {0.50, 0.3010}, {0.18, 0.7447}, {0.10, 1.0}, {0.02, 1.6990}};
    const mil_absorb a = {.floor = 0.002f};
    for (size_t k = 0; k < sizeof ks / sizeof *ks; k++)
        assert_true(fabs(mil_density_ks(mil_absorb_light(&a, (float)ks[k][0])) - ks[k][1]) <
                    1e-4 * ks[k][1]);
    assert_true(mil_absorb_light(&a, 0) == mil_absorb_light(&a, 0.002f));
    assert_true(mil_absorb_light(&a, NAN) == mil_absorb_light(&a, 0.002f));
    assert_true(mil_absorb_light(&a, 1.2f) == 0);
    for (size_t k = 0; k < sizeof density / sizeof *density; k++)
        assert_true(fabs(mil_absorb_light(&a, (float)density[k][0]) - density[k][1]) < 6e-5);
}

static bool at_once(void *data) {
    (void)data;
    return true;
}

static void asked_to_stop_it_stops(void **state) {
    fixture *f = *state;
    mil_source *source;
    milori_notes notes = {0};
    mil_decode *decode;
    mil_absorb absorb;
    mil_grid g;
    write_tiff(f, 3, 300);
    assert_int_equal(mil_source_open(f->ctx, f->path, &notes, &source), MILORI_OK);
    assert_int_equal(mil_decode_new(f->ctx, mil_source_info_of(source), &notes, &decode),
                     MILORI_OK);
    assert_int_equal(mil_absorb_init(f->ctx, decode, &absorb), MILORI_OK);
    milori_set_cancel(f->ctx, at_once, NULL);
    assert_int_equal(mil_grid_build(f->ctx, source, &absorb, NAN, &g), MILORI_ERR_CANCELLED);
    assert_null(g.light[0]);
    mil_absorb_free(&absorb);
    mil_decode_free(decode);
    mil_source_close(source);
    mil_notes_free(&notes);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(cells_hold_means_and_covariances, set_up, tear_down),
        cmocka_unit_test_setup_teardown(codes_are_counted, set_up, tear_down),
        cmocka_unit_test_setup_teardown(millimetres_are_believed_or_not, set_up, tear_down),
        cmocka_unit_test(absorption_is_that_of_the_tables),
        cmocka_unit_test_setup_teardown(asked_to_stop_it_stops, set_up, tear_down)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
