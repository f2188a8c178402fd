/* TIFF files of every shape, written by libtiff with known samples and compared
 * with the arithmetic of the scaling; the tags beside them. Files of another
 * writer are in test_source_files.c. */
#include "scan/source_help.h"

#include <math.h>
#include <tiffio.h>

enum { WIDTH = 37, HEIGHT = 29, TILE_W = 16, TILE_H = 32 };

typedef struct shape {
    uint16_t compression, predictor, photometric, bits, samples, planar;
    uint16_t extra;      /* kind of the sample after the colours */
    uint16_t fill_order; /* 0: the usual */
    uint32_t strip_rows; /* 0: tiles */
    const char *mode;
} shape;

/* The same code at the same place whatever the file's shape. */
static unsigned code(const shape *f, uint32_t x, uint32_t y, uint32_t s) {
    unsigned v = x * 2654435761u + y * 40503u * 977u + s * 97u * 7919u;
    v ^= v >> 13;
    return (v * 2246822519u >> 11) & ((1u << f->bits) - 1);
}

static void put(const shape *f, uint8_t *row, size_t i, unsigned v) {
    if (f->bits == 16)
        memcpy(row + 2 * i, &(uint16_t){(uint16_t)v}, 2);
    else
        row[i * f->bits / 8] |= (uint8_t)(v << (8 - f->bits - i * f->bits % 8));
}

/* A w x h piece at x0, y0: of all samples, or of one plane. */
static void fill(const shape *f, uint8_t *to, size_t row, uint32_t x0, uint32_t y0, uint32_t w,
                 uint32_t h, int plane) {
    memset(to, 0, row * h);
    for (uint32_t y = 0; y < h; y++)
        for (uint32_t x = 0; x < w; x++)
            for (uint32_t s = 0; s < (plane < 0 ? f->samples : 1u); s++)
                put(f, to + y * row, plane < 0 ? x * f->samples + s : x,
                    code(f, x0 + x, y0 + y, plane < 0 ? s : (uint32_t)plane));
}

static TIFF *start(const shape *f, const char *path) {
    unlink(path); /* an old file's place is flushed first by some file systems */
    TIFF *t = TIFFOpen(path, f->mode);
    assert_non_null(t);
    TIFFSetField(t, TIFFTAG_IMAGEWIDTH, WIDTH);
    TIFFSetField(t, TIFFTAG_IMAGELENGTH, HEIGHT);
    TIFFSetField(t, TIFFTAG_BITSPERSAMPLE, f->bits);
    TIFFSetField(t, TIFFTAG_SAMPLESPERPIXEL, f->samples);
    TIFFSetField(t, TIFFTAG_PHOTOMETRIC, f->photometric);
    TIFFSetField(t, TIFFTAG_PLANARCONFIG, f->planar);
    TIFFSetField(t, TIFFTAG_COMPRESSION, f->compression);
    if (f->fill_order)
        TIFFSetField(t, TIFFTAG_FILLORDER, f->fill_order);
    if (f->predictor)
        TIFFSetField(t, TIFFTAG_PREDICTOR, f->predictor);
    uint16_t colours = f->photometric == PHOTOMETRIC_RGB ? 3 : 1;
    uint16_t extras[4] = {f->extra, 0, 0, 0};
    if (f->samples > colours)
        TIFFSetField(t, TIFFTAG_EXTRASAMPLES, f->samples - colours, extras);
    if (f->compression == COMPRESSION_WEBP)
        TIFFSetField(t, TIFFTAG_WEBP_LOSSLESS, 1);
    if (f->compression == COMPRESSION_PIXARLOG)
        TIFFSetField(t, TIFFTAG_PIXARLOGDATAFMT,
                     f->bits == 8 ? PIXARLOGDATAFMT_8BIT : PIXARLOGDATAFMT_16BIT);
    return t;
}

static void colour_map(const shape *f, TIFF *t, uint16_t *map) {
    size_t n = (size_t)1 << f->bits;
    for (size_t i = 0; i < 3 * n; i++)
        map[i] = (uint16_t)(i * 40503u + 300);
    TIFFSetField(t, TIFFTAG_COLORMAP, map, map + n, map + 2 * n);
}

