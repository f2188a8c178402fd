/* Where a picture lies on its paper: mm from what the user asked for, then whole px. */
#ifndef MILORI_LAYOUT_H
#define MILORI_LAYOUT_H

#include "base/base.h"

/* Which side of the picture the wanted length is of. */
typedef enum mil_side {
    MIL_SIDE_FIT = 0, /* no length: as large as the margins allow */
    MIL_SIDE_LONG,
    MIL_SIDE_SHORT,
    MIL_SIDE_WIDTH,
    MIL_SIDE_HEIGHT,
    MIL_SIDE_PIXELS /* no length: a px of the print for a px of the picture */
} mil_side;

typedef struct mil_layout_wish {
    bool no_paper;       /* the file is the picture alone: no margins, no place */
    double paper_mm[2];  /* width, height */
    bool paper_lies;     /* as given; else laid across where that suits the picture */
    double margin_mm[4]; /* top right bottom left */
    mil_side side;
    double side_mm;
    int across, down; /* of the picture within the margins: -1 left or top, 0 centre, 1 */
    bool placed;      /* its left top corner lies at place_mm from the paper's, instead */
    double place_mm[2];
    double dpi; /* of the print */
} mil_layout_wish;

typedef struct mil_layout {
    double paper_mm[2], picture_mm[2];
    double dpi;
    uint32_t page[2];    /* px */
    uint32_t picture[2]; /* px */
    uint32_t at[2];      /* px of the picture's left top corner from the page's */
} mil_layout;

/* From the user's texts; MILORI_ERR_ARGUMENT names the option. */
milori_status mil_layout_size(milori_context *ctx, const char *text, mil_layout_wish *wish);
milori_status mil_layout_margin(milori_context *ctx, const char *text, mil_layout_wish *wish);
milori_status mil_layout_place(milori_context *ctx, const char *text, mil_layout_wish *wish);
/* A4, 15 mm of margin all round, fitted, centred, 360 dpi. */
void mil_layout_default(mil_layout_wish *wish);

/* For a picture of width x height px. MILORI_ERR_ARGUMENT says what does not fit
 * and what would. */
milori_status mil_layout_make(milori_context *ctx, const mil_layout_wish *wish, uint32_t width,
                              uint32_t height, mil_layout *layout);
/* Size in mm that the picture is to have, whether or not it fits. */
void mil_layout_picture(const mil_layout_wish *wish, uint32_t width, uint32_t height, double mm[2]);
/* The area within the margins, mm: width and height. */
void mil_layout_room(const mil_layout_wish *wish, double mm[2]);

#endif
