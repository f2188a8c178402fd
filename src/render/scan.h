/* A scan beyond its public face: what spares the command reading a file twice. */
#ifndef MILORI_RENDER_SCAN_H
#define MILORI_RENDER_SCAN_H

#include "sheet/measure.h"

/* Takes the mil_file_digest() of the scan's file from who knows it already. */
void mil_scan_know_digest(milori_scan *scan, const char digest[33]);

/* What stands behind it. Sheets and separations are there after milori_scan_measure(), until the
 * next; its source is free for other readings between calls. */
mil_measured *mil_scan_measured(milori_scan *scan);

#endif
