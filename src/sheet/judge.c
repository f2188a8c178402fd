#include "sheet/judge.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *const CHANNEL[3] = {"red", "green", "blue"};

/* Share of all px at the lowest or highest code of a channel. */
static double share(const mil_grid *grid, const float *clip) {
    size_t cells = (size_t)grid->nx * (size_t)grid->ny;
    double sum = 0;
    for (size_t i = 0; i < cells; i++)
        sum += clip[i];
    return sum / (double)cells;
}

/* Automatic levels stretch the codes: gaps between those used, or a little of the picture cut off
 * at both ends of every channel, which dust and a white lid alone do not do. */
bool mil_stretched(const mil_grid *grid) {
    static const double CUT = 0.0002;
    double top = grid->bits == 8 ? 257 : 1;
    int combed = 0, full = 0;
    for (int c = 0; c < grid->channels; c++) {
        double span = (grid->code_high[c] - grid->code_low[c]) / top + 1;
        combed += grid->bits == 8 && span > 64 && grid->codes_used[c] < 0.85 * span;
        full += share(grid, grid->clip_low[c]) > CUT && share(grid, grid->clip_high[c]) > CUT;
    }
    return combed == grid->channels || full == grid->channels;
}

void mil_judge_scan(const mil_source_info *info, const mil_grid *grid, milori_notes *notes) {
    if (!grid->mm_known)
        mil_note(notes, "dpi",
                 "the file gives no resolution that can be believed: 300 dpi is assumed; --dpi "
                 "sets it");
    if (grid->bits == 8)
        mil_note(notes, "bits",
                 "8 bits a channel: faint tones may show steps; scan again with 16 (48 bit "
                 "colour) while the sheet lasts");
    if (info->lossy)
        mil_note(notes, "lossy", "compressed with loss: scan to TIFF or PNG if you can");
    if (mil_stretched(grid))
        mil_note(notes, "levels",
                 "the codes look stretched: switch the scanner's automatic levels off and scan "
                 "again");
}

static bool inside(const mil_found *found, double x, double y) {
    double u, v;
    mil_rect_local(&found->frame, x, y, &u, &v);
    return fabs(u) < 1 && fabs(v) < 1;
}

/* One note for an end, naming the channels. */
static void note_clipped(const mil_grid *grid, const double *share_of, double cells,
                         const char *end, const char *remedy, milori_notes *notes) {
    char names[32] = "";
    double worst = 0;
    for (int c = 0; c < grid->channels && cells > 0; c++) {
        double part = share_of[c] / cells;
        if (part <= 0.002)
            continue;
        size_t n = strlen(names);
        snprintf(names + n, sizeof names - n, "%s%s", n ? ", " : "",
                 grid->channels == 1 ? "grey" : CHANNEL[c]);
        worst = fmax(worst, part);
    }
    if (worst > 0)
        mil_note(notes, "clipped",
                 "up to %.1f %% of the frame is cut off at the %s end (%s): scan again with %s",
                 100 * worst, end, names, remedy);
}

void mil_judge_sheet(const mil_grid *grid, const mil_found *found, milori_notes *notes) {
    double low[3] = {0}, high[3] = {0}, cells = 0;
    for (int j = 0; j < grid->ny; j++)
        for (int i = 0; i < grid->nx; i++) {
            if (!inside(found, (i + 0.5) * grid->cell, (j + 0.5) * grid->cell))
                continue;
            size_t at = (size_t)j * (size_t)grid->nx + (size_t)i;
            cells++;
            for (int c = 0; c < grid->channels; c++) {
                low[c] += grid->clip_low[c][at];
                high[c] += grid->clip_high[c][at];
            }
        }
    note_clipped(grid, low, cells, "dark", "a wider colour space or less contrast", notes);
    note_clipped(grid, high, cells, "light", "less brightness", notes);
    double least = fmin(found->frame.w, found->frame.h);
    if (least < 600)
        mil_note(notes, "pixels",
                 "the frame is only %.0f pixels wide: about %.0f mm of print at 300 dpi; scan at "
                 "a higher resolution",
                 least, least / 300 * 25.4);
}
