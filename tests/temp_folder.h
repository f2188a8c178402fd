/* A folder of a test program's own, made before its tests and removed after. */
#ifndef TEST_TEMP_FOLDER_H
#define TEST_TEMP_FOLDER_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char folder[64];

static inline int make_folder(void **state) {
    (void)state;
    strcpy(folder, "/tmp/milori-test-XXXXXX");
    return mkdtemp(folder) ? 0 : -1;
}

static inline int remove_folder(void **state) {
    (void)state;
    char command[128];
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

#endif
