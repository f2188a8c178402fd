#include "print/ink_print.h"

#include <stdlib.h>

#include "print/codes.h"
#include "print/lay.h"

struct mil_ink_print {
    milori_context *ctx;
    mil_layout layout;
    const mil_output *output;
    mil_print_codes codes;
    mil_canvas *canvas;
    uint64_t *pixels; /* at each place */
};

static milori_status draw(mil_ink_print *print, mil_picture *picture, double sharpen_mm) {
    static const uint16_t paper = MIL_PLACES - 1;
    const mil_layout *l = &print->layout;
    milori_status status =
        mil_canvas_new(print->ctx, l->page[0], l->page[1], 1, &paper, &print->canvas);
    if (status != MILORI_OK)
        return status;
    const mil_lay lay = {.canvas = print->canvas,
                         .x = l->at[0],
                         .y = l->at[1],
                         .width = l->picture[0],
                         .height = l->picture[1],
                         .sharpen_px = sharpen_mm * l->dpi / 25.4,
                         .tones = mil_picture_tones(picture),
                         .pixels = print->pixels};
    return mil_lay_picture(print->ctx, picture, NULL, &lay);
}

milori_status mil_ink_print_new(milori_context *ctx, mil_picture *picture, const mil_layout *layout,
                                double sharpen_mm, const mil_output *output, mil_ink_print **out) {
    *out = NULL;
    mil_ink_print *print = mil_alloc(ctx, 1, sizeof *print);
    if (!print)
        return MILORI_ERR_MEMORY;
    *print = (mil_ink_print){.ctx = ctx, .layout = *layout, .output = output};
    print->pixels = mil_alloc(ctx, MIL_PLACES, sizeof *print->pixels);
    milori_status status = print->pixels ? mil_print_codes_make(ctx, mil_picture_choices(picture),
                                                                output, &print->codes)
                                         : MILORI_ERR_MEMORY;
    if (status == MILORI_OK)
        status = draw(print, picture, sharpen_mm);
    if (status != MILORI_OK) {
        mil_ink_print_free(print);
        return status;
    }
    print->pixels[MIL_PLACES - 1] = 0; /* bare paper is in every printer's gamut */
    *out = print;
    return MILORI_OK;
}

void mil_ink_print_free(mil_ink_print *print) {
    if (!print)
        return;
    mil_print_codes_free(&print->codes);
    mil_canvas_free(print->canvas);
    free(print->pixels);
    free(print);
}

milori_status mil_ink_print_gamut(const mil_ink_print *print, mil_gamut *gamut) {
    return mil_gamut_measure(print->ctx, print->output, (const double(*)[3])print->codes.wished,
                             print->codes.code, print->pixels, MIL_PLACES, gamut);
}

milori_status mil_ink_print_look(const mil_ink_print *print, const char *path, bool replace) {
    mil_look *look = NULL;
    milori_status status =
        mil_look_new(print->ctx, print->output, (const double(*)[3])print->codes.wished,
                     print->codes.code, MIL_PLACES, &look);
    if (status == MILORI_OK)
        status = mil_page_look(print->ctx, print->canvas, look, print->layout.dpi, path, replace);
    mil_look_free(look);
    return status;
}

milori_status mil_ink_print_write(const mil_ink_print *print, const mil_page_file *file) {
    mil_page_file whole = *file;
    whole.dpi = print->layout.dpi;
    whole.output = print->output;
    return mil_page_write(print->ctx, print->canvas, print->codes.code, &whole);
}
