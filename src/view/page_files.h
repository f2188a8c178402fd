/* The page's own files, compiled in; made by page_files.cmake from src/view/page. */
#ifndef MILORI_PAGE_FILES_H
#define MILORI_PAGE_FILES_H

#include <stddef.h>

typedef struct mil_page_file {
    const char *path, *type;
    const unsigned char *bytes;
    size_t size;
} mil_page_file;

/* NULL if there is none of that path. */
const mil_page_file *mil_page_file_of(const char *path);

#endif
