/* Our optical densities and our unmixing on a real stained picture, against scikit-image's colour
 * deconvolution (0.19 in Debian 12: skimage.color.separate_stains, hed_from_rgb), and the worked
 * example of Ruifrok & Johnston 2001. The separation itself finds its dyes in the sheet; what is
 * comparable is what it stands on: the density table and mil_solve3(). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "sheet/by_python.h"
#include "sheet/grid.h"
#include "sheet/linear.h"

/* Haematoxylin, eosin, DAB: optical densities in red, green, blue (Ruifrok & Johnston 2001). */
static const double STAIN[3][3] = {{0.65, 0.70, 0.29}, {0.07, 0.99, 0.11}, {0.27, 0.57, 0.78}};

/* Amounts of the three of which the densities are the sum. */
static void unmix(const double density[3], double amount[3]) {
    double by_channel[3][3];
    for (int c = 0; c < 3; c++)
        for (int s = 0; s < 3; s++)
            by_channel[c][s] = STAIN[s][c];
    assert_true(mil_solve3((const double(*)[3])by_channel, density, amount));
}

static void the_published_example_comes_apart(void **state) {
    (void)state;
    const double density[3] = {0.785, 0.985, 0.680};
    double amount[3];
    unmix(density, amount);
    assert_true(fabs(amount[0] - 1) < 1e-12);
    assert_true(fabs(amount[1]) < 1e-12);
    assert_true(fabs(amount[2] - 0.5) < 1e-12);
}

enum { SIDE = 24, CROPS = 3, PIXELS = SIDE * SIDE * CROPS };

/* Three crops of 24 x 24 px: codes, then scikit-image's amounts. Its Notes: it takes natural
 * logarithms over ln(1e-6), that is density / 6, and cuts negative amounts off at 0. */
static const char REFERENCE[] =
    "import os, skimage, numpy as n\n"
    "from skimage import io, color\n"
    "p = io.imread(os.path.join(os.path.dirname(skimage.__file__), 'data', 'ihc.png'))\n"
    "for y, x in ((40, 60), (250, 300), (400, 120)):\n"
    "  c = p[y:y + 24, x:x + 24, :3]\n"
    "  h = color.separate_stains(c, color.hed_from_rgb)\n"
    "  for q, a in zip(c.reshape(-1, 3), h.reshape(-1, 3)):\n"
    "    print(*q, *(repr(float(v)) for v in a))";

/* A file whose codes are light, as scikit-image takes the picture's. */
static mil_decode *plain_light(void) {
    mil_decode *decode = calloc(1, sizeof *decode);
    decode->kind = MIL_DECODE_TABLES;
    decode->channels = 3;
    for (int c = 0; c < 3; c++) {
        decode->table[c] = calloc(65536, sizeof(float));
        for (int i = 0; i < 65536; i++)
            decode->table[c][i] = (float)(i / 65535.0);
    }
    return decode;
}

static void a_stained_picture_comes_apart_as_skimage_does_it(void **state) {
    (void)state;
    milori_context *ctx = milori_context_new();
    mil_decode *decode = plain_light();
    mil_absorb absorb;
    assert_int_equal(mil_absorb_init(ctx, decode, &absorb), MILORI_OK);
    FILE *python = python_starts(REFERENCE);
    double most[3] = {0}, off = 0, sum[3] = {0};
    for (int k = 0; k < PIXELS; k++) {
        double said[6], density[3], amount[3];
        uint16_t code[3];
        float out[3];
        python_says(python, 6, said);
        for (int c = 0; c < 3; c++) {
            /* Below our floor of light, 0.002, the two differ by design: code 0 does not occur. */
            assert_true(said[c] >= 1 && said[c] <= 255);
            code[c] = (uint16_t)(said[c] * 257);
        }
        mil_absorb_row(&absorb, code, 1, NULL, out);
        for (int c = 0; c < 3; c++)
            density[c] = out[c];
        unmix(density, amount);
        for (int s = 0; s < 3; s++) {
            double ours = fmax(amount[s], 0), theirs = 6 * said[3 + s];
            off = fmax(off, fabs(ours - theirs));
            most[s] = fmax(most[s], theirs);
            sum[s] += theirs / PIXELS;
        }
    }
    python_ends(python);
    /* Floats of light and density: 2^-24 each, through an inverse whose greatest row sums to 4. */
    assert_true(off < 1e-6);
    /* The crops hold both stains that the picture was dyed with. */
    assert_true(most[0] > 0.3 && most[2] > 0.3 && sum[0] > 0.02 && sum[2] > 0.02);
    mil_absorb_free(&absorb);
    for (int c = 0; c < 3; c++)
        free(decode->table[c]);
    free(decode);
    milori_context_free(ctx);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_published_example_comes_apart),
        cmocka_unit_test(a_stained_picture_comes_apart_as_skimage_does_it)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
