/* The page's own files, compiled in; made by assets.cmake from src/view/page. */
#ifndef MILORI_ASSETS_H
#define MILORI_ASSETS_H

#include <stddef.h>

typedef struct mil_asset {
    const char *path, *type;
    const unsigned char *bytes;
    size_t size;
} mil_asset;

/* NULL if there is none of that path. */
const mil_asset *mil_asset_of(const char *path);

#endif
