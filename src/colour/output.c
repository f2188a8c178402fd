#include "colour/output.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "colour/output_parts.h"

enum { PROFILE_MOST = 64 << 20 };
#define TRANSFORM_FLAGS (cmsFLAGS_NOCACHE | cmsFLAGS_NOOPTIMIZE)

/* lcms2's sRGB as a file. lcms2 stamps it with the clock; here every copy is the
 * same, so it gets a fixed date (IEC 61966-2-1 is of 1999) and no profile ID. */
static milori_status build_srgb(milori_context *ctx, mil_output *output) {
    mil_lcms *lcms = &output->lcms;
    cmsHPROFILE profile = cmsCreate_sRGBProfileTHR(lcms->context);
    cmsMLU *name = cmsMLUalloc(lcms->context, 1);
    cmsUInt32Number size = 0;
    bool good = profile && name && cmsMLUsetASCII(name, "en", "US", "sRGB") &&
                cmsWriteTag(profile, cmsSigProfileDescriptionTag, name) &&
                cmsSaveProfileToMem(profile, NULL, &size) && size > 128;
    if (good) {
        output->icc = mil_alloc(ctx, size, 1);
        good = output->icc && cmsSaveProfileToMem(profile, output->icc, &size);
    }
    cmsMLUfree(name);
    cmsCloseProfile(profile);
    if (!good)
        return mil_profile_fail(ctx, lcms, "sRGB", "lcms2 cannot build it");
    output->icc_size = size;
    static const uint8_t date[12] = {1999 >> 8, 1999 & 0xff, 0, 1, 0, 1};
    memcpy(output->icc + 24, date, sizeof date);
    memset(output->icc + 84, 0, 16);
    return MILORI_OK;
}

static cmsUInt32Number device_type(const mil_output *output) {
    return output->channels == 1   ? TYPE_GRAY_DBL
           : output->channels == 3 ? TYPE_RGB_DBL
                                   : TYPE_CMYK_DBL;
}

static cmsHTRANSFORM from_lab(mil_output *output, cmsHPROFILE lab, cmsHPROFILE device,
                              cmsUInt32Number intent, bool black_point) {
    return cmsCreateTransformTHR(
        output->lcms.context, lab, TYPE_Lab_DBL, device, device_type(output), intent,
        TRANSFORM_FLAGS | (black_point ? cmsFLAGS_BLACKPOINTCOMPENSATION : 0));
}

static cmsHTRANSFORM to_lab(mil_output *output, cmsHPROFILE lab, cmsHPROFILE device,
                            cmsUInt32Number intent) {
    return cmsCreateTransformTHR(output->lcms.context, device, device_type(output), lab,
                                 TYPE_Lab_DBL, intent, TRANSFORM_FLAGS);
}

static bool sees_paper(const mil_output *output) {
    double lab[3];
    mil_output_paper(output, lab);
    return isfinite(lab[0]) && isfinite(lab[1]) && isfinite(lab[2]);
}

static void detect_black(cmsHPROFILE device, cmsUInt32Number intent, double xyz[3]) {
    cmsCIEXYZ black = {0, 0, 0};
    cmsDetectDestinationBlackPoint(&black, device, intent, 0);
    xyz[0] = black.X;
    xyz[1] = black.Y;
    xyz[2] = black.Z;
}

static milori_status make_transforms(milori_context *ctx, mil_output *output, const char *owner,
                                     cmsHPROFILE device, bool black_point, bool print) {
    static const cmsUInt32Number intents[] = {
        [MILORI_PERCEPTUAL] = INTENT_PERCEPTUAL,
        [MILORI_RELATIVE] = INTENT_RELATIVE_COLORIMETRIC,
        [MILORI_SATURATION] = INTENT_SATURATION,
        [MILORI_ABSOLUTE] = INTENT_ABSOLUTE_COLORIMETRIC,
    };
    const cmsUInt32Number intent = intents[output->intent];
    cmsHPROFILE lab = cmsCreateLab4ProfileTHR(output->lcms.context, NULL);
    if (lab) {
        output->there = from_lab(output, lab, device, intent, black_point);
        output->plain = from_lab(output, lab, device, INTENT_RELATIVE_COLORIMETRIC, false);
        output->back = to_lab(output, lab, device, INTENT_RELATIVE_COLORIMETRIC);
        if (print)
            output->on_paper = to_lab(output, lab, device, INTENT_ABSOLUTE_COLORIMETRIC);
    }
    cmsCloseProfile(lab);
    if (!output->there || !output->plain || !output->back || (print && !output->on_paper))
        return mil_profile_fail(ctx, &output->lcms, owner, "it does not serve for output");
    if (print && !sees_paper(output))
        return mil_profile_fail(ctx, &output->lcms, owner, "its white is no colour");
    if (black_point && output->intent != MILORI_ABSOLUTE)
        detect_black(device, intent, output->black);
    bool tables_fit = output->intent == MILORI_PERCEPTUAL || output->intent == MILORI_SATURATION;
    if (print && (tables_fit || (black_point && output->intent == MILORI_RELATIVE)))
        detect_black(device, INTENT_RELATIVE_COLORIMETRIC, output->fit);
    return MILORI_OK;
}

