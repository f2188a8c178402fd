#include "view/told_words.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

const char *mil_tarnish_words(milori_tarnish tarnish) {
    static const char *const words[] = {"-", "fresh", "slightly fogged", "clearly fogged"};
    return words[tarnish];
}

const char *mil_exposure_words(milori_exposure exposure) {
    static const char *const words[] = {"-", "short", "right", "long"};
    return words[exposure];
}

void mil_stops_words(double stops, char *text, size_t size) {
    int halves = (int)round(2 * fmin(fabs(stops), 100));
    if (halves < 3)
        snprintf(text, size, "%s",
                 halves == 0   ? "no stop"
                 : halves == 1 ? "half a stop"
                               : "a stop");
    else
        snprintf(text, size, "%d%s stops", halves / 2, halves % 2 ? " 1/2" : "");
}

double mil_stops_give(double sigma) {
    return fmax(ceil(2 * 1.645 * sigma - 0.1) / 2, 0.5);
}

static void exposure_sentence(FILE *out, const milori_sheet *sheet) {
    char stops[32], give[32];
    if (sheet->exposure == MILORI_EXPOSURE_UNKNOWN)
        return;
    fprintf(out, "The exposure was %s", mil_exposure_words(sheet->exposure));
    mil_stops_words(sheet->next_stops.value, stops, sizeof stops);
    mil_stops_words(mil_stops_give(sheet->next_stops.sigma), give, sizeof give);
    if (sheet->exposure == MILORI_EXPOSURE_RIGHT)
        fprintf(out, ", give or take %s.", give);
    else
        fprintf(out, ": about %s %s next time in the same light, give or take %s.", stops,
                sheet->next_stops.value > 0 ? "more" : "less", give);
}

char *mil_told_words(const milori_sheet *sheet) {
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out)
        return NULL;
    if (sheet->tarnish == MILORI_FRESH)
        fputs("Fresh. ", out);
    else if (sheet->tarnish != MILORI_TARNISH_UNKNOWN)
        fprintf(out, "%s fogged. ",
                sheet->tarnish == MILORI_CLEARLY_FOGGED ? "Clearly" : "Slightly");
    exposure_sentence(out, sheet);
    if (isfinite(sheet->tones.value))
        fprintf(out, "%sAbout %.0f tones stand apart from the grain.",
                sheet->exposure != MILORI_EXPOSURE_UNKNOWN ? " " : "", sheet->tones.value);
    if (isfinite(sheet->uneven.value))
        fprintf(out, " The coat is uneven by %.0f %%, give or take %.0f.", sheet->uneven.value,
                fmax(1.645 * sheet->uneven.sigma, 1));
    bool bad = ferror(out) != 0;
    if (fclose(out) != 0 || bad) {
        free(text);
        return NULL;
    }
    return text;
}
