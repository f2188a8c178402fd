/* What a picture holds, and its two kinds; for the print room's picture*.c alone. */
#ifndef MILORI_PICTURE_PARTS_H
#define MILORI_PICTURE_PARTS_H

#include "draw/canvas.h"
#include "print/edge.h"
#include "print/picture.h"

struct mil_picture {
    milori_context *ctx;
    char *path;
    bool is_scan;
    milori_choices choices;
    mil_print_tones tones;
    milori_notes file_notes, notes;
    uint32_t width, height;

    /* a scan */
    mil_measured measured; /* its source is NULL when it is none */
    mil_plan *plan;
    mil_edge *edge;

    /* a positive */
    mil_source *source;
    mil_decode *decode;
    milori_choices own; /* of its packet */
    bool has_packet;
    int turn;       /* orientation from stored to print, TIFF 6.0 */
    double black;   /* light that its profile's black still has, taken off */
    uint16_t *word; /* the print's, of its light 0 .. 65535 */
};

/* Opened as a scan: measured. */
milori_status mil_picture_scan_open(mil_picture *p, const mil_picture_wish *wish);
milori_status mil_picture_scan_take(mil_picture *p, int sheet, const mil_picture_wish *wish);
/* Rows of words of the whole px that part covers, which part becomes, onto a canvas. */
milori_status mil_picture_scan_draw(mil_picture *p, mil_part_rect *part, mil_canvas **canvas);
void mil_picture_scan_close(mil_picture *p);

/* The same for a positive; source is open, and the packet read. */
milori_status mil_picture_positive_open(mil_picture *p);
milori_status mil_picture_positive_take(mil_picture *p, const mil_picture_wish *wish);
milori_status mil_picture_positive_draw(mil_picture *p, mil_part_rect *part, mil_canvas **canvas);
void mil_picture_positive_close(mil_picture *p);

#endif