static void write_pieces(const shape *f, TIFF *t) {
    bool tiled = f->strip_rows == 0;
    uint32_t w = tiled ? TILE_W : WIDTH, h = tiled ? TILE_H : f->strip_rows;
    int planes = f->planar == PLANARCONFIG_SEPARATE ? f->samples : 1;
    size_t row = (w * f->bits * (planes > 1 ? 1u : f->samples) + 7) / 8;
    uint8_t *piece = malloc(row * h);
    for (int p = 0; p < planes; p++)
        for (uint32_t y = 0; y < HEIGHT; y += h)
            for (uint32_t x = 0; x < WIDTH; x += w) {
                uint32_t rows = !tiled && HEIGHT - y < h ? HEIGHT - y : h;
                fill(f, piece, row, x, y, w, rows, planes > 1 ? p : -1);
                tmsize_t n = (tmsize_t)(row * rows);
                uint32_t tile = TIFFComputeTile(t, x, y, 0, (uint16_t)p);
                uint32_t strip = TIFFComputeStrip(t, y, (uint16_t)p);
                assert_int_equal(tiled ? TIFFWriteEncodedTile(t, tile, piece, n)
                                       : TIFFWriteEncodedStrip(t, strip, piece, n),
                                 n);
            }
    free(piece);
}

static void write_file(const shape *f, const char *path, uint16_t *map) {
    TIFF *t = start(f, path);
    if (f->strip_rows) {
        TIFFSetField(t, TIFFTAG_ROWSPERSTRIP, f->strip_rows);
    } else {
        TIFFSetField(t, TIFFTAG_TILEWIDTH, TILE_W);
        TIFFSetField(t, TIFFTAG_TILELENGTH, TILE_H);
    }
    if (f->photometric == PHOTOMETRIC_PALETTE)
        colour_map(f, t, map);
    write_pieces(f, t);
    TIFFClose(t);
}

/* TIFF 6.0: alpha is sample 1 or 3; section 18, associated colours are stored
 * multiplied. */
static uint16_t wanted(const shape *f, const uint16_t *map, uint32_t x, uint32_t y, uint32_t c) {
    double most = (1 << f->bits) - 1, colours = f->photometric == PHOTOMETRIC_RGB ? 3 : 1;
    if (f->photometric == PHOTOMETRIC_PALETTE)
        return map[((size_t)c << f->bits) + code(f, x, y, 0)];
    double v = code(f, x, y, c) / most, alpha = code(f, x, y, (uint32_t)colours) / most;
    bool has = f->samples > colours && f->extra != EXTRASAMPLE_UNSPECIFIED;
    bool inverted = f->photometric == PHOTOMETRIC_MINISWHITE;
    if (has && f->extra == EXTRASAMPLE_ASSOCALPHA)
        v = alpha > 0 ? fmin(v / alpha, 1) : 0;
    if (inverted)
        v = 1 - v;
    if (has)
        v = v * alpha + 1 - alpha;
    return (uint16_t)lrint(v * 65535);
}

static void check(help *h, const shape *f, uint16_t off) {
    static uint16_t map[3 << 16], want[WIDTH * HEIGHT * 3];
    const char *path = help_path(h, "bean-poles.tif");
    write_file(f, path, map);
    bool grey =
        f->photometric == PHOTOMETRIC_MINISBLACK || f->photometric == PHOTOMETRIC_MINISWHITE;
    uint32_t channels = grey ? 1 : 3;
    for (uint32_t i = 0; i < WIDTH * HEIGHT * channels; i++)
        want[i] = wanted(f, map, i / channels % WIDTH, i / channels / WIDTH, i % channels);
    if (off == 0)
        help_same(h, path, want, WIDTH * HEIGHT * channels);
    mil_source *s = help_open(h, path);
    const mil_source_info *i = mil_source_info_of(s);
    assert_int_equal(i->channels, channels);
    assert_int_equal(i->bits, f->bits == 16 ? 16 : 8);
    assert_int_equal(i->format, MILORI_TIFF);
    assert_int_equal(mil_notes_have(&h->notes, "alpha"),
                     f->samples == channels + 1 && f->extra != EXTRASAMPLE_UNSPECIFIED);
    uint16_t *got = help_rows(s, 4);
    assert_non_null(got);
    for (size_t k = 0; k < WIDTH * HEIGHT * channels; k++)
        assert_true(abs(got[k] - want[k]) <= off);
    free(got);
    mil_source_close(s);
}

