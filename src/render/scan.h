/* A scan beyond its public face: what spares the command reading a file twice. */
#ifndef MILORI_RENDER_SCAN_H
#define MILORI_RENDER_SCAN_H

#include "base/base.h"

/* Takes the mil_file_digest() of the scan's file from who knows it already. */
void mil_scan_know_digest(milori_scan *scan, const char digest[33]);

#endif
