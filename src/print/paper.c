#include "print/paper.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* ISO 216; the North American sheets in inches (ANSI/ASME Y14.1 for letter and tabloid, trade for
 * legal); 13 x 19 in is called A3+ in the trade. */
static const struct {
    const char *name;
    double mm[2];
} papers[] = {{"a6", {105, 148}},        {"b6", {125, 176}},  {"a5", {148, 210}},
              {"b5", {176, 250}},        {"a4", {210, 297}},  {"letter", {215.9, 279.4}},
              {"legal", {215.9, 355.6}}, {"b4", {250, 353}},  {"tabloid", {279.4, 431.8}},
              {"a3", {297, 420}},        {"a3+", {329, 483}}, {"b3", {353, 500}},
              {"a2", {420, 594}},        {"b2", {500, 707}},  {"a1", {594, 841}},
              {"b1", {707, 1000}},       {"a0", {841, 1189}}, {"b0", {1000, 1414}}};
enum { PAPERS = sizeof papers / sizeof *papers };
static const double LEAST_MM = 10, MOST_MM = 5000;

/* Millimetres of the unit at the end of text, and how long it is; mm if there is none. */
static double unit_of(const char *text, size_t *length) {
    static const struct {
        const char *name;
        double mm;
    } units[] = {{"mm", 1}, {"cm", 10}, {"in", 25.4}};
    size_t n = strlen(text);
    for (size_t i = 0; i < 3; i++)
        if (n > 2 && strcasecmp(text + n - 2, units[i].name) == 0) {
            *length = 2;
            return units[i].mm;
        }
    *length = 0;
    return 1;
}

/* The first size bytes of text as a number. */
static bool number_of(const char *text, size_t size, double *value) {
    char copy[32];
    if (size == 0 || size >= sizeof copy)
        return false;
    memcpy(copy, text, size);
    copy[size] = 0;
    return mil_parse_number(copy, value);
}

bool mil_length_mm(const char *text, double *mm) {
    size_t unit, n = strlen(text);
    double factor = unit_of(text, &unit), value;
    if (!number_of(text, n - unit, &value))
        return false;
    *mm = value * factor;
    return isfinite(*mm);
}

/* "WxH" and a unit. */
static bool measured(const char *text, double mm[2]) {
    size_t unit, n = strlen(text), first = strcspn(text, "xX");
    double factor = unit_of(text, &unit);
    if (first >= n - unit || !number_of(text, first, &mm[0]) ||
        !number_of(text + first + 1, n - unit - first - 1, &mm[1]))
        return false;
    mm[0] *= factor;
    mm[1] *= factor;
    return mm[0] >= LEAST_MM && mm[0] <= MOST_MM && mm[1] >= LEAST_MM && mm[1] <= MOST_MM;
}

/* Length of text without how the paper lies. */
static size_t without_lying(const char *text, bool *across) {
    static const char *const words[2] = {"upright", "across"};
    size_t n = strlen(text);
    *across = false;
    for (int i = 0; i < 2; i++) {
        size_t w = strlen(words[i]);
        if (n > w + 1 && strcasecmp(text + n - w, words[i]) == 0 && strchr(" -", text[n - w - 1])) {
            *across = i == 1;
            return n - w - 1;
        }
    }
    return n;
}

bool mil_paper_lies(const char *text) {
    bool across;
    return without_lying(text, &across) < strlen(text);
}

static milori_status unknown(milori_context *ctx, const char *text) {
    char names[160] = "", *shown = mil_printable(text);
    for (size_t i = 0, used = 0; i < PAPERS && used < sizeof names; i++)
        used += (size_t)snprintf(names + used, sizeof names - used, "%s%s", i ? ", " : "",
                                 papers[i].name);
    mil_fail(ctx, MILORI_ERR_ARGUMENT,
             "%s is no paper: name one of %s, or its size as 8x10in, 30x40cm or 210x297mm, with "
             "-across to lay it down",
             shown ? shown : "that", names);
    free(shown);
    return MILORI_ERR_ARGUMENT;
}

milori_status mil_paper_size(milori_context *ctx, const char *text, double mm[2]) {
    bool across, known = false;
    char name[64];
    size_t n = without_lying(text, &across);
    if (n >= sizeof name)
        return unknown(ctx, text);
    memcpy(name, text, n);
    name[n] = 0;
    for (size_t i = 0; i < PAPERS && !known; i++)
        if (strcasecmp(name, papers[i].name) == 0) {
            memcpy(mm, papers[i].mm, sizeof papers[i].mm);
            known = true;
        }
    if (!known && !measured(name, mm))
        return unknown(ctx, text);
    double least = fmin(mm[0], mm[1]), most = fmax(mm[0], mm[1]);
    mm[0] = across ? most : least;
    mm[1] = across ? least : most;
    return MILORI_OK;
}

const char *mil_paper_for(const double mm[2]) {
    const double slack = 1e-6;
    double least = fmin(mm[0], mm[1]) - slack, most = fmax(mm[0], mm[1]) - slack;
    const char *other = NULL; /* what most have at hand is of series A */
    for (size_t i = 0; i < PAPERS; i++)
        if (papers[i].mm[0] >= least && papers[i].mm[1] >= most) {
            if (papers[i].name[0] == 'a')
                return papers[i].name;
            other = other ? other : papers[i].name;
        }
    return other;
}

uint32_t mil_px_of_mm(double mm, double dpi) {
    double px = mm / 25.4 * dpi + 0.5;
    return px >= 0 ? px < UINT32_MAX ? (uint32_t)px : UINT32_MAX : 0;
}
