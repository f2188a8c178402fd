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
/* The same for a print: CMYK as well, and a profile that has tables for one
 * intent alone uses them for all, so that its black is found whatever the intent
 * (lcms2 looks for it in the intent's own tables only and takes L* 0 otherwise). */
milori_status mil_output_new_print(milori_context *ctx, const char *profile, milori_intent intent,
                                   bool black_point, mil_output **output);
int mil_output_channels(const mil_output *output); /* 1 grey, 3 RGB, 4 CMYK */
milori_intent mil_output_intent(const mil_output *output);
/* The profile's own description, UTF-8; cut to size. */
void mil_output_name(const mil_output *output, char *name, size_t size);
/* The profile to embed; lives as long as output. */
const uint8_t *mil_output_icc(const mil_output *output, size_t *size);
/* count CIELAB (D50) colours to 16 bit codes, channels * count of them; in CMYK
 * 65535 is solid ink. A neutral (a* = b* = 0) has equal codes in every RGB profile
 * that means it so. Any thread. */
void mil_output_line(const mil_output *output, const double (*lab)[3], uint32_t count,
                     uint16_t *codes);
/* Whether a CIELAB colour, fitted to the black point if so chosen, lies inside
 * the profile's gamut (round trip through the relative intent differs by less
 * than CIEDE2000 1). Any thread. */
bool mil_output_holds(const mil_output *output, const double lab[3]);

/* What is asked of the printer for a CIELAB colour, as appearance. Relative,
 * perceptual and saturation intents: relative to the paper, whose white is L* 100,
 * and fitted to the profile's black (relative intent: only if so chosen; the
 * tables of the other two always fit it). Absolute: the colour itself. Any thread. */
void mil_output_asked(const mil_output *output, const double lab[3], double asked[3]);
/* What codes give, CIELAB: measured as mil_output_asked() states it, or (on_paper)
 * absolute, the paper's own white and all. Any thread. */
void mil_output_given(const mil_output *output, const uint16_t *codes, bool on_paper,
                      double lab[3]);
/* CIEDE2000 between a colour asked for and the nearest that the printer has, as its
 * table from device to colour says; below 1 the colour is inside the gamut. A
 * coarse table the other way, which misses by more than that what the printer has,
 * does not count against it. Any thread. */
double mil_output_beyond(const mil_output *output, const double asked[3]);
/* CIELAB, absolute, of the paper that stays unprinted. */
void mil_output_paper(const mil_output *output, double lab[3]);
/* CIELAB, relative to the paper, of the black that L* 0 is fitted to (0 0 0 without
 * black_point). */
void mil_output_black(const mil_output *output, double lab[3]);
void mil_output_free(mil_output *output);

#endif
