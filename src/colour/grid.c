#include "colour/decode_parts.h"

#include <string.h>

/* ROMM RGB (ISO 22028-2) to XYZ and back: primaries .7347 .2653, .1596 .8404,
 * .0366 .0001, and ICC's D50 as white. It holds every real surface colour. */
static const double romm_to_xyz[3][3] = {
    {.79766611080389893, .13519231336302714, .031341575833073808},
    {.28803704804175084, .71187731923739372, .000085632720855392911},
    {0, 0, .8249}};
static const double xyz_to_romm[3][3] = {
    {1.3459582063740678, -.25561034000154825, -.05111233190002152},
    {-.5445964045699178, 1.5081604916604547, .02053504864330214},
    {0, 0, 1.2122681537156021}};

bool mil_profile_has_grid(cmsHPROFILE profile) {
    return cmsIsTag(profile, cmsSigAToB1Tag) || cmsIsTag(profile, cmsSigAToB0Tag) ||
           cmsIsTag(profile, cmsSigDToB1Tag);
}

milori_status mil_decode_grid(milori_context *ctx, mil_lcms *lcms, const char *owner,
                              cmsHPROFILE profile, mil_decode *decode) {
    decode->kind = MIL_DECODE_GRID;
    memcpy(decode->to_xyz, romm_to_xyz, sizeof romm_to_xyz);
    cmsHPROFILE xyz = cmsCreateXYZProfileTHR(lcms->context);
    /* From float to float, else lcms2 computes in 16 bits. Without its cache any
     * number of threads may use one transform. */
    if (xyz)
        decode->transform = cmsCreateTransformTHR(lcms->context, profile, TYPE_RGB_FLT, xyz,
                                                  TYPE_XYZ_FLT, INTENT_RELATIVE_COLORIMETRIC,
                                                  cmsFLAGS_NOCACHE | cmsFLAGS_NOOPTIMIZE);
    cmsCloseProfile(xyz);
    if (!decode->transform)
        return mil_profile_fail(ctx, lcms, owner, "its tables cannot be used");
    cmsSetLogErrorHandlerTHR(lcms->context, NULL);
    lcms->context = NULL;
    const uint16_t ends[6] = {0, 0, 0, 65535, 65535, 65535};
    float light[6];
    mil_decode_grid_row(decode, ends, 2, light);
    for (int c = 0; c < 3; c++)
        if (!(light[3 + c] > light[c]))
            return mil_profile_fail(ctx, lcms, owner, "its white is not lighter than its black");
    return MILORI_OK;
}

/* XYZ to ROMM, in place. Light below nothing, or not a number, is none; a profile's table may
 * hold infinities, which would spoil every sum. */
static void to_romm(float *light, uint32_t count) {
    for (uint32_t i = 0; i < count; i++, light += 3) {
        const double x = light[0], y = light[1], z = light[2];
        for (int c = 0; c < 3; c++) {
            double v = xyz_to_romm[c][0] * x + xyz_to_romm[c][1] * y + xyz_to_romm[c][2] * z;
            light[c] = v > 0 ? (float)(v < 100 ? v : 100) : 0;
        }
    }
}

void mil_decode_grid_row(const mil_decode *decode, const uint16_t *codes, uint32_t count,
                         float *light) {
    enum { CHUNK = 512 };
    float rgb[3 * CHUNK];
    while (count) {
        uint32_t n = count < CHUNK ? count : CHUNK;
        for (uint32_t i = 0; i < 3 * n; i++)
            rgb[i] = (float)codes[i] / 65535;
        cmsDoTransform(decode->transform, rgb, light, n);
        to_romm(light, n);
        codes += 3 * n;
        light += 3 * n;
        count -= n;
    }
}

void mil_decode_grid_free(mil_decode *decode) {
    if (!decode->transform)
        return;
    cmsContext context = cmsGetTransformContextID(decode->transform);
    cmsDeleteTransform(decode->transform);
    cmsDeleteContext(context);
}
