#include "command/like.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scan/packet.h"
#include "tone/choices.h"

#define JSON_MOST ((size_t)1 << 20)

/* Whether the file's first character that is not blank opens a JSON object. */
static bool holds_json(const uint8_t *bytes, size_t size) {
    size_t i = 0;
    while (i < size && isspace(bytes[i]))
        i++;
    return i < size && bytes[i] == '{';
}

/* MILORI_ERR_FORMAT, unsaid, if the file is no JSON. */
static milori_status from_json_file(milori_context *ctx, const char *path,
                                    milori_choices *choices) {
    uint8_t *bytes = NULL;
    size_t size = 0;
    milori_status status = mil_read_file(ctx, path, JSON_MOST, &bytes, &size);
    if (status == MILORI_ERR_LIMIT) { /* too large: a picture, no choices file */
        milori_clear(ctx);
        return MILORI_ERR_FORMAT;
    }
    if (status == MILORI_OK && !holds_json(bytes, size))
        status = MILORI_ERR_FORMAT;
    else if (status == MILORI_OK)
        status = mil_choices_from_named_json(ctx, choices, (const char *)bytes, size, path);
    free(bytes);
    return status;
}

static void take_digest(char to[33], const char *from) {
    snprintf(to, 33, "%s", from ? from : "");
}

static milori_status from_positive(milori_context *ctx, const char *path, mil_record *record) {
    mil_packet packet = {0};
    milori_status status = mil_packet_of_file(ctx, path, &packet);
    if (status == MILORI_OK)
        status = mil_choices_from_named_json(ctx, &record->choices, packet.choices,
                                             strlen(packet.choices), path);
    if (status == MILORI_OK) {
        take_digest(record->digest, packet.digest);
        take_digest(record->dodge, packet.dodge);
        take_digest(record->profile, packet.profile);
    }
    mil_packet_free(&packet);
    return status;
}

milori_status mil_like_read(milori_context *ctx, const char *path, mil_record *record) {
    record->digest[0] = record->dodge[0] = record->profile[0] = 0;
    milori_status status = from_json_file(ctx, path, &record->choices);
    if (status == MILORI_ERR_FORMAT && milori_failure(ctx) == MILORI_OK)
        status = from_positive(ctx, path, record);
    return status;
}