/* The first four are quick to set up; those after them are tried on colour. */
static const uint16_t lossless[] = {
    COMPRESSION_NONE, COMPRESSION_LZW,  COMPRESSION_ADOBE_DEFLATE, COMPRESSION_PACKBITS,
    COMPRESSION_ZSTD, COMPRESSION_LZMA, COMPRESSION_DEFLATE};
static const uint32_t strips[] = {0, 1, 5, HEIGHT};
static const char *const modes[] = {"wl", "wb8"};

/* One picture in every compression, piece, plane order and byte order. */
static void every_layout(help *h, shape f) {
    size_t codecs = f.samples == 3 ? sizeof lossless / sizeof *lossless : 4;
    for (size_t c = 0; c < codecs; c++)
        for (size_t r = 0; r < sizeof strips / sizeof *strips; r++)
            for (uint16_t planar = 1; planar <= (f.samples > 1 ? 2 : 1); planar++)
                for (size_t m = 0; m < 2; m++) {
                    f.compression = lossless[c];
                    f.strip_rows = strips[r];
                    f.planar = planar;
                    f.mode = modes[m];
                    bool can = f.bits >= 8 && f.compression != COMPRESSION_NONE &&
                               f.compression != COMPRESSION_PACKBITS;
                    f.predictor = can && r % 2 ? PREDICTOR_HORIZONTAL : 0;
                    check(h, &f, 0);
                }
}

static void grey_of_every_depth(void **state) {
    for (uint16_t bits = 1; bits <= 16; bits = (uint16_t)(bits * 2)) {
        every_layout(*state,
                     (shape){.photometric = PHOTOMETRIC_MINISBLACK, .bits = bits, .samples = 1});
        every_layout(*state,
                     (shape){.photometric = PHOTOMETRIC_MINISWHITE, .bits = bits, .samples = 1});
    }
}

static void colour_in_every_layout(void **state) {
    every_layout(*state, (shape){.photometric = PHOTOMETRIC_RGB, .bits = 8, .samples = 3});
    every_layout(*state, (shape){.photometric = PHOTOMETRIC_RGB, .bits = 16, .samples = 3});
}

static void palettes_are_expanded(void **state) {
    for (uint16_t bits = 1; bits <= 8; bits = (uint16_t)(bits * 2))
        every_layout(*state,
                     (shape){.photometric = PHOTOMETRIC_PALETTE, .bits = bits, .samples = 1});
}

static void alpha_is_laid_on_white(void **state) {
    for (uint16_t extra = 0; extra <= 2; extra++)
        for (uint16_t bits = 8; bits <= 16; bits = (uint16_t)(bits + 8)) {
            shape f = {.photometric = PHOTOMETRIC_RGB, .bits = bits, .samples = 4, .extra = extra};
            every_layout(*state, f);
            f.photometric = PHOTOMETRIC_MINISBLACK;
            f.samples = 2;
            every_layout(*state, f);
            f.photometric = PHOTOMETRIC_MINISWHITE;
            every_layout(*state, f);
        }
}

static void more_extra_samples_are_left_out(void **state) {
    shape f = {.compression = COMPRESSION_LZW,
               .photometric = PHOTOMETRIC_RGB,
               .bits = 16,
               .samples = 6,
               .planar = PLANARCONFIG_SEPARATE,
               .strip_rows = 4,
               .mode = "w"};
    check(*state, &f, 0);
    f.planar = PLANARCONFIG_CONTIG;
    check(*state, &f, 0);
}

