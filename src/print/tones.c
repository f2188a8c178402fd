#include "print/tones.h"

#include <stdlib.h>
#include <string.h>

#include "colour/lab.h"
#include "tone/palette.h"

/* By how much light a stretch rises that stands still, from end to end of the palette. */
static const double LEAST_RISE = 0.02;
enum { LINE = 4097 };

/* ICC.1: media-relative colours are XYZ in proportion to the medium's white. */
typedef struct paper {
    double factor[3];
    const mil_output *output;
} paper;

static paper paper_of(const milori_choices *choices, const mil_output *output) {
    static const double white[3] = {100, 0, 0};
    double end[2][3], lightest[3], xyz[3];
    paper p = {.output = output};
    mil_palette_line(choices, NULL, NULL, 2, end);
    mil_lab_to_xyz(end[1], lightest);
    mil_lab_to_xyz(white, xyz);
    for (int c = 0; c < 3; c++)
        p.factor[c] = lightest[c] > 0 ? xyz[c] / lightest[c] : 1;
    return p;
}

static void onto(const paper *p, const double lab[3], double out[3]) {
    double xyz[3];
    mil_lab_to_xyz(lab, xyz);
    for (int c = 0; c < 3; c++)
        xyz[c] *= p->factor[c];
    mil_xyz_to_lab(xyz, out);
}

static bool paper_holds(const void *data, const double lab[3]) {
    const paper *p = data;
    double on_paper[3], asked[3];
    onto(p, lab, on_paper);
    mil_output_asked(p->output, on_paper, asked);
    return mil_output_beyond(p->output, asked) < 1;
}

static void make_line(const milori_choices *choices, const mil_output *output, double (*line)[3]) {
    static const double white[3] = {100, 0, 0};
    paper p = paper_of(choices, output);
    mil_palette_line(choices, output ? paper_holds : NULL, &p, LINE, line);
    for (int i = 0; i < LINE; i++)
        onto(&p, line[i], line[i]);
    memcpy(line[LINE - 1], white, sizeof white);
}

milori_status mil_print_line(milori_context *ctx, const milori_choices *choices,
                             const mil_output *output, double (*lab)[3]) {
    double(*line)[3] = mil_alloc(ctx, LINE, sizeof *line);
    if (!line)
        return MILORI_ERR_MEMORY;
    make_line(choices, output, line);
    for (int i = 0; i < MIL_PLACES; i++) {
        double at = (double)i / (MIL_PLACES - 1) * (LINE - 1);
        int k = at < LINE - 2 ? (int)at : LINE - 2;
        for (int c = 0; c < 3; c++)
            lab[i][c] = line[k][c] + (at - k) * (line[k + 1][c] - line[k][c]);
    }
    free(line);
    return MILORI_OK;
}

static bool stands_still(const double (*lab)[3]) {
    const int step = 16;
    for (int i = step; i < MIL_PLACES; i += step)
        if (lab[i][0] - lab[i - step][0] < 0.1 * step / MIL_PLACES)
            return true;
    return false;
}

static void make_words(const double (*lab)[3], mil_print_tones *tones) {
    double rise = stands_still(lab) ? LEAST_RISE : 0, least = 65535;
    for (int i = MIL_PLACES - 1; i >= 0; i--) {
        double light = mil_luminance(lab[i][0]), at = (double)i / (MIL_PLACES - 1);
        double word = 65535 * (light + rise * (at - light)) + 0.5;
        least = word < least ? word : least; /* never falling, whatever the colours are */
        tones->word[i] = (uint16_t)(least > 0 ? least : 0);
    }
    tones->word[MIL_PLACES - 1] = 65535;
}

/* The middle of the places that have a word; a word between two gets what lies between. */
static void make_places(mil_print_tones *tones) {
    int before = 0; /* the last place whose word is not above */
    for (int word = 0; word < MIL_PLACES; word++) {
        int low = before;
        while (low < MIL_PLACES - 1 && tones->word[low] < word)
            low++;
        int high = low;
        while (high < MIL_PLACES - 1 && tones->word[high + 1] == tones->word[low])
            high++;
        double place = low > 0 ? (low + high) / 2. : 0;
        if (tones->word[low] > word && low > 0) {
            double under = tones->word[low - 1], over = tones->word[low];
            place = low - (over - word) / (over - under);
        }
        tones->place[word] = (uint16_t)(place + 0.5);
        before = low > 0 ? low - 1 : 0;
    }
    tones->place[MIL_PLACES - 1] = MIL_PLACES - 1;
}

milori_status mil_print_tones_make(milori_context *ctx, const milori_choices *choices,
                                   mil_print_tones *tones) {
    *tones = (mil_print_tones){.word = mil_alloc(ctx, MIL_PLACES, sizeof *tones->word),
                               .place = mil_alloc(ctx, MIL_PLACES, sizeof *tones->place)};
    double(*lab)[3] = mil_alloc(ctx, MIL_PLACES, sizeof *lab);
    milori_status status = tones->word && tones->place && lab ? MILORI_OK : MILORI_ERR_MEMORY;
    if (status == MILORI_OK)
        status = mil_print_line(ctx, choices, NULL, lab);
    if (status == MILORI_OK) {
        make_words((const double(*)[3])lab, tones);
        make_places(tones);
    } else {
        mil_print_tones_free(tones);
    }
    free(lab);
    return status;
}

void mil_print_tones_free(mil_print_tones *tones) {
    free(tones->word);
    free(tones->place);
    *tones = (mil_print_tones){0};
}
