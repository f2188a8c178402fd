/* Numbers that Debian's Python prints, read one by one. */
#ifndef MILORI_BY_PYTHON_H
#define MILORI_BY_PYTHON_H

#include <stdio.h>
#include <stdlib.h>

/* Starts a script that stands between double quotes in the shell: it may hold no double quote,
 * dollar or backquote. */
static inline FILE *python_starts(const char *script) {
    size_t size = strlen(script) + 64;
    char *command = malloc(size);
    assert_non_null(command);
    snprintf(command, size, "/usr/bin/python3 -c \"%s\"", script);
    FILE *pipe = popen(command, "r");
    free(command);
    assert_non_null(pipe);
    return pipe;
}

static inline void python_says(FILE *pipe, size_t count, double *out) {
    for (size_t i = 0; i < count; i++)
        if (fscanf(pipe, "%lf", &out[i]) != 1)
            fail_msg("Python printed no number %zu of %zu: are python3-numpy, -scipy and -skimage "
                     "installed?",
                     i + 1, count);
}

static inline void python_ends(FILE *pipe) {
    assert_int_equal(pclose(pipe), 0);
}

#endif