static void rare_codecs(void **state) {
    shape f = {.compression = COMPRESSION_WEBP,
               .photometric = PHOTOMETRIC_RGB,
               .bits = 8,
               .samples = 3,
               .planar = PLANARCONFIG_CONTIG,
               .strip_rows = 11,
               .mode = "w"};
    check(*state, &f, 0);
    f.strip_rows = 0;
    check(*state, &f, 0);
    f.compression = COMPRESSION_LERC;
    check(*state, &f, 0);
    f.bits = 16;
    f.strip_rows = 11;
    check(*state, &f, 0);
    /* PixarLog keeps a logarithm: within one 8 bit code. libtiff writes 8 bits
     * into the tags whatever went in. */
    f.bits = 8;
    f.compression = COMPRESSION_PIXARLOG;
    check(*state, &f, 257);
    f = (shape){.photometric = PHOTOMETRIC_MINISWHITE,
                .bits = 1,
                .samples = 1,
                .strip_rows = 10,
                .planar = 1,
                .mode = "w"};
    const uint16_t fax[] = {COMPRESSION_CCITTFAX3, COMPRESSION_CCITTFAX4, COMPRESSION_CCITTRLE};
    for (int i = 0; i < 3; i++) {
        f.compression = fax[i];
        check(*state, &f, 0);
    }
}

static void lowest_bit_first(void **state) {
    for (uint16_t bits = 1; bits <= 16; bits = (uint16_t)(bits * 2))
        for (size_t c = 0; c < 2; c++) {
            shape f = {.compression = lossless[c],
                       .photometric = PHOTOMETRIC_MINISBLACK,
                       .bits = bits,
                       .samples = 1,
                       .planar = 1,
                       .fill_order = FILLORDER_LSB2MSB,
                       .strip_rows = 6,
                       .mode = "w"};
            check(*state, &f, 0);
        }
}

/* A strip or tile is a JPEG file of its own when its tables are inside; the same
 * pixels must come from it alone (test_source_files.c compares those with
 * djpeg's). */
