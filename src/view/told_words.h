/* What a sheet tells its maker, in words a photographer uses. */
#ifndef MILORI_TOLD_WORDS_H
#define MILORI_TOLD_WORDS_H

#include "base/base.h"

/* "fresh", "slightly fogged", "clearly fogged"; "-" unknown. */
const char *mil_tarnish_words(milori_tarnish tarnish);
/* "short", "right", "long"; "-" unknown. */
const char *mil_exposure_words(milori_exposure exposure);
/* Half stops as they are spoken: "half a stop", "a stop", "1 1/2 stops"; "no stop" below a quarter.
 */
void mil_stops_words(double stops, char *text, size_t size);
/* "give or take" of a standard uncertainty: nine times in ten, rounded up to half stops. */
double mil_stops_give(double sigma);
/* A sheet's tones, tarnish, coat and exposure in some sentences; "" where nothing is known. A
 * string to free(), NULL without memory. */
char *mil_told_words(const milori_sheet *sheet);

#endif
