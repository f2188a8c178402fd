#include "draw/label.h"

#include <fontconfig/fontconfig.h>
#include <ft2build.h>
#include <stdlib.h>
#include <string.h>

#include FT_FREETYPE_H

struct mil_font {
    FT_Library library;
    FT_Face face;
};

enum { LETTERS_MOST = 4096, ELLIPSIS = 0x2026 };

/* ---- the font ---------------------------------------------------------------- */

/* The file of the system's sans serif font; false where there is none that scales. */
static bool find_font(FcConfig *config, char **path, int *index) {
    bool found = false;
    FcResult result;
    FcChar8 *file = NULL;
    FcPattern *wanted = FcPatternCreate(), *font = NULL;
    if (wanted) {
        FcPatternAddString(wanted, FC_FAMILY, (const FcChar8 *)"sans-serif");
        FcPatternAddBool(wanted, FC_SCALABLE, FcTrue);
        FcConfigSubstitute(config, wanted, FcMatchPattern);
        FcDefaultSubstitute(wanted);
        font = FcFontMatch(config, wanted, &result);
    }
    if (font && FcPatternGetString(font, FC_FILE, 0, &file) == FcResultMatch) {
        if (FcPatternGetInteger(font, FC_INDEX, 0, index) != FcResultMatch)
            *index = 0;
        *path = strdup((const char *)file);
        found = *path != NULL;
    }
    if (font)
        FcPatternDestroy(font);
    if (wanted)
        FcPatternDestroy(wanted);
    return found;
}

static bool open_face(mil_font *font) {
    char *path = NULL;
    int index = 0;
    FcConfig *config = FcInitLoadConfigAndFonts();
    bool found = config && find_font(config, &path, &index);
    if (config)
        FcConfigDestroy(config);
    /* Above 16 bits the number says which instance of a variable font. */
    bool open = found && FT_New_Face(font->library, path, index & 0xffff, &font->face) == 0 &&
                FT_IS_SCALABLE(font->face) && font->face->units_per_EM > 0 &&
                font->face->ascender > font->face->descender;
    free(path);
    return open;
}

milori_status mil_font_open(milori_context *ctx, mil_font **out) {
    *out = NULL;
    mil_font *font = mil_alloc(ctx, 1, sizeof *font);
    if (!font)
        return MILORI_ERR_MEMORY;
    if (FT_Init_FreeType(&font->library) == 0 && open_face(font)) {
        *out = font;
        return MILORI_OK;
    }
    mil_font_free(font);
    return mil_fail(ctx, MILORI_ERR_OPEN,
                    "no font to write words with; install one: apt-get install fonts-dejavu-core");
}

void mil_font_free(mil_font *font) {
    if (!font)
        return;
    if (font->face)
        FT_Done_Face(font->face);
    if (font->library)
        FT_Done_FreeType(font->library);
    free(font);
}

/* ---- a line ------------------------------------------------------------------ */

/* Letters of a line and where they begin, 1/64 px. */
typedef struct line {
    size_t count;
    FT_UInt glyph[LETTERS_MOST];
    FT_Pos at[LETTERS_MOST + 1]; /* the last: the line's end */
} line;

static milori_status scale(milori_context *ctx, mil_font *font, uint32_t height) {
    FT_Face face = font->face;
    double size = (double)height * 64 * face->units_per_EM / (face->ascender - face->descender);
    if (height >= 1 && height <= 16384 &&
        FT_Set_Char_Size(face, 0, (FT_F26Dot6)(size < 64 ? 64 : size), 72, 72) == 0)
        return MILORI_OK;
    return mil_fail(ctx, MILORI_ERR_ARGUMENT, "words cannot be %u px high", height);
}

/* Advance of a glyph, 1/64 px. */
static FT_Pos advance(mil_font *font, FT_UInt glyph) {
    if (FT_Load_Glyph(font->face, glyph, FT_LOAD_NO_HINTING) != 0)
        return 0;
    return font->face->glyph->advance.x;
}

static void add_letter(mil_font *font, uint32_t code, line *l) {
    FT_UInt glyph = FT_Get_Char_Index(font->face, code);
    FT_Vector kern = {0, 0};
    if (l->count > 0)
        FT_Get_Kerning(font->face, l->glyph[l->count - 1], glyph, FT_KERNING_UNFITTED, &kern);
    l->at[l->count] += kern.x;
    l->glyph[l->count] = glyph;
    l->at[l->count + 1] = l->at[l->count] + advance(font, glyph);
    l->count++;
}

