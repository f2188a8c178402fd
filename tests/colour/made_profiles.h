/* Profiles with look-up tables, of known colour, made for the tests: Debian has
 * none for RGB. lcms2 writes them; what is in them is decided here. */
#ifndef MADE_PROFILES_H
#define MADE_PROFILES_H

#include <lcms2.h>

#include "icc_by_hand.h"

/* In: device 0..1 or Lab; out: the other. */
typedef void (*made_colour)(const double *in, double *out);

typedef struct made_job {
    made_colour colour;
    int in, out;            /* channels */
    bool from_lab, old_lab; /* old: ICC version 2's encoding of Lab */
} made_job;

static inline cmsInt32Number made_sample(const cmsUInt16Number *in, cmsUInt16Number *out,
                                         void *data) {
    const made_job *job = data;
    const double full = job->old_lab ? 65280 : 65535, part = job->old_lab ? 256 : 257;
    double from[4] = {0}, to[4] = {0};
    for (int c = 0; c < job->in; c++)
        from[c] = !job->from_lab ? in[c] / 65535.
                  : c == 0       ? in[c] * 100. / full
                                 : in[c] / part - 128;
    job->colour(from, to);
    for (int c = 0; c < job->out; c++) {
        double v = job->from_lab ? to[c] * 65535
                   : c == 0      ? to[c] * full / 100
                                 : (to[c] + 128) * part;
        out[c] = (cmsUInt16Number)fmin(fmax(v + .5, 0), 65535);
    }
    return TRUE;
}

/* Curves of the exponent given, then the colours on a grid. */
static inline void made_tag(cmsHPROFILE profile, cmsTagSignature tag, int grid, double exponent,
                            made_job *job) {
    cmsPipeline *pipeline =
        cmsPipelineAlloc(NULL, (cmsUInt32Number)job->in, (cmsUInt32Number)job->out);
    cmsStage *clut = cmsStageAllocCLut16bit(NULL, (cmsUInt32Number)grid, (cmsUInt32Number)job->in,
                                            (cmsUInt32Number)job->out, NULL);
    cmsToneCurve *one = cmsBuildGamma(NULL, exponent);
    cmsToneCurve *curves[4] = {one, one, one, one};
    cmsStageSampleCLut16bit(clut, made_sample, job, 0);
    cmsPipelineInsertStage(pipeline, cmsAT_END,
                           cmsStageAllocToneCurves(NULL, (cmsUInt32Number)job->in, curves));
    cmsPipelineInsertStage(pipeline, cmsAT_END, clut);
    cmsPipelineInsertStage(pipeline, cmsAT_END,
                           cmsStageAllocToneCurves(NULL, (cmsUInt32Number)job->out, NULL));
    cmsWriteTag(profile, tag, pipeline);
    cmsFreeToneCurve(one);
    cmsPipelineFree(pipeline);
}

/* A profile of version 2.4 or 4.3; to_device may be NULL. free() its bytes. */
static inline hand_icc made_profile(double version, cmsProfileClassSignature kind,
                                    cmsColorSpaceSignature space, double exponent,
                                    made_colour to_lab, made_colour to_device) {
    int channels = (int)cmsChannelsOf(space);
    made_job there = {to_lab, channels, 3, false, version < 4};
    made_job back = {to_device, 3, channels, true, version < 4};
    cmsHPROFILE profile = cmsCreateProfilePlaceholder(NULL);
    cmsSetProfileVersion(profile, version);
    cmsSetDeviceClass(profile, kind);
    cmsSetColorSpace(profile, space);
    cmsSetPCS(profile, cmsSigLabData);
    cmsMLU *name = cmsMLUalloc(NULL, 1);
    cmsMLUsetASCII(name, "en", "US", "potting shed scanner");
    cmsWriteTag(profile, cmsSigProfileDescriptionTag, name);
    cmsWriteTag(profile, cmsSigMediaWhitePointTag, cmsD50_XYZ());
    cmsMLUfree(name);
    made_tag(profile, cmsSigAToB0Tag, channels == 1 ? 17 : 9, exponent, &there);
    if (to_device)
        made_tag(profile, cmsSigBToA0Tag, 33, 1, &back);
    /* The relative intent's tags as well: without them lcms2 finds no black. */
    cmsLinkTag(profile, cmsSigAToB1Tag, cmsSigAToB0Tag);
    if (to_device)
        cmsLinkTag(profile, cmsSigBToA1Tag, cmsSigBToA0Tag);
    hand_icc icc = {NULL, 0};
    cmsUInt32Number size = 0;
    cmsSaveProfileToMem(profile, NULL, &size);
    icc.bytes = malloc(size);
    if (icc.bytes && cmsSaveProfileToMem(profile, icc.bytes, &size))
        icc.size = size;
    cmsCloseProfile(profile);
    return icc;
}

/* A scanner's colours: linear, so that every way of interpolating agrees. */
static inline void made_scanner(const double *rgb, double *lab) {
    lab[0] = 100 * (.25 * rgb[0] + .6 * rgb[1] + .15 * rgb[2]);
    lab[1] = 60 * (rgb[0] - rgb[1]);
    lab[2] = 50 * (rgb[1] - rgb[2]);
}

#endif
