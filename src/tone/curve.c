#include "tone/tone.h"

#include <stdlib.h>
#include <string.h>

enum { CURVE_FILE_MAX = 65536 };

bool mil_curve_valid(const double (*points)[2], size_t count) {
    if (count < 2 || count > MILORI_CURVE_MAX)
        return false;
    for (size_t i = 0; i < count; i++) {
        for (int k = 0; k < 2; k++)
            if (!(points[i][k] >= 0 && points[i][k] <= 1))
                return false;
        if (i > 0 && !(points[i][0] > points[i - 1][0]))
            return false;
    }
    return true;
}

/* "0.25" or "25%" */
static bool parse_tone(char *text, double *value) {
    size_t n = strlen(text);
    bool percent = n > 0 && text[n - 1] == '%';
    if (percent)
        text[n - 1] = 0;
    if (!mil_parse_number(text, value))
        return false;
    if (percent)
        *value /= 100;
    return *value >= 0 && *value <= 1;
}

/* One line: 0 nothing on it, 1 a point, -1 neither. */
static int parse_line(char *line, double point[2]) {
    line[strcspn(line, "#")] = 0;
    char *save, *word = strtok_r(line, " \t\r", &save);
    if (!word)
        return 0;
    for (int k = 0; k < 2; k++, word = strtok_r(NULL, " \t\r", &save))
        if (!word || !parse_tone(word, &point[k]))
            return -1;
    return word ? -1 : 1;
}

static milori_status read_lines(milori_context *ctx, const char *path, char *text,
                                double (*points)[2], size_t *count) {
    int number = 1;
    if (strncmp(text, "\xef\xbb\xbf", 3) == 0) /* a mark that some editors leave */
        text += 3;
    for (char *line = text; line; number++) {
        char *next = strchr(line, '\n');
        if (next)
            *next++ = 0;
        double point[2];
        int got = parse_line(line, point);
        if (got < 0)
            return mil_fail(ctx, MILORI_ERR_FORMAT,
                            "%s: line %d is not a tone in and a tone out, each 0 to 1 or 0%% to "
                            "100%%; mend it",
                            path, number);
        if (got > 0) {
            if (*count == MILORI_CURVE_MAX)
                return mil_fail(ctx, MILORI_ERR_FORMAT, "%s: has over %d points; give fewer", path,
                                MILORI_CURVE_MAX);
            memcpy(points[(*count)++], point, sizeof point);
            if (*count > 1 && !(points[*count - 1][0] > points[*count - 2][0]))
                return mil_fail(ctx, MILORI_ERR_FORMAT,
                                "%s: line %d does not go on from the tone before; order the lines "
                                "from dark to light",
                                path, number);
        }
        line = next;
    }
    if (*count < 2)
        return mil_fail(ctx, MILORI_ERR_FORMAT, "%s: holds no curve; give two or more points",
                        path);
    return MILORI_OK;
}

milori_status mil_curve_read(milori_context *ctx, const char *path, milori_choices *choices) {
    uint8_t *bytes;
    size_t size, count = 0;
    milori_status status = mil_read_file(ctx, path, CURVE_FILE_MAX, &bytes, &size);
    if (status)
        return status;
    double points[MILORI_CURVE_MAX][2] = {{0}};
    if (memchr(bytes, 0, size))
        status =
            mil_fail(ctx, MILORI_ERR_FORMAT, "%s: is no text; give lines of two numbers", path);
    else
        status = read_lines(ctx, path, (char *)bytes, points, &count);
    free(bytes);
    if (status)
        return status;
    choices->curve_points = count;
    memcpy(choices->curve, points, sizeof points);
    return MILORI_OK;
}
