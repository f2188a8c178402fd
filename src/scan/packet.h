/* The XMP packet (ISO 16684-1) that says how a positive was made. */
#ifndef MILORI_PACKET_H
#define MILORI_PACKET_H

#include "base/base.h"

/* What a packet holds. Strings are UTF-8; in a packet read back they are to be
 * freed with mil_packet_free(). */
typedef struct mil_packet {
    char *source;  /* the scan's file name without folder, mil_printable() */
    char *digest;  /* mil_file_digest() of the scan */
    char *version; /* milori's, "milori 1.2.3" (also xmp:CreatorTool) */
    char *choices; /* JSON */
    char *sheet;   /* JSON of the sheet as found; never read back into choices */
    int number;    /* which sheet of its scan, from 1 */
    /* mil_file_digest() of what the choices name, NULL none; older packets lack them */
    char *dodge, *profile;
} mil_packet;

/* A serialised packet to free(). No clock time in it. */
milori_status mil_packet_write(milori_context *ctx, const mil_packet *packet, char **xmp,
                               size_t *size);
/* Reads a packet; MILORI_ERR_FORMAT if it is not one of milori's. */
milori_status mil_packet_read(milori_context *ctx, const char *path, const char *xmp, size_t size,
                              mil_packet *packet);
/* The packet of the picture file path (any format milori writes). */
milori_status mil_packet_of_file(milori_context *ctx, const char *path, mil_packet *packet);
void mil_packet_free(mil_packet *packet);

#endif