static uint32_t px_of(FT_Pos at) {
    return at > 0 ? (uint32_t)((at + 63) / 64) : 0;
}

/* Takes letters off until the line with an ellipsis fits; the ellipsis alone if need be. */
static void shorten(mil_font *font, uint32_t most, line *l) {
    FT_Pos dots = advance(font, FT_Get_Char_Index(font->face, ELLIPSIS));
    while (l->count > 0 && px_of(l->at[l->count] + dots) > most)
        l->count--;
    add_letter(font, ELLIPSIS, l);
}

/* Whether all of words is UTF-8 without controls. */
static bool plain(const char *words) {
    uint32_t code;
    for (size_t n; *words; words += n) {
        n = mil_utf8(words, &code);
        if (n == 0 || code < 0x20 || code == 0x7f)
            return false;
    }
    return true;
}

static milori_status lay_out(milori_context *ctx, mil_font *font, const char *words,
                             uint32_t height, uint32_t most, line *l) {
    milori_status status = scale(ctx, font, height);
    char *shown = status != MILORI_OK ? NULL : plain(words) ? strdup(words) : mil_printable(words);
    if (status == MILORI_OK && !shown)
        return mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: close other programs");
    l->count = 0;
    l->at[0] = 0;
    uint32_t code;
    /* Two places are left: for the ellipsis and the end. */
    for (const char *s = shown; s && *s && l->count < LETTERS_MOST - 2;) {
        size_t n = mil_utf8(s, &code);
        add_letter(font, n ? code : '?', l);
        s += n ? n : 1;
    }
    free(shown);
    if (status == MILORI_OK && most > 0 && px_of(l->at[l->count]) > most)
        shorten(font, most, l);
    return status;
}

/* Lays a glyph's cover on the mask, the greater of both where they overlap. */
static void stamp(const FT_GlyphSlot slot, int64_t x, int64_t y, mil_mask *mask) {
    const FT_Bitmap *bitmap = &slot->bitmap;
    for (unsigned int j = 0; j < bitmap->rows; j++)
        for (unsigned int i = 0; i < bitmap->width; i++) {
            int64_t u = x + i, v = y + j;
            if (u < 0 || v < 0 || u >= (int64_t)mask->width || v >= (int64_t)mask->height)
                continue;
            uint8_t *cover = mask->cover + (size_t)v * mask->width + (size_t)u;
            uint8_t c = bitmap->buffer[(ptrdiff_t)j * bitmap->pitch + (ptrdiff_t)i];
            *cover = c > *cover ? c : *cover;
        }
}

static void draw(mil_font *font, const line *l, mil_mask *mask) {
    FT_Face face = font->face;
    double down = (double)mask->height * face->ascender / (face->ascender - face->descender);
    int64_t base = (int64_t)(down + 0.5);
    for (size_t i = 0; i < l->count; i++) {
        FT_Vector part = {l->at[i] & 63, 0};
        FT_Set_Transform(face, NULL, &part);
        if (FT_Load_Glyph(face, l->glyph[i], FT_LOAD_RENDER | FT_LOAD_NO_HINTING) == 0 &&
            face->glyph->bitmap.pixel_mode == FT_PIXEL_MODE_GRAY)
            stamp(face->glyph, (l->at[i] >> 6) + face->glyph->bitmap_left,
                  base - face->glyph->bitmap_top, mask);
    }
    FT_Set_Transform(face, NULL, NULL);
}

milori_status mil_label(milori_context *ctx, mil_font *font, const char *words, uint32_t height,
                        uint32_t most, mil_mask *mask) {
    *mask = (mil_mask){0};
    line *l = mil_alloc(ctx, 1, sizeof *l);
    if (!l)
        return MILORI_ERR_MEMORY;
    milori_status status = lay_out(ctx, font, words, height, most, l);
    if (status == MILORI_OK) {
        uint32_t width = px_of(l->at[l->count]);
        status = mil_mask_new(ctx, most > 0 && width > most ? most : width, height, mask);
    }
    if (status == MILORI_OK)
        draw(font, l, mask);
    free(l);
    return status;
}

milori_status mil_label_width(milori_context *ctx, mil_font *font, const char *words,
                              uint32_t height, uint32_t *width) {
    *width = 0;
    line *l = mil_alloc(ctx, 1, sizeof *l);
    if (!l)
        return MILORI_ERR_MEMORY;
    milori_status status = lay_out(ctx, font, words, height, 0, l);
    if (status == MILORI_OK)
        *width = px_of(l->at[l->count]);
    free(l);
    return status;
}
