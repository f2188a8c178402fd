#include "command/current.h"

#include <stdlib.h>

/* Whether the positive number is current; *sheets, if it is. */
static bool one_current(milori_context *ctx, const char *folder, const mil_entry *entry, int number,
                        int of, milori_format format, const mil_making *making, int *sheets) {
    char *path = mil_result_path(ctx, folder, entry->stem, number, of, format);
    bool current = path && mil_place_of(path, making, number, sheets) == MIL_PLACE_CURRENT;
    free(path);
    return current;
}

int mil_all_current(milori_context *ctx, const char *folder, const mil_entry *entry,
                    milori_format format, const mil_making *making) {
    int sheets = 0, seen = 0;
    if (one_current(ctx, folder, entry, 1, 1, format, making, &sheets))
        return sheets == 1 ? 1 : 0;
    if (!one_current(ctx, folder, entry, 1, 2, format, making, &sheets) || sheets < 2)
        return 0;
    for (int number = 2; number <= sheets; number++)
        if (!one_current(ctx, folder, entry, number, sheets, format, making, &seen) ||
            seen != sheets)
            return 0;
    return sheets;
}
