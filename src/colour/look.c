#include "colour/look.h"

#include <math.h>
#include <stdlib.h>

#include "colour/lab.h"

/* Strokes over what was lost, and how much lighter or darker than the colour they cross. */
#define STROKE_MM 1.2
#define STANDS_OUT 45.0

static milori_status take_room(milori_context *ctx, mil_look *look) {
    look->seen = mil_alloc(ctx, look->count, sizeof *look->seen);
    look->mark = mil_alloc(ctx, look->count, sizeof *look->mark);
    look->lost = mil_alloc(ctx, look->count, sizeof *look->lost);
    return look->seen && look->mark && look->lost ? MILORI_OK : MILORI_ERR_MEMORY;
}

static void see_paper(mil_look *look, const mil_output *output, const mil_output *screen) {
    double lab[1][3];
    mil_output_paper(output, lab[0]);
    mil_output_line(screen, (const double(*)[3])lab, 1, look->paper);
}

static void see_place(mil_look *look, const mil_output *output, const mil_output *screen,
                      const double wish[3], const uint16_t *codes, uint32_t place) {
    double lab[1][3], grey[1][3] = {{0, 0, 0}}, asked[3];
    mil_output_given(output, codes, true, lab[0]);
    mil_output_line(screen, (const double(*)[3])lab, 1, look->seen[place]);
    grey[0][0] = lab[0][0] + (lab[0][0] > 50 ? -STANDS_OUT : STANDS_OUT);
    mil_output_line(screen, (const double(*)[3])grey, 1, look->mark[place]);
    mil_output_asked(output, wish, asked);
    double beyond = mil_output_beyond(output, asked);
    look->lost[place] = beyond >= MIL_LOOK_FAR ? 2 : beyond >= MIL_LOOK_OUT ? 1 : 0;
}

milori_status mil_look_new(milori_context *ctx, const mil_output *output, const double (*line)[3],
                           const uint16_t *codes, uint32_t count, mil_look **made) {
    *made = NULL;
    mil_output *screen = NULL;
    mil_look *look = mil_alloc(ctx, 1, sizeof *look);
    if (!look)
        return MILORI_ERR_MEMORY;
    look->count = count;
    milori_status status = take_room(ctx, look);
    /* The paper's white is not the screen's: nothing is fitted. */
    if (status == MILORI_OK)
        status = mil_output_new(ctx, "", MILORI_RELATIVE, false, &screen);
    size_t channels = (size_t)mil_output_channels(output);
    if (status == MILORI_OK) {
        see_paper(look, output, screen);
        for (uint32_t i = 0; i < count; i++)
            see_place(look, output, screen, line[i], codes + channels * i, i);
    }
    mil_output_free(screen);
    if (status != MILORI_OK) {
        mil_look_free(look);
        return status;
    }
    *made = look;
    return MILORI_OK;
}

void mil_look_marked(const mil_look *look, uint32_t place, uint32_t x, uint32_t y, double dpi,
                     uint16_t rgb[3]) {
    uint32_t apart = (uint32_t)fmax(6, STROKE_MM / 25.4 * dpi + .5), wide = apart / 5;
    wide = wide < 2 ? 2 : wide;
    uint32_t across = x % apart, down = y % apart;
    bool stroke = look->lost[place] && (across + apart - down) % apart < wide;
    bool cross = look->lost[place] == 2 && (across + down) % apart < wide;
    const uint16_t *shown = stroke || cross ? look->mark[place] : look->seen[place];
    for (int c = 0; c < 3; c++)
        rgb[c] = shown[c];
}

void mil_look_free(mil_look *look) {
    if (!look)
        return;
    free(look->seen);
    free(look->mark);
    free(look->lost);
    free(look);
}
