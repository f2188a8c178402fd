#include "colour/decode_parts.h"

#include <stdio.h>
#include <stdlib.h>

static void name_it(const mil_source_info *info, cmsHPROFILE profile, mil_decode *decode) {
    char gamma[32];
    switch (info->space) {
    case MIL_SPACE_ICC:
        mil_profile_name(profile, decode->name, sizeof decode->name);
        break;
    case MIL_SPACE_GAMMA:
        mil_format_number(info->gamma, gamma, sizeof gamma);
        snprintf(decode->name, sizeof decode->name, "PNG gamma %s", gamma);
        break;
    case MIL_SPACE_SRGB:
        snprintf(decode->name, sizeof decode->name, "sRGB");
        break;
    case MIL_SPACE_NONE:
        snprintf(decode->name, sizeof decode->name, "sRGB (assumed)");
        decode->assumed = true;
        break;
    }
}

static milori_status fill(milori_context *ctx, mil_lcms *lcms, const mil_source_info *info,
                          mil_decode *decode) {
    cmsHPROFILE profile = NULL;
    milori_status status = mil_scan_profile(ctx, lcms, info, &profile);
    if (status != MILORI_OK)
        return status;
    name_it(info, profile, decode);
    status = decode->channels == 3 && mil_profile_has_grid(profile)
                 ? mil_decode_grid(ctx, lcms, info->path, profile, decode)
                 : mil_decode_tables(ctx, lcms, info->path, profile, decode);
    cmsCloseProfile(profile);
    return status;
}

milori_status mil_decode_new(milori_context *ctx, const mil_source_info *info, milori_notes *notes,
                             mil_decode **decode) {
    *decode = NULL;
    mil_decode *made = mil_alloc(ctx, 1, sizeof *made);
    if (!made)
        return MILORI_ERR_MEMORY;
    made->channels = info->channels;
    mil_lcms lcms;
    milori_status status = mil_lcms_new(ctx, &lcms);
    if (status == MILORI_OK)
        status = fill(ctx, &lcms, info, made);
    mil_lcms_free(&lcms);
    if (status != MILORI_OK) {
        mil_decode_free(made);
        return status;
    }
    if (made->assumed)
        mil_note(notes, "profile",
                 "no colour profile in the file: sRGB is assumed; scan with the scanner's profile "
                 "embedded");
    *decode = made;
    return MILORI_OK;
}

void mil_decode_row(const mil_decode *decode, const uint16_t *codes, uint32_t count, float *light) {
    if (decode->kind == MIL_DECODE_GRID) {
        mil_decode_grid_row(decode, codes, count, light);
        return;
    }
    if (decode->channels == 1) {
        for (uint32_t i = 0; i < count; i++)
            light[i] = decode->table[0][codes[i]];
        return;
    }
    const float *red = decode->table[0], *green = decode->table[1], *blue = decode->table[2];
    for (uint32_t i = 0; i < count; i++, codes += 3, light += 3) {
        light[0] = red[codes[0]];
        light[1] = green[codes[1]];
        light[2] = blue[codes[2]];
    }
}

void mil_decode_free(mil_decode *decode) {
    if (!decode)
        return;
    for (int c = 0; c < 3; c++)
        free(decode->table[c]);
    mil_decode_grid_free(decode);
    free(decode);
}
