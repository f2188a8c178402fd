#include "render/place.h"

#include <jansson.h>
#include <string.h>
#include <sys/stat.h>

#include "scan/packet.h"

/* The key "sheets" of the packet's sheet: how many the scan held. 0 if unknown. */
static int sheets_of(const mil_packet *packet) {
    json_t *sheet = json_loads(packet->sheet ? packet->sheet : "", JSON_REJECT_DUPLICATES, NULL);
    json_int_t sheets = json_integer_value(json_object_get(sheet, "sheets"));
    json_decref(sheet);
    return sheets > 0 && sheets < 10000 ? (int)sheets : 0;
}

static bool same(const char *a, const char *b) {
    return a && b && strcmp(a, b) == 0;
}

/* The same digest, or none: "" or NULL. */
static bool same_file(const char *recorded, const char *now) {
    return strcmp(recorded ? recorded : "", now ? now : "") == 0;
}

static bool is_current(const mil_packet *packet, const mil_making *making, int number) {
    return making->digest[0] && packet->number == number && same(packet->digest, making->digest) &&
           same(packet->source, making->source) && same(packet->choices, making->choices) &&
           same_file(packet->dodge, making->dodge) && same_file(packet->profile, making->profile) &&
           same(packet->version, "milori " MILORI_VERSION);
}

mil_place mil_place_of(const char *path, const mil_making *making, int number, int *of) {
    struct stat st;
    if (lstat(path, &st) != 0)
        return MIL_PLACE_FREE;
    if (stat(path, &st) != 0 || !S_ISREG(st.st_mode))
        return MIL_PLACE_STRANGE;
    mil_place place = MIL_PLACE_STRANGE;
    mil_packet packet = {0};
    milori_context *ctx = milori_context_new();
    if (ctx && mil_packet_of_file(ctx, path, &packet) == MILORI_OK) {
        if (is_current(&packet, making, number))
            place = MIL_PLACE_CURRENT;
        else if (making->digest[0] && same(packet.digest, making->digest))
            place = MIL_PLACE_OWN;
        else if (same(packet.source, making->source))
            place = MIL_PLACE_OTHER;
        if (of)
            *of = sheets_of(&packet);
        mil_packet_free(&packet);
    }
    milori_context_free(ctx);
    return place;
}
