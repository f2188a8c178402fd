/* Opening ICC profiles with lcms2, for this room only: its messages end in ours. */
#ifndef MILORI_PROFILE_H
#define MILORI_PROFILE_H

#include <lcms2.h>

#include "base/base.h"

/* An lcms2 context and the first thing it complained of. The struct must stay
 * where it is while the context lives. */
typedef struct mil_lcms {
    cmsContext context;
    char said[200];
} mil_lcms;

milori_status mil_lcms_new(milori_context *ctx, mil_lcms *lcms);
void mil_lcms_free(mil_lcms *lcms);

/* Opens a profile from memory: whole, of a kind that describes a device or a
 * colour space, for RGB or grey, or CMYK where inks says so. owner is the file
 * named in messages. Close it with cmsCloseProfile(). */
milori_status mil_profile_open(milori_context *ctx, mil_lcms *lcms, const char *owner,
                               const uint8_t *bytes, size_t size, bool inks, cmsHPROFILE *profile);
/* MILORI_ERR_PROFILE: "owner: the colour profile cannot be used: what (lcms2's
 * words); use another". what may be NULL. */
milori_status mil_profile_fail(milori_context *ctx, const mil_lcms *lcms, const char *owner,
                               const char *what);
/* 1 grey, 3 RGB, 4 CMYK, 0 none of them. */
int mil_profile_channels(cmsHPROFILE profile);
/* The profile's description in UTF-8; "unnamed profile" if it has none. */
void mil_profile_name(cmsHPROFILE profile, char *name, size_t size);

#endif
