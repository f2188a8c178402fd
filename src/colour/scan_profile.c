#include "colour/decode_parts.h"

#include <math.h>

/* IEC 61966-2-1, as lcms2's parametric curve of type 4. */
static cmsToneCurve *srgb_curve(mil_lcms *lcms) {
    const double parameters[5] = {2.4, 1 / 1.055, .055 / 1.055, 1 / 12.92, .04045};
    return cmsBuildParametricToneCurve(lcms->context, 4, parameters);
}

static milori_status no_profile(milori_context *ctx, const mil_lcms *lcms, const char *path,
                                cmsHPROFILE profile) {
    return profile ? MILORI_OK : mil_profile_fail(ctx, lcms, path, "lcms2 cannot build it");
}

/* Whether cHRM's white and primaries are real points that span a triangle. */
static bool spans_colours(const double chrm[8]) {
    for (int i = 0; i < 8; i += 2)
        if (!(chrm[i + 1] > 1e-6 && chrm[i + 1] <= 1 && chrm[i] >= 0 && chrm[i] <= 1))
            return false;
    const double *r = chrm + 2, *g = chrm + 4, *b = chrm + 6;
    double area = (g[0] - r[0]) * (b[1] - r[1]) - (b[0] - r[0]) * (g[1] - r[1]);
    return fabs(area) > 1e-4;
}

/* PNG (third edition, 11.3.2): gAMA is the encoding exponent; without cHRM the
 * primaries are taken as sRGB's, the likeliest. */
static milori_status gamma_profile(milori_context *ctx, mil_lcms *lcms, const mil_source_info *info,
                                   cmsHPROFILE *profile) {
    static const double srgb[8] = {.3127, .3290, .64, .33, .30, .60, .15, .06};
    const double *c = info->has_chrm ? info->chrm : srgb;
    if (!(info->gamma >= .01 && info->gamma <= 100))
        return mil_fail(ctx, MILORI_ERR_PROFILE,
                        "%s: its gAMA chunk gives no usable gamma; save it with an ICC profile",
                        info->path);
    if (info->channels == 3 && !spans_colours(c))
        return mil_fail(ctx, MILORI_ERR_PROFILE,
                        "%s: its cHRM chunk gives no usable primaries; save it with an ICC profile",
                        info->path);
    cmsToneCurve *curve = cmsBuildGamma(lcms->context, 1 / info->gamma);
    cmsToneCurve *curves[3] = {curve, curve, curve};
    cmsCIExyY white = {c[0], c[1], 1};
    cmsCIExyYTRIPLE primaries = {{c[2], c[3], 1}, {c[4], c[5], 1}, {c[6], c[7], 1}};
    if (curve)
        *profile = info->channels == 3
                       ? cmsCreateRGBProfileTHR(lcms->context, &white, &primaries, curves)
                       : cmsCreateGrayProfileTHR(lcms->context, cmsD50_xyY(), curve);
    cmsFreeToneCurve(curve);
    return no_profile(ctx, lcms, info->path, *profile);
}

static milori_status srgb_profile(milori_context *ctx, mil_lcms *lcms, const mil_source_info *info,
                                  cmsHPROFILE *profile) {
    if (info->channels == 3) {
        *profile = cmsCreate_sRGBProfileTHR(lcms->context);
        return no_profile(ctx, lcms, info->path, *profile);
    }
    cmsToneCurve *curve = srgb_curve(lcms);
    if (curve)
        *profile = cmsCreateGrayProfileTHR(lcms->context, cmsD50_xyY(), curve);
    cmsFreeToneCurve(curve);
    return no_profile(ctx, lcms, info->path, *profile);
}

static milori_status embedded_profile(milori_context *ctx, mil_lcms *lcms,
                                      const mil_source_info *info, cmsHPROFILE *profile) {
    milori_status status =
        mil_profile_open(ctx, lcms, info->path, info->icc, info->icc_size, false, profile);
    if (status != MILORI_OK)
        return status;
    int channels = mil_profile_channels(*profile);
    if (channels == info->channels)
        return MILORI_OK;
    cmsCloseProfile(*profile);
    *profile = NULL;
    return mil_fail(ctx, MILORI_ERR_PROFILE,
                    "%s: its colour profile is for %s, the picture is %s; embed the profile that "
                    "belongs to it",
                    info->path, channels == 3 ? "RGB" : "grey",
                    info->channels == 3 ? "RGB" : "grey");
}

milori_status mil_scan_profile(milori_context *ctx, mil_lcms *lcms, const mil_source_info *info,
                               cmsHPROFILE *profile) {
    *profile = NULL;
    switch (info->space) {
    case MIL_SPACE_ICC:
        return embedded_profile(ctx, lcms, info, profile);
    case MIL_SPACE_GAMMA:
        return gamma_profile(ctx, lcms, info, profile);
    case MIL_SPACE_SRGB:
    case MIL_SPACE_NONE:
        break;
    }
    return srgb_profile(ctx, lcms, info, profile);
}
