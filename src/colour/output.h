/* From CIELAB to the output profile, a line of colours at a time. */
#ifndef MILORI_OUTPUT_H
#define MILORI_OUTPUT_H

#include "base/base.h"

typedef struct mil_output mil_output;

/* profile "" is sRGB (built by lcms2, the same bytes always; a grey palette still
 * writes RGB). A grey ICC file gives one channel. CMYK and others are refused
 * with a line.
 *
 * black_point: L* 0 becomes the profile's own black and every darkness between
 * is fitted, so that tones keep apart on paper whose black is a grey; without
 * it, what is darker than that black becomes it. For sRGB, whose black is L* 0,
 * both are the same; the absolute intent has no such fitting. */
milori_status mil_output_new(milori_context *ctx, const char *profile, milori_intent intent,
                             bool black_point, mil_output **output);
int mil_output_channels(const mil_output *output); /* 1 or 3 */
/* The profile to embed; lives as long as output. */
const uint8_t *mil_output_icc(const mil_output *output, size_t *size);
/* count CIELAB (D50) colours to 16 bit codes, channels * count of them. A neutral
 * (a* = b* = 0) has equal codes in every profile that means it so. Any thread. */
void mil_output_line(const mil_output *output, const double (*lab)[3], uint32_t count,
                     uint16_t *codes);
/* Whether a CIELAB colour, fitted to the black point if so chosen, lies inside
 * the profile's gamut (round trip through the relative intent differs by less
 * than CIEDE2000 1). Any thread. */
bool mil_output_holds(const mil_output *output, const double lab[3]);
void mil_output_free(mil_output *output);

#endif
