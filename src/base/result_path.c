#include <stdio.h>
#include <string.h>

#include "base/base.h"

char *mil_result_path(milori_context *ctx, const char *folder, const char *stem, int number, int of,
                      milori_format format) {
    static const char *const extensions[] = {".tif", ".png", ".jpg"};
    size_t size = strlen(folder) + strlen(stem) + 32;
    char *path = mil_alloc(ctx, size, 1);
    if (!path)
        return NULL;
    const char *slash = folder[0] && folder[strlen(folder) - 1] == '/' ? "" : "/";
    if (of > 1)
        snprintf(path, size, "%s%s%s-%d%s", folder, slash, stem, number, extensions[format]);
    else
        snprintf(path, size, "%s%s%s%s", folder, slash, stem, extensions[format]);
    return path;
}
