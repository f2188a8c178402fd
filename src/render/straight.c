#include "render/straight.h"

#include <math.h>

/* A gate's edge is soft: a crop to its very middle keeps a dark rim of penumbra and of the
 * scanner's blur. Corners that the user gave are kept to. */
static const double RIM_MM = 0.2;

static int total_turn(int orientation, const milori_choices *choices) {
    /* TIFF 6.0, tag 274: 2 is mirrored left to right, 6 3 8 are quarter turns clockwise. */
    static const int clockwise[4] = {1, 6, 3, 8};
    int turn = mil_orient_compose(orientation, choices->as_scanned ? 1 : 2);
    return mil_orient_compose(turn, clockwise[(choices->turn / 90) & 3]);
}

milori_status mil_straight_of(milori_context *ctx, const mil_measured *measured, int index,
                              const milori_choices *choices, mil_straight *straight) {
    const mil_grid *grid = &measured->grid;
    const mil_found *found = &measured->found[index];
    const mil_rect *r = choices->whole_sheet ? &found->outline : &found->frame;
    bool exact = choices->whole_sheet || found->frame_origin == MILORI_GIVEN;
    double rim = exact ? 0 : fmin(RIM_MM / grid->mm_px, 0.02 * fmin(r->w, r->h));
    double w = round(r->w - 2 * rim), h = round(r->h - 2 * rim);
    /* Places are kept to 2^-32 px in 64 bits. */
    const double widest = 1 << 30;
    double most = fmin(2.0 * ((double)grid->width + grid->height), widest);
    if (!(w >= 1 && h >= 1 && w <= most && h <= most && r->cx >= 0 &&
          r->cx <= fmin(grid->width, widest) && r->cy >= 0 && r->cy <= fmin(grid->height, widest)))
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: the frame of sheet %d does not lie on the scan; give its corners",
                        mil_source_info_of(measured->source)->path, index + 1);
    *straight = (mil_straight){.cx = r->cx,
                               .cy = r->cy,
                               .cosine = cos(r->angle),
                               .sine = sin(r->angle),
                               .width = (uint32_t)w,
                               .height = (uint32_t)h,
                               .turn = total_turn(grid->orientation, choices)};
    if (fabs(sin(r->angle)) * fmax(w, h) / 2 < 0.25) {
        straight->cosine = 1;
        straight->sine = 0;
        straight->cx = round(r->cx - w / 2) + w / 2;
        straight->cy = round(r->cy - h / 2) + h / 2;
    }
    return MILORI_OK;
}

static void swap(uint32_t *a, uint32_t *b) {
    uint32_t c = *a;
    *a = *b;
    *b = c;
}

void mil_straight_size(const mil_straight *straight, uint32_t *width, uint32_t *height) {
    *width = straight->width;
    *height = straight->height;
    if (straight->turn >= 5)
        swap(width, height);
}

/* Output px first .. end - 1 of n that cover x .. x + w of size px; one at least. */
static void cut(double x, double w, uint32_t size, uint32_t n, double *first, double *end) {
    const double slack = 1e-6;
    *first = fmin(fmax(floor(x * n / size + slack), 0), n - 1.0);
    *end = fmax(fmin(ceil((x + w) * n / size - slack), n), *first + 1);
}

void mil_raster_of(const mil_straight *straight, const mil_part_rect *part, double scale,
                   mil_raster *raster) {
    uint32_t pw, ph;
    mil_straight_size(straight, &pw, &ph);
    uint32_t n = (uint32_t)fmax(1, round(pw * scale)), m = (uint32_t)fmax(1, round(ph * scale));
    double x0 = 0, x1 = n, y0 = 0, y1 = m;
    if (part) {
        cut(part->x, part->w, pw, n, &x0, &x1);
        cut(part->y, part->h, ph, m, &y0, &y1);
    }
    raster->sharp = n == pw && m == ph;
    if (straight->turn >= 5)
        swap(&n, &m);
    double ax, ay, bx, by;
    mil_orient_back(straight->turn, n, m, x0, y0, &ax, &ay);
    mil_orient_back(straight->turn, n, m, x1, y1, &bx, &by);
    raster->qx = (double)straight->width / n;
    raster->qy = (double)straight->height / m;
    raster->left = (uint32_t)fmin(ax, bx);
    raster->top = (uint32_t)fmin(ay, by);
    raster->width = (uint32_t)fabs(bx - ax);
    raster->height = (uint32_t)fabs(by - ay);
}

void mil_raster_size(const mil_straight *straight, const mil_raster *raster, uint32_t *width,
                     uint32_t *height) {
    *width = raster->width;
    *height = raster->height;
    if (straight->turn >= 5)
        swap(width, height);
}
