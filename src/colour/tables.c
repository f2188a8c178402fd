#include "colour/decode_parts.h"

#include <math.h>
#include <stdlib.h>

#include "colour/lab.h"

enum { CODES = 65536 };

/* A curve of table entries, between them along straight lines. lcms2 itself
 * would round each value to 16 bits, which the darkest tones show. */
static double table_value(const cmsUInt16Number *entry, uint32_t count, uint32_t code) {
    double place = (double)code / (CODES - 1) * (count - 1);
    uint32_t i = (uint32_t)place;
    if (i >= count - 1)
        return entry[count - 1] / 65535.;
    double part = place - i;
    return ((1 - part) * entry[i] + part * entry[i + 1]) / 65535;
}

static void evaluate(const cmsToneCurve *curve, float *table) {
    uint32_t count = cmsGetToneCurveEstimatedTableEntries(curve);
    const cmsUInt16Number *entry = cmsGetToneCurveEstimatedTable(curve);
    bool tabulated = cmsGetToneCurveParametricType(curve) == 0 && entry && count >= 2;
    for (uint32_t code = 0; code < CODES; code++)
        table[code] = tabulated ? (float)table_value(entry, count, code)
                                : cmsEvalToneCurveFloat(curve, (float)code / (CODES - 1));
}

/* What is wrong with a table, or NULL. Values are brought into 0..1, and the
 * tiny dips of a measured curve are levelled so that light never falls. */
static const char *settle(float *table) {
    const float dip = 1e-3f, least_range = .01f;
    float top = 0;
    for (uint32_t code = 0; code < CODES; code++) {
        if (!isfinite(table[code]))
            return "its tone curve is not finite";
        float value = table[code] < 0 ? 0 : table[code] > 1 ? 1 : table[code];
        if (value < top - dip)
            return "its tone curve falls";
        top = value > top ? value : top;
        table[code] = top;
    }
    return table[CODES - 1] - table[0] < least_range ? "its tone curve is flat" : NULL;
}

/* The colorants as ICC.1 stores them: already relative to D50, so that the chad
 * tag, which says how they came to be so, is not applied again. */
static bool read_colorants(cmsHPROFILE profile, double to_xyz[3][3]) {
    static const cmsTagSignature tags[3] = {cmsSigRedColorantTag, cmsSigGreenColorantTag,
                                            cmsSigBlueColorantTag};
    for (int c = 0; c < 3; c++) {
        const cmsCIEXYZ *xyz = cmsReadTag(profile, tags[c]);
        if (!xyz)
            return false;
        to_xyz[0][c] = xyz->X;
        to_xyz[1][c] = xyz->Y;
        to_xyz[2][c] = xyz->Z;
    }
    return true;
}

/* Whether three colorants span a space and make a white of about Y = 1. */
static bool colorants_usable(const double m[3][3]) {
    double det = m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1]) -
                 m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0]) +
                 m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0]);
    double y = m[1][0] + m[1][1] + m[1][2];
    return fabs(det) > 1e-6 && y > .25 && y < 4;
}

static milori_status matrix_tables(milori_context *ctx, mil_lcms *lcms, const char *owner,
                                   cmsHPROFILE profile, mil_decode *decode) {
    static const cmsTagSignature tags[3] = {cmsSigRedTRCTag, cmsSigGreenTRCTag, cmsSigBlueTRCTag};
    if (!read_colorants(profile, decode->to_xyz))
        return mil_profile_fail(ctx, lcms, owner, "it has neither colorants nor tables");
    if (!colorants_usable(decode->to_xyz))
        return mil_profile_fail(ctx, lcms, owner, "its colorants make no colour space");
    for (int c = 0; c < 3; c++) {
        const cmsToneCurve *curve = cmsReadTag(profile, tags[c]);
        if (!curve)
            return mil_profile_fail(ctx, lcms, owner, "a tone curve is missing");
        evaluate(curve, decode->table[c]);
        const char *fault = settle(decode->table[c]);
        if (fault)
            return mil_profile_fail(ctx, lcms, owner, fault);
    }
    return MILORI_OK;
}

/* A grey profile with look-up tables is still one table: the Y of each code. */
static milori_status grey_through_grid(milori_context *ctx, mil_lcms *lcms, const char *owner,
                                       cmsHPROFILE profile, mil_decode *decode) {
    cmsHPROFILE xyz = cmsCreateXYZProfileTHR(lcms->context);
    cmsHTRANSFORM transform =
        xyz ? cmsCreateTransformTHR(lcms->context, profile, TYPE_GRAY_FLT, xyz, TYPE_XYZ_DBL,
                                    INTENT_RELATIVE_COLORIMETRIC,
                                    cmsFLAGS_NOCACHE | cmsFLAGS_NOOPTIMIZE)
            : NULL;
    cmsCloseProfile(xyz);
    if (!transform)
        return mil_profile_fail(ctx, lcms, owner, "its tables cannot be used");
    for (uint32_t code = 0; code < CODES; code++) {
        float grey = (float)code / (CODES - 1);
        cmsCIEXYZ out;
        cmsDoTransform(transform, &grey, &out, 1);
        decode->table[0][code] = (float)out.Y;
    }
    cmsDeleteTransform(transform);
    const char *fault = settle(decode->table[0]);
    return fault ? mil_profile_fail(ctx, lcms, owner, fault) : MILORI_OK;
}

/* kTRC gives a part of the connection space's white: of Y where that is XYZ, of
 * L* where it is Lab (ICC.1, monochrome profiles). */
static milori_status grey_curve(milori_context *ctx, mil_lcms *lcms, const char *owner,
                                cmsHPROFILE profile, mil_decode *decode) {
    const cmsToneCurve *curve = cmsReadTag(profile, cmsSigGrayTRCTag);
    if (!curve)
        return mil_profile_fail(ctx, lcms, owner, "its tone curve is missing");
    float *table = decode->table[0];
    evaluate(curve, table);
    if (cmsGetPCS(profile) == cmsSigLabData)
        for (uint32_t code = 0; code < CODES; code++)
            table[code] = (float)mil_luminance(100. * table[code]);
    const char *fault = settle(table);
    return fault ? mil_profile_fail(ctx, lcms, owner, fault) : MILORI_OK;
}

milori_status mil_decode_tables(milori_context *ctx, mil_lcms *lcms, const char *owner,
                                cmsHPROFILE profile, mil_decode *decode) {
    decode->kind = MIL_DECODE_TABLES;
    for (int c = 0; c < decode->channels; c++) {
        decode->table[c] = mil_alloc(ctx, CODES, sizeof(float));
        if (!decode->table[c])
            return MILORI_ERR_MEMORY;
    }
    if (decode->channels == 3)
        return matrix_tables(ctx, lcms, owner, profile, decode);
    const cmsCIEXYZ *white = cmsD50_XYZ();
    decode->to_xyz[0][0] = white->X;
    decode->to_xyz[0][1] = white->Y;
    decode->to_xyz[0][2] = white->Z;
    return mil_profile_has_grid(profile) ? grey_through_grid(ctx, lcms, owner, profile, decode)
                                         : grey_curve(ctx, lcms, owner, profile, decode);
}
