/* The few Exif tags (CIPA DC-008) that matter for a scan. */
#ifndef MILORI_EXIF_H
#define MILORI_EXIF_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct mil_exif {
    int orientation; /* 1..8; 1 if absent */
    double dpi[2];   /* x, y; 0 if absent */
    bool srgb;       /* ColorSpace is 1 */
    const uint8_t *software;
    size_t software_size;
} mil_exif;

/* bytes start with the TIFF header "II*" or "MM*". What lies outside them or is
 * of a wrong type counts as absent. */
void mil_exif_parse(const uint8_t *bytes, size_t size, mil_exif *exif);

#endif
