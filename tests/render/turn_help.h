/* Orientations in plain words, as the TIFF 6.0 specification (tag 274, p. 36) has them: which side
 * of the picture the stored row 0 and column 0 are. Independent of src/sheet/geometry.c. */
#ifndef TEST_TURN_HELP_H
#define TEST_TURN_HELP_H

#include <stdint.h>

static const char *const turn_words[9] = {"", "tl", "tr", "br", "bl", "lt", "rt", "rb", "lb"};

static inline void turn_side(char side, uint32_t at, uint32_t count, uint32_t *x, uint32_t *y) {
    if (side == 't')
        *y = at;
    else if (side == 'b')
        *y = count - 1 - at;
    else if (side == 'l')
        *x = at;
    else
        *x = count - 1 - at;
}

/* Where the stored px (column, row) of a width x height picture is seen. */
static inline void turn_px(int orientation, uint32_t width, uint32_t height, uint32_t column,
                           uint32_t row, uint32_t *x, uint32_t *y) {
    turn_side(turn_words[orientation][0], row, height, x, y);
    turn_side(turn_words[orientation][1], column, width, x, y);
}

#endif