static void jpeg_in_tiff_is_that_jpeg(void **state) {
    help *h = *state;
    for (int grey = 0; grey < 2; grey++) {
        shape f = {.compression = COMPRESSION_JPEG,
                   .photometric = grey ? PHOTOMETRIC_MINISBLACK : PHOTOMETRIC_YCBCR,
                   .bits = 8,
                   .samples = grey ? 1 : 3,
                   .planar = 1,
                   .strip_rows = 32,
                   .mode = "w"};
        char path[256];
        strcpy(path, help_path(h, "water-butt.tif"));
        TIFF *t = start(&f, path);
        TIFFSetField(t, TIFFTAG_ROWSPERSTRIP, 32);
        TIFFSetField(t, TIFFTAG_JPEGTABLESMODE, 0);
        TIFFSetField(t, TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
        uint8_t row[WIDTH * 3 * HEIGHT];
        fill(&f, row, WIDTH * f.samples, 0, 0, WIDTH, HEIGHT, -1);
        for (uint32_t y = 0; y < HEIGHT; y++)
            assert_int_equal(TIFFWriteScanline(t, row + y * WIDTH * f.samples, y, 0), 1);
        TIFFClose(t);
        t = TIFFOpen(path, "r");
        uint8_t raw[20000];
        tmsize_t n = TIFFReadRawStrip(t, 0, raw, sizeof raw);
        TIFFClose(t);
        assert_true(n > 0);
        help_write(help_path(h, "water-butt.jpg"), raw, (size_t)n);
        mil_source *s = help_open(h, help_path(h, "water-butt.jpg"));
        uint16_t *want = help_rows(s, HEIGHT);
        assert_non_null(want);
        mil_source_close(s);
        help_same(h, path, want, (size_t)WIDTH * HEIGHT * f.samples);
        s = help_open(h, path);
        assert_true(mil_source_info_of(s)->lossy);
        mil_source_close(s);
        free(want);
    }
}

static void small_picture(TIFF *t, uint32_t kind) {
    TIFFSetField(t, TIFFTAG_IMAGEWIDTH, 2);
    TIFFSetField(t, TIFFTAG_IMAGELENGTH, 1);
    TIFFSetField(t, TIFFTAG_BITSPERSAMPLE, 8);
    TIFFSetField(t, TIFFTAG_SAMPLESPERPIXEL, 1);
    TIFFSetField(t, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_MINISBLACK);
    TIFFSetField(t, TIFFTAG_SUBFILETYPE, kind);
}

static void end_picture(TIFF *t, uint8_t value) {
    uint8_t row[2] = {value, value};
    assert_int_equal(TIFFWriteScanline(t, row, 0, 0), 1);
    assert_int_equal(TIFFWriteDirectory(t), 1);
}

static void first_page_is_read_and_small_copies_do_not_count(void **state) {
    help *h = *state;
    const char *path = help_path(h, "pages.tif");
    TIFF *t = TIFFOpen(path, "w");
    const uint32_t kinds[] = {FILETYPE_REDUCEDIMAGE, 0,
                              FILETYPE_REDUCEDIMAGE, FILETYPE_PAGE,
                              FILETYPE_MASK,         FILETYPE_PAGE};
    for (uint8_t i = 0; i < 6; i++) {
        small_picture(t, kinds[i]);
        end_picture(t, (uint8_t)(10 + i));
    }
    TIFFClose(t);
    mil_source *s = help_open(h, path);
    assert_int_equal(mil_source_info_of(s)->pages, 3);
    assert_true(mil_notes_have(&h->notes, "pages"));
    mil_source_close(s);
    help_same(h, path, (const uint16_t[]){11 * 257, 11 * 257}, 2);
}

static void tags_are_read(void **state) {
    help *h = *state;
    const char *path = help_path(h, "tags.tif");
    for (uint16_t o = 1; o <= 8; o++) {
        TIFF *t = TIFFOpen(path, o % 2 ? "wl" : "wb");
        small_picture(t, 0);
        TIFFSetField(t, TIFFTAG_ORIENTATION, o);
        TIFFSetField(t, TIFFTAG_XRESOLUTION, 600.0);
        TIFFSetField(t, TIFFTAG_YRESOLUTION, 300.0);
        TIFFSetField(t, TIFFTAG_RESOLUTIONUNIT, o % 3 + 1); /* none, inch, cm */
        TIFFSetField(t, TIFFTAG_ICCPROFILE, 5, "icc\0c");
        TIFFSetField(t, TIFFTAG_XMLPACKET, 6, "<xmp/>");
        TIFFSetField(t, TIFFTAG_SOFTWARE, "glasshouse 1");
        end_picture(t, 1);
        TIFFClose(t);
        mil_source *s = help_open(h, path);
        const mil_source_info *i = mil_source_info_of(s);
        const double scale[] = {0, 1, 2.54};
        assert_int_equal(i->orientation, o);
        assert_true(fabs(i->dpi[0] - 600 * scale[o % 3]) < 1e-9);
        assert_true(fabs(i->dpi[1] - 300 * scale[o % 3]) < 1e-9);
        assert_int_equal(i->space, MIL_SPACE_ICC);
        assert_int_equal(i->icc_size, 5);
        assert_memory_equal(i->icc, "icc\0c", 5);
        assert_int_equal(i->xmp_size, 6);
        assert_string_equal(i->xmp, "<xmp/>");
        assert_string_equal(i->software, "glasshouse 1");
        assert_string_equal(i->path, path);
        assert_int_equal(mil_notes_have(&h->notes, "pages"), 0);
        mil_source_close(s);
    }
}

static void strips_that_are_short_fail(void **state) {
    help *h = *state;
    shape f = {.compression = COMPRESSION_NONE,
               .photometric = PHOTOMETRIC_RGB,
               .bits = 8,
               .samples = 3,
               .planar = 1,
               .strip_rows = 5,
               .mode = "w"};
    const char *path = help_path(h, "short.tif");
    TIFF *t = start(&f, path);
    TIFFSetField(t, TIFFTAG_ROWSPERSTRIP, 5);
    uint8_t row[WIDTH * 3 * 5] = {0};
    for (uint32_t i = 0; i < 6; i++) /* the third strip lacks a byte */
        assert_true(TIFFWriteRawStrip(t, i, row, WIDTH * 3 * (i < 5 ? 5 : 4) - (i == 2)) > 0);
    TIFFClose(t);
    help_refused(h, path, MILORI_ERR_DAMAGED, "short strip");
}

/* libtiff pads it with grey and only warns. */
static void jpeg_strip_that_ends_early_fails(void **state) {
    help *h = *state;
    shape f = {.compression = COMPRESSION_JPEG,
               .photometric = PHOTOMETRIC_MINISBLACK,
               .bits = 8,
               .samples = 1,
               .planar = 1,
               .strip_rows = 32,
               .mode = "w"};
    char path[256], cut[256];
    strcpy(path, help_path(h, "early.tif"));
    strcpy(cut, help_path(h, "cut.tif"));
    write_file(&f, path, NULL);
    TIFF *t = TIFFOpen(path, "r");
    uint8_t raw[20000];
    void *tables;
    uint32_t size;
    tmsize_t n = TIFFReadRawStrip(t, 0, raw, sizeof raw);
    assert_int_equal(TIFFGetField(t, TIFFTAG_JPEGTABLES, &size, &tables), 1);
    TIFF *to = start(&f, cut);
    TIFFSetField(to, TIFFTAG_ROWSPERSTRIP, 32);
    TIFFSetField(to, TIFFTAG_JPEGTABLES, size, tables);
    assert_int_equal(TIFFWriteRawStrip(to, 0, raw, n / 2), n / 2);
    TIFFClose(t);
    TIFFClose(to);
    help_refused(h, cut, MILORI_ERR_DAMAGED, "cut off or damaged");
}

/* Sets two bytes of tag's entry ("at" 2: type, 4: count, 8: value) in a file
 * whose only directory is of the first kind. */
static void patch(const char *path, uint16_t tag, size_t at, uint16_t value) {
    size_t size;
    uint8_t *bytes = help_load(path, &size);
    size_t entry = 0;
    uint32_t directory;
    memcpy(&directory, bytes + 4, 4);
    for (size_t e = directory + 2; e + 12 <= size && !entry; e += 12)
        if (memcmp(bytes + e, &tag, 2) == 0)
            entry = e;
    assert_true(entry != 0);
    memcpy(bytes + entry + at, &value, 2);
    help_write(path, bytes, size);
    free(bytes);
}

static void small_file(const char *path, uint16_t compression) {
    TIFF *t = TIFFOpen(path, "wl");
    small_picture(t, 0);
    TIFFSetField(t, TIFFTAG_COMPRESSION, compression);
    TIFFSetField(t, TIFFTAG_ORIENTATION, 3);
    TIFFSetField(t, TIFFTAG_ICCPROFILE, 8, "icc icc");
    end_picture(t, 7);
    TIFFClose(t);
}

static void bad_orientation_is_upright(void **state) {
    help *h = *state;
    const char *path = help_path(h, "leaning.tif");
    const uint16_t compressions[] = {COMPRESSION_NONE, COMPRESSION_LZW};
    for (uint16_t value = 0; value < 10; value = (uint16_t)(value + 9))
        for (int c = 0; c < 2; c++) {
            small_file(path, compressions[c]);
            patch(path, TIFFTAG_ORIENTATION, 8, value);
            help_same(h, path, (const uint16_t[]){7 * 257, 7 * 257}, 2);
            mil_source *s = help_open(h, path);
            assert_int_equal(mil_source_info_of(s)->orientation, 1);
            mil_source_close(s);
        }
}

static void unreadable_profile_is_said(void **state) {
    help *h = *state;
    const char *path = help_path(h, "faded.tif");
    small_file(path, COMPRESSION_NONE);
    patch(path, TIFFTAG_ICCPROFILE, 8, 60000); /* past the end */
    help_refused(h, path, MILORI_ERR_PROFILE, "ICC profile is broken");
    small_file(path, COMPRESSION_NONE);
    patch(path, TIFFTAG_ICCPROFILE, 2, TIFF_DOUBLE);
    help_refused(h, path, MILORI_ERR_PROFILE, "ICC profile is broken");
}

int main(void) {
    TIFFSetWarningHandler(NULL); /* of the writing */
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(grey_of_every_depth),
        cmocka_unit_test(colour_in_every_layout),
        cmocka_unit_test(palettes_are_expanded),
        cmocka_unit_test(alpha_is_laid_on_white),
        cmocka_unit_test(more_extra_samples_are_left_out),
        cmocka_unit_test(rare_codecs),
        cmocka_unit_test(lowest_bit_first),
        cmocka_unit_test(jpeg_strip_that_ends_early_fails),
        cmocka_unit_test(jpeg_in_tiff_is_that_jpeg),
        cmocka_unit_test(first_page_is_read_and_small_copies_do_not_count),
        cmocka_unit_test(tags_are_read),
        cmocka_unit_test(bad_orientation_is_upright),
        cmocka_unit_test(unreadable_profile_is_said),
        cmocka_unit_test(strips_that_are_short_fail)};
    return cmocka_run_group_tests(tests, help_setup, help_teardown);
}
