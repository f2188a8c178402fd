#include "print/gamut.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "colour/lab.h"
#include "colour/look.h"

/* Gaps in L* below this are the threshold's own raggedness. */
static const double GAP = 0.5;

typedef struct place {
    double away; /* between what is asked for and what is given */
    double asked_L;
    uint64_t pixels;
    uint32_t at;
    bool outside;
} place;

static void measure_place(const mil_output *output, const double wish[3], const uint16_t *codes,
                          place *p) {
    double asked[3], given[3];
    mil_output_asked(output, wish, asked);
    mil_output_given(output, codes, false, given);
    p->away = mil_ciede2000(asked, given);
    p->asked_L = asked[0];
    p->outside = mil_output_beyond(output, asked) >= MIL_LOOK_OUT;
}

static void add_range(mil_gamut *gamut, const double (*line)[3], const place *p) {
    double L = line[p->at][0];
    mil_gamut_range *last = gamut->ranges ? &gamut->range[gamut->ranges - 1] : NULL;
    if (!last || (L - last->to > GAP && gamut->ranges < MIL_GAMUT_RANGES)) {
        last = &gamut->range[gamut->ranges++];
        *last = (mil_gamut_range){.from = L, .asked_from = p->asked_L};
    }
    last->to = L;
    last->asked_to = p->asked_L;
    last->pixels += p->pixels;
}

static int by_distance(const void *a, const void *b) {
    const place *p = a, *q = b;
    if (p->away != q->away)
        return p->away < q->away ? -1 : 1;
    return p->at < q->at ? -1 : p->at > q->at;
}

/* Mean, 95 % and worst of the places outside that hold pixels; sorts them. */
static void sum_up(mil_gamut *gamut, const double (*line)[3], place *places, uint32_t count) {
    uint32_t out = 0;
    for (uint32_t i = 0; i < count; i++)
        if (places[i].outside && places[i].pixels)
            places[out++] = places[i];
    if (!out)
        return;
    qsort(places, out, sizeof *places, by_distance);
    double sum = 0, needed = .95 * (double)gamut->outside, so_far = 0;
    for (uint32_t i = 0; i < out; i++) {
        sum += places[i].away * (double)places[i].pixels;
        if (so_far < needed)
            gamut->most_95 = places[i].away;
        so_far += (double)places[i].pixels;
    }
    const place *worst = &places[out - 1];
    gamut->mean = sum / (double)gamut->outside;
    gamut->worst = worst->away;
    gamut->worst_L = line[worst->at][0];
    gamut->worst_asked_L = worst->asked_L;
    gamut->share = (double)gamut->outside / (double)gamut->pixels;
}

milori_status mil_gamut_measure(milori_context *ctx, const mil_output *output,
                                const double (*line)[3], const uint16_t *codes,
                                const uint64_t *pixels, uint32_t count, mil_gamut *gamut) {
    place *places = mil_alloc(ctx, count, sizeof *places);
    if (!places)
        return MILORI_ERR_MEMORY;
    double black[3];
    mil_output_black(output, black);
    *gamut = (mil_gamut){.worst_L = NAN,
                         .worst_asked_L = NAN,
                         .intent = mil_output_intent(output),
                         .black_point = black[0] > 0,
                         .black_L = black[0]};
    mil_output_paper(output, gamut->paper);
    size_t channels = (size_t)mil_output_channels(output);
    for (uint32_t i = 0; i < count; i++) {
        places[i] = (place){.pixels = pixels[i], .at = i};
        measure_place(output, line[i], codes + channels * i, &places[i]);
        gamut->pixels += pixels[i];
        if (!places[i].outside)
            continue;
        gamut->outside += pixels[i];
        add_range(gamut, line, &places[i]);
    }
    sum_up(gamut, line, places, count);
    free(places);
    return MILORI_OK;
}

typedef struct text {
    char *words;
    size_t size, used;
} text;

static void say(text *t, const char *format, ...) MIL_PRINTF(2, 3);
static void say(text *t, const char *format, ...) {
    va_list args;
    va_start(args, format);
    int n = t->used < t->size ? vsnprintf(t->words + t->used, t->size - t->used, format, args) : 0;
    va_end(args);
    t->used += n > 0 ? (size_t)n : 0;
}

static void say_pixels(text *t, const mil_gamut *g) {
    if (!g->outside) {
        say(t, "every pixel lies inside the printer's gamut\n");
        return;
    }
    say(t, "outside the printer's gamut: %llu of %llu pixels (%.1f %%)\n",
        (unsigned long long)g->outside, (unsigned long long)g->pixels, 100 * g->share);
    say(t,
        "how far these are from what is asked for (CIEDE2000): mean %.1f, 95 %% within %.1f, "
        "worst %.1f at L* %.0f\n",
        g->mean, g->most_95, g->worst, g->worst_L);
}

static void say_ranges(text *t, const mil_gamut *g) {
    for (size_t i = 0; i < g->ranges; i++) {
        const mil_gamut_range *r = &g->range[i];
        say(t, "%s L* %.0f to %.0f", i == 0 ? "the palette leaves it at" : ",", r->from, r->to);
        if (!r->pixels)
            say(t, " (no pixels there)");
    }
    if (g->ranges)
        say(t, "\n");
}

static void say_terms(text *t, const mil_gamut *g) {
    if (g->intent == MILORI_ABSOLUTE)
        say(t, "asked for: the palette's colours as they are, on a paper of L* %.0f\n",
            g->paper[0]);
    else if (g->black_point)
        say(t,
            "asked for: the palette seen from the paper's white, its L* 0 fitted to the printer's "
            "black of L* %.0f\n",
            g->black_L);
    else
        say(t, "asked for: the palette seen from the paper's white, its blacks not fitted\n");
}

void mil_gamut_words(const mil_gamut *gamut, char *words, size_t size) {
    text t = {words, size, 0};
    if (size)
        words[0] = 0;
    say_pixels(&t, gamut);
    say_ranges(&t, gamut);
    say_terms(&t, gamut);
}
