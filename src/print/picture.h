/* What is printed: a sheet of a scan, or a finished positive, as one channel of light. */
#ifndef MILORI_PICTURE_H
#define MILORI_PICTURE_H

#include "draw/canvas.h"
#include "print/tones.h"
#include "render/render.h"

typedef struct mil_picture mil_picture;

typedef struct mil_picture_wish {
    const milori_choices *choices; /* of a scan: all; of a positive: palette and turn */
    bool palette_chosen;           /* a positive is printed along choices' palette, not its own */
    bool positive;                 /* a file without milori's packet is a positive all the same */
    int sheet; /* of a scan, from 0; -1: the only one, or a failure that counts them */
    bool edge; /* the whole coated sheet; what is not coated stays paper (scans only) */
} mil_picture_wish;

/* Opens path. A file with milori's packet, or one said to be finished, is a
 * positive; any other a scan, whose first pass is made here (progress 0 .. 0.5). */
milori_status mil_picture_open(milori_context *ctx, const char *path, const mil_picture_wish *wish,
                               mil_picture **picture);
/* The next sheet of the scan that is open, under other choices perhaps; the first
 * pass is not made again. */
milori_status mil_picture_again(mil_picture *picture, const mil_picture_wish *wish);
void mil_picture_close(mil_picture *picture);

bool mil_picture_is_scan(const mil_picture *picture);
int mil_picture_sheets(const mil_picture *picture); /* of its file; a positive is one */
/* As it lies on the print. */
void mil_picture_size(const mil_picture *picture, uint32_t *width, uint32_t *height);
const milori_notes *mil_picture_notes(const mil_picture *picture);
/* The line of colours it is printed along, and words for it. */
const mil_print_tones *mil_picture_tones(const mil_picture *picture);

/* Takes the part (px of the picture; NULL all) resampled to width x height px, in
 * rows of one 16 bit word a px: linear light, 65535 the bare paper. The picture
 * is rendered when first asked for, and kept in a canvas (2 bytes a px, in a file
 * if it is large). */
milori_status mil_picture_words(mil_picture *picture, const mil_part_rect *part, uint32_t width,
                                uint32_t height, const mil_taker *taker);

#endif
