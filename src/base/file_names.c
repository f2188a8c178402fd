#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "base/base.h"

char *mil_stem_path(milori_context *ctx, const char *folder, const char *stem, int number, int of,
                    const char *ending) {
    size_t size = strlen(folder) + strlen(stem) + strlen(ending) + 16;
    char *path = mil_alloc(ctx, size, 1);
    if (!path)
        return NULL;
    const char *slash = folder[0] && folder[strlen(folder) - 1] == '/' ? "" : "/";
    if (of > 1)
        snprintf(path, size, "%s%s%s-%d%s", folder, slash, stem, number, ending);
    else
        snprintf(path, size, "%s%s%s%s", folder, slash, stem, ending);
    return path;
}

char *mil_result_path(milori_context *ctx, const char *folder, const char *stem, int number, int of,
                      milori_format format) {
    static const char *const endings[] = {".tif", ".png", ".jpg", ".pdf"};
    return mil_stem_path(ctx, folder, stem, number, of, endings[format]);
}

bool mil_format_of_name(const char *path, milori_format *format) {
    static const struct {
        const char *ending;
        milori_format format;
    } known[] = {{".tif", MILORI_TIFF}, {".tiff", MILORI_TIFF}, {".png", MILORI_PNG},
                 {".pdf", MILORI_PDF},  {".jpg", MILORI_JPEG},  {".jpeg", MILORI_JPEG}};
    const char *dot = strrchr(path, '.');
    for (size_t i = 0; dot && i < sizeof known / sizeof *known; i++)
        if (strcasecmp(dot, known[i].ending) == 0) {
            *format = known[i].format;
            return true;
        }
    return false;
}
