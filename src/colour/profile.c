#include "colour/profile.h"

#include <stdio.h>
#include <string.h>
#include <wchar.h>

static void keep_first(cmsContext context, cmsUInt32Number code, const char *text) {
    (void)code;
    mil_lcms *lcms = cmsGetContextUserData(context);
    if (lcms && !lcms->said[0])
        snprintf(lcms->said, sizeof lcms->said, "%s", text);
}

milori_status mil_lcms_new(milori_context *ctx, mil_lcms *lcms) {
    lcms->said[0] = 0;
    lcms->context = cmsCreateContext(NULL, lcms);
    if (!lcms->context)
        return mil_fail(ctx, MILORI_ERR_MEMORY,
                        "out of memory: close other programs and try again");
    cmsSetLogErrorHandlerTHR(lcms->context, keep_first);
    return MILORI_OK;
}

void mil_lcms_free(mil_lcms *lcms) {
    if (lcms->context)
        cmsDeleteContext(lcms->context);
    lcms->context = NULL;
}

milori_status mil_profile_fail(milori_context *ctx, const mil_lcms *lcms, const char *owner,
                               const char *what) {
    bool said = lcms->said[0] != 0;
    return mil_fail(ctx, MILORI_ERR_PROFILE,
                    "%s: the colour profile cannot be used: %s%s%s%s; use another", owner,
                    what ? what : "", what && said ? " (" : "",
                    said   ? lcms->said
                    : what ? ""
                           : "it is malformed",
                    what && said ? ")" : "");
}

int mil_profile_channels(cmsHPROFILE profile) {
    cmsColorSpaceSignature space = cmsGetColorSpace(profile);
    return space == cmsSigRgbData    ? 3
           : space == cmsSigGrayData ? 1
           : space == cmsSigCmykData ? 4
                                     : 0;
}

/* What a profile is for, where that is not what is needed. */
static const char *space_words(cmsColorSpaceSignature space, bool inks) {
    switch ((unsigned)space) {
    case cmsSigCmykData:
        return "it is for CMYK, and RGB or grey is needed";
    case cmsSigLabData:
        return inks ? "it is for Lab, and RGB, CMYK or grey is needed"
                    : "it is for Lab, and RGB or grey is needed";
    default:
        return inks ? "it is for neither RGB, CMYK nor grey" : "it is neither for RGB nor for grey";
    }
}

static const char *class_fault(cmsHPROFILE profile, bool inks) {
    switch ((unsigned)cmsGetDeviceClass(profile)) {
    case cmsSigInputClass:
    case cmsSigDisplayClass:
    case cmsSigOutputClass:
    case cmsSigColorSpaceClass:
        break;
    case cmsSigLinkClass:
        return "it links two devices and describes neither";
    case cmsSigNamedColorClass:
        return "it is a list of named colours";
    default:
        return "it describes no device";
    }
    unsigned pcs = (unsigned)cmsGetPCS(profile);
    if (pcs != cmsSigXYZData && pcs != cmsSigLabData)
        return "its connection space is neither XYZ nor Lab";
    int channels = mil_profile_channels(profile);
    bool serves = channels == 1 || channels == 3 || (channels == 4 && inks);
    return serves ? NULL : space_words(cmsGetColorSpace(profile), inks);
}

milori_status mil_profile_open(milori_context *ctx, mil_lcms *lcms, const char *owner,
                               const uint8_t *bytes, size_t size, bool inks, cmsHPROFILE *profile) {
    /* lcms2 drops the tags that a cut-off profile has lost, without a word. */
    if (size < 128 || size > UINT32_MAX)
        return mil_profile_fail(ctx, lcms, owner, "it is cut off");
    uint64_t whole = (uint64_t)bytes[0] << 24 | bytes[1] << 16 | bytes[2] << 8 | bytes[3];
    if (whole > size)
        return mil_profile_fail(ctx, lcms, owner, "it is cut off");
    cmsHPROFILE opened = cmsOpenProfileFromMemTHR(lcms->context, bytes, (cmsUInt32Number)size);
    if (!opened)
        return mil_profile_fail(ctx, lcms, owner, NULL);
    const char *fault = class_fault(opened, inks);
    if (fault) {
        cmsCloseProfile(opened);
        return mil_profile_fail(ctx, lcms, owner, fault);
    }
    *profile = opened;
    return MILORI_OK;
}

/* One character as UTF-8; what cannot be shown becomes "?". */
static size_t put_utf8(uint32_t code, char out[4]) {
    if (code < 0x20 || (code >= 0x7f && code < 0xa0) || (code >= 0xd800 && code < 0xe000) ||
        code > 0xffff)
        code = '?';
    if (code < 0x80) {
        out[0] = (char)code;
        return 1;
    }
    size_t n = 0;
    if (code < 0x800) {
        out[n++] = (char)(0xc0 | code >> 6);
    } else {
        out[n++] = (char)(0xe0 | code >> 12);
        out[n++] = (char)(0x80 | (code >> 6 & 0x3f));
    }
    out[n++] = (char)(0x80 | (code & 0x3f));
    return n;
}

void mil_profile_name(cmsHPROFILE profile, char *name, size_t size) {
    wchar_t wide[256] = {0};
    size_t have = 0;
    cmsGetProfileInfo(profile, cmsInfoDescription, "en", "US", wide, sizeof wide);
    for (size_t i = 0; i < 255 && wide[i]; i++) {
        char bytes[4];
        size_t n = put_utf8((uint32_t)wide[i], bytes);
        if (have + n >= size)
            break;
        memcpy(name + have, bytes, n);
        have += n;
    }
    name[have] = 0;
    if (!have)
        snprintf(name, size, "unnamed profile");
}
