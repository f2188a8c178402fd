/* What is printed: a sheet of a scan, or a finished positive, as one channel of light. */
#ifndef MILORI_PICTURE_H
#define MILORI_PICTURE_H

#include "print/tones.h"
#include "render/render.h"

typedef struct mil_picture mil_picture;

typedef struct mil_picture_wish {
    const milori_choices *choices; /* of a scan: all; of a positive: palette and turn */
    bool palette_chosen;           /* a positive is printed along choices' palette, not its own */
    bool positive;                 /* a file without milori's packet is a positive all the same */
    bool edge; /* the whole coated sheet; what is not coated is paper (scans only) */
} mil_picture_wish;

/* Opens path. A file with milori's packet, or one said to be a positive, is one; any
 * other is a scan, whose first pass is made here (progress 0 .. 0.5). The first sheet
 * is the picture. MILORI_ERR_ARGUMENT if the wish is none for a positive. */
milori_status mil_picture_open(milori_context *ctx, const char *path, const mil_picture_wish *wish,
                               mil_picture **picture);
/* Another sheet (from 0) of the file that is open, or other choices for it; those
 * that say what the sheets are (dpi, shape, frame, corners, spots) stay. The first
 * pass is not made again. */
milori_status mil_picture_take(mil_picture *picture, int sheet, const mil_picture_wish *wish);
void mil_picture_close(mil_picture *picture);

bool mil_picture_is_scan(const mil_picture *picture);
int mil_picture_sheets(const mil_picture *picture); /* of its file; a positive is one */
/* px, as it lies on the print. */
void mil_picture_size(const mil_picture *picture, uint32_t *width, uint32_t *height);
/* The file's, and those of the sheet. */
const milori_notes *mil_picture_file_notes(const mil_picture *picture);
const milori_notes *mil_picture_notes(const mil_picture *picture);
/* Whose palette it is printed along, and the words of that. */
const milori_choices *mil_picture_choices(const mil_picture *picture);
const mil_print_tones *mil_picture_tones(const mil_picture *picture);

/* Takes the part (px of the picture; NULL all) resampled in linear light to width x
 * height px, in rows of one word a px: 0 .. 65535, the bare paper. Between, the part
 * is kept at its own size in a canvas (2 bytes a px, in a file if it is large). Both
 * ways the palette's darkest is tones->word[0]. */
milori_status mil_picture_words(mil_picture *picture, const mil_part_rect *part, uint32_t width,
                                uint32_t height, const mil_taker *taker);

#endif