/* A table that is missing is the one that lcms2 would fall back to, or any. */
static void link_tables(cmsHPROFILE device, const cmsTagSignature tags[3]) {
    int have = 0;
    while (have < 3 && !cmsIsTag(device, tags[have]))
        have++;
    for (int i = 0; have < 3 && i < 3; i++)
        if (!cmsIsTag(device, tags[i]))
            cmsLinkTag(device, tags[i], tags[have]);
}

/* lcms2 looks for a black only in tables of the intent's own, and finds none
 * where a printer's profile holds A2B0 and B2A0 alone, which serve every intent
 * (ICC.1, 8.5.2 and table of the precedence of tags). With the tables under the
 * other names too it goes by what they give (ISO 18619: a round trip of greys). */
static void share_tables(cmsHPROFILE device) {
    static const cmsTagSignature to_pcs[3] = {cmsSigAToB0Tag, cmsSigAToB1Tag, cmsSigAToB2Tag};
    static const cmsTagSignature from_pcs[3] = {cmsSigBToA0Tag, cmsSigBToA1Tag, cmsSigBToA2Tag};
    link_tables(device, to_pcs);
    link_tables(device, from_pcs);
}

static milori_status fill(milori_context *ctx, mil_output *output, const char *path,
                          bool black_point, bool print) {
    milori_status status = mil_lcms_new(ctx, &output->lcms);
    if (status != MILORI_OK)
        return status;
    status = path[0] ? mil_read_file(ctx, path, PROFILE_MOST, &output->icc, &output->icc_size)
                     : build_srgb(ctx, output);
    if (status != MILORI_OK)
        return status;
    const char *owner = path[0] ? path : "sRGB";
    cmsHPROFILE device = NULL;
    status =
        mil_profile_open(ctx, &output->lcms, owner, output->icc, output->icc_size, print, &device);
    if (status != MILORI_OK)
        return status;
    output->channels = mil_profile_channels(device);
    mil_profile_name(device, output->name, sizeof output->name);
    if (print)
        share_tables(device);
    status = make_transforms(ctx, output, owner, device, black_point, print);
    cmsCloseProfile(device);
    return status;
}

static milori_status make(milori_context *ctx, const char *profile, milori_intent intent,
                          bool black_point, bool print, mil_output **output) {
    *output = NULL;
    if ((unsigned)intent > MILORI_ABSOLUTE)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT, "the rendering intent is none of the four");
    mil_output *made = mil_alloc(ctx, 1, sizeof *made);
    if (!made)
        return MILORI_ERR_MEMORY;
    made->intent = intent;
    milori_status status = fill(ctx, made, profile, black_point, print);
    if (status != MILORI_OK) {
        mil_output_free(made);
        return status;
    }
    *output = made;
    return MILORI_OK;
}

milori_status mil_output_new(milori_context *ctx, const char *profile, milori_intent intent,
                             bool black_point, mil_output **output) {
    return make(ctx, profile, intent, black_point, false, output);
}

milori_status mil_output_new_print(milori_context *ctx, const char *profile, milori_intent intent,
                                   bool black_point, mil_output **output) {
    return make(ctx, profile, intent, black_point, true, output);
}

int mil_output_channels(const mil_output *output) {
    return output->channels;
}

void mil_output_name(const mil_output *output, char *name, size_t size) {
    size_t n = strlen(output->name);
    if (n >= size) /* whole characters only */
        for (n = size ? size - 1 : 0; n > 0 && ((uint8_t)output->name[n] & 0xc0) == 0x80; n--)
            ;
    if (size) {
        memcpy(name, output->name, n);
        name[n] = 0;
    }
}

milori_intent mil_output_intent(const mil_output *output) {
    return output->intent;
}

const uint8_t *mil_output_icc(const mil_output *output, size_t *size) {
    *size = output->icc_size;
    return output->icc;
}

/* Colorants are rounded to 16 bits and curves to tables, so a neutral comes out
 * some codes of 65535 apart. What is apart by less than a quarter of an 8 bit
 * code is meant to be neutral, and becomes so exactly. */
static void keep_neutral(const double lab[3], double rgb[3]) {
    const double apart = 64. / 65535;
    double least = fmin(rgb[0], fmin(rgb[1], rgb[2])), most = fmax(rgb[0], fmax(rgb[1], rgb[2]));
    if (lab[1] == 0 && lab[2] == 0 && most - least < apart)
        rgb[0] = rgb[1] = rgb[2] = (rgb[0] + rgb[1] + rgb[2]) / 3;
}

void mil_output_line(const mil_output *output, const double (*lab)[3], uint32_t count,
                     uint16_t *codes) {
    /* One colour at a time: a line is a table, not a picture. */
    for (uint32_t i = 0; i < count; i++) {
        double device[4] = {0, 0, 0, 0};
        cmsDoTransform(output->there, lab[i], device, 1);
        if (output->channels == 3)
            keep_neutral(lab[i], device);
        for (int c = 0; c < output->channels; c++)
            *codes++ = (uint16_t)(mil_within(device[c] / mil_full_code(output)) * 65535 + .5);
    }
}

void mil_output_free(mil_output *output) {
    if (!output)
        return;
    cmsHTRANSFORM made[4] = {output->there, output->plain, output->back, output->on_paper};
    for (int i = 0; i < 4; i++)
        if (made[i])
            cmsDeleteTransform(made[i]);
    mil_lcms_free(&output->lcms);
    free(output->icc);
    free(output);
}
