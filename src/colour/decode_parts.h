/* The parts of mil_decode_new(), for this room only. */
#ifndef MILORI_DECODE_PARTS_H
#define MILORI_DECODE_PARTS_H

#include "colour/decode.h"
#include "colour/profile.h"

/* The profile that a scan's file means: the ICC profile in it, PNG's gAMA and
 * cHRM, or sRGB (of a grey picture its tone curve). Close it. */
milori_status mil_scan_profile(milori_context *ctx, mil_lcms *lcms, const mil_source_info *info,
                               cmsHPROFILE *profile);

/* Whether colours go through look-up tables in relative colorimetric intent, as
 * ICC.1 orders the tags: those go before matrix and curves. */
bool mil_profile_has_grid(cmsHPROFILE profile);

/* Fills decode's tables and to_xyz from a grey profile, or an RGB one of matrix
 * and curves. */
milori_status mil_decode_tables(milori_context *ctx, mil_lcms *lcms, const char *owner,
                                cmsHPROFILE profile, mil_decode *decode);

/* Fills decode's transform and to_xyz from an RGB profile with look-up tables.
 * The transform takes lcms's context over. */
milori_status mil_decode_grid(milori_context *ctx, mil_lcms *lcms, const char *owner,
                              cmsHPROFILE profile, mil_decode *decode);
void mil_decode_grid_row(const mil_decode *decode, const uint16_t *codes, uint32_t count,
                         float *light);
void mil_decode_grid_free(mil_decode *decode);

#endif
