#include "colour/output.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "colour/lab.h"
#include "colour/profile.h"

struct mil_output {
    mil_lcms lcms;
    cmsHTRANSFORM there;       /* Lab to the device, as chosen */
    cmsHTRANSFORM plain, back; /* Lab to the device and back, relative, nothing compensated */
    double black[3];           /* XYZ that black point compensation makes of L* 0 */
    int channels;
    uint8_t *icc;
    size_t icc_size;
};

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

static cmsHTRANSFORM from_lab(mil_output *output, cmsHPROFILE lab, cmsHPROFILE device,
                              cmsUInt32Number intent, bool black_point) {
    return cmsCreateTransformTHR(output->lcms.context, lab, TYPE_Lab_DBL, device,
                                 output->channels == 3 ? TYPE_RGB_DBL : TYPE_GRAY_DBL, intent,
                                 TRANSFORM_FLAGS |
                                     (black_point ? cmsFLAGS_BLACKPOINTCOMPENSATION : 0));
}

static milori_status make_transforms(milori_context *ctx, mil_output *output, const char *owner,
                                     cmsHPROFILE device, milori_intent intent, bool black_point) {
    static const cmsUInt32Number intents[] = {
        [MILORI_PERCEPTUAL] = INTENT_PERCEPTUAL,
        [MILORI_RELATIVE] = INTENT_RELATIVE_COLORIMETRIC,
        [MILORI_SATURATION] = INTENT_SATURATION,
        [MILORI_ABSOLUTE] = INTENT_ABSOLUTE_COLORIMETRIC,
    };
    cmsHPROFILE lab = cmsCreateLab4ProfileTHR(output->lcms.context, NULL);
    if (lab) {
        output->there = from_lab(output, lab, device, intents[intent], black_point);
        output->plain = from_lab(output, lab, device, INTENT_RELATIVE_COLORIMETRIC, false);
        output->back = cmsCreateTransformTHR(
            output->lcms.context, device, output->channels == 3 ? TYPE_RGB_DBL : TYPE_GRAY_DBL, lab,
            TYPE_Lab_DBL, INTENT_RELATIVE_COLORIMETRIC, TRANSFORM_FLAGS);
    }
    cmsCloseProfile(lab);
    if (!output->there || !output->plain || !output->back)
        return mil_profile_fail(ctx, &output->lcms, owner, "it does not serve for output");
    cmsCIEXYZ black = {0, 0, 0};
    if (black_point && intent != MILORI_ABSOLUTE)
        cmsDetectDestinationBlackPoint(&black, device, intents[intent], 0);
    output->black[0] = black.X;
    output->black[1] = black.Y;
    output->black[2] = black.Z;
    return MILORI_OK;
}

static milori_status fill(milori_context *ctx, mil_output *output, const char *path,
                          milori_intent intent, bool black_point) {
    milori_status status = mil_lcms_new(ctx, &output->lcms);
    if (status != MILORI_OK)
        return status;
    status = path[0] ? mil_read_file(ctx, path, PROFILE_MOST, &output->icc, &output->icc_size)
                     : build_srgb(ctx, output);
    if (status != MILORI_OK)
        return status;
    const char *owner = path[0] ? path : "sRGB";
    cmsHPROFILE device = NULL;
    status = mil_profile_open(ctx, &output->lcms, owner, output->icc, output->icc_size, &device);
    if (status != MILORI_OK)
        return status;
    output->channels = mil_profile_channels(device);
    status = make_transforms(ctx, output, owner, device, intent, black_point);
    cmsCloseProfile(device);
    return status;
}

milori_status mil_output_new(milori_context *ctx, const char *profile, milori_intent intent,
                             bool black_point, mil_output **output) {
    *output = NULL;
    if ((unsigned)intent > MILORI_ABSOLUTE)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT, "the rendering intent is none of the four");
    mil_output *made = mil_alloc(ctx, 1, sizeof *made);
    if (!made)
        return MILORI_ERR_MEMORY;
    milori_status status = fill(ctx, made, profile, intent, black_point);
    if (status != MILORI_OK) {
        mil_output_free(made);
        return status;
    }
    *output = made;
    return MILORI_OK;
}

int mil_output_channels(const mil_output *output) {
    return output->channels;
}

const uint8_t *mil_output_icc(const mil_output *output, size_t *size) {
    *size = output->icc_size;
    return output->icc;
}

static double within(double v) {
    return v > 0 ? v < 1 ? v : 1 : 0; /* NaN to 0 */
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
        double device[3] = {0, 0, 0};
        cmsDoTransform(output->there, lab[i], device, 1);
        if (output->channels == 3)
            keep_neutral(lab[i], device);
        for (int c = 0; c < output->channels; c++)
            *codes++ = (uint16_t)(within(device[c]) * 65535 + .5);
    }
}

/* What black point compensation makes of a colour: XYZ moved along a line so
 * that 0 becomes the device's black and white stays. */
static void compensate(const double black[3], const double lab[3], double out[3]) {
    static const double light[3] = {100, 0, 0};
    double white[3], xyz[3];
    mil_lab_to_xyz(light, white);
    mil_lab_to_xyz(lab, xyz);
    for (int i = 0; i < 3; i++)
        xyz[i] = black[i] + xyz[i] * (white[i] - black[i]) / white[i];
    mil_xyz_to_lab(xyz, out);
}

bool mil_output_holds(const mil_output *output, const double lab[3]) {
    double wanted[3], device[3] = {0, 0, 0}, got[3];
    compensate(output->black, lab, wanted);
    cmsDoTransform(output->plain, wanted, device, 1);
    for (int c = 0; c < output->channels; c++)
        device[c] = within(device[c]);
    cmsDoTransform(output->back, device, got, 1);
    return mil_ciede2000(wanted, got) < 1;
}

void mil_output_free(mil_output *output) {
    if (!output)
        return;
    cmsHTRANSFORM made[3] = {output->there, output->plain, output->back};
    for (int i = 0; i < 3; i++)
        if (made[i])
            cmsDeleteTransform(made[i]);
    mil_lcms_free(&output->lcms);
    free(output->icc);
    free(output);
}
