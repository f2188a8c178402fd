#include "command/sheet_table.h"

#include <math.h>
#include <stdlib.h>

#include "view/told_words.h"
#include "view/wrap.h"

/* log10 of a factor of two */
#define STOP 0.30102999566398120

/* A number in its column, "-" where there is none, "~" before one that was assumed. */
static void cell(FILE *out, int width, int digits, milori_value v) {
    char text[32];
    if (isnan(v.value))
        snprintf(text, sizeof text, "-");
    else
        snprintf(text, sizeof text, "%s%.*f", v.origin == MILORI_ASSUMED ? "~" : "", digits,
                 v.value);
    fprintf(out, " %*s", width, text);
}

void mil_table_head(FILE *out) {
    fprintf(out, "%5s %-13s %-6s %5s %6s %6s %6s %5s %5s %6s %5s\n", "sheet", "frame, mm", "size",
            "sides", "tilt", "fog", "stain", "range", "grade", "noise", "sun");
}

void mil_table_scan(FILE *out, const char *name, const milori_scan_facts *facts) {
    fprintf(out, "%s: %u x %u px, %d bit %s", name, facts->width, facts->height, facts->bits,
            facts->channels == 1 ? "grey" : "colour");
    if (facts->dpi > 0)
        fprintf(out, ", %.0f dpi", facts->dpi);
    fprintf(out, ", %s\n", facts->profile);
}

void mil_table_sheet(FILE *out, const milori_sheet *sheet) {
    char size[32];
    milori_value stops = sheet->range;
    stops.value /= STOP;
    milori_value noise = sheet->noise;
    noise.value *= 100;
    snprintf(size, sizeof size, "%s%.1f x %.1f", sheet->frame_origin == MILORI_ASSUMED ? "~" : "",
             sheet->frame_mm[0], sheet->frame_mm[1]);
    fprintf(out, "%5d %-13s %-6s %5d", sheet->number, size,
            sheet->frame_name[0] ? sheet->frame_name : "-", sheet->sides_found);
    cell(out, 6, 2, sheet->tilt_deg);
    cell(out, 6, 3, sheet->fog);
    cell(out, 6, 3, sheet->stain);
    cell(out, 5, 1, stops);
    cell(out, 5, 1, (milori_value){sheet->grade, NAN, MILORI_FOUND});
    cell(out, 5, 1, noise);
    fprintf(out, "%% %4.1f%%\n", 100 * sheet->sun_fraction);
}

void mil_table_told(FILE *out, const milori_sheet *sheet) {
    char *words = mil_told_words(sheet);
    if (words)
        mil_wrap(out, "      ", words);
    free(words);
}

void mil_table_notes(FILE *out, const milori_notes *notes) {
    for (size_t i = 0; notes && i < notes->count; i++)
        mil_wrap(out, "      - ", notes->note[i].text);
}
