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

/* Of places sorted by distance; of all or of those outside. */
static mil_gamut_distances sum_up(const double (*line)[3], const place *places, uint32_t count,
                                  bool all, uint64_t pixels) {
    mil_gamut_distances d = {.worst_L = NAN, .worst_asked_L = NAN};
    double sum = 0, needed = .95 * (double)pixels, so_far = 0;
    for (uint32_t i = 0; i < count; i++) {
        const place *p = &places[i];
        if (!p->pixels || !(all || p->outside))
            continue;
        sum += p->away * (double)p->pixels;
        if (so_far < needed)
            d.most_95 = p->away;
        so_far += (double)p->pixels;
        d.worst = p->away;
        d.worst_L = line[p->at][0];
        d.worst_asked_L = p->asked_L;
    }
    d.mean = pixels ? sum / (double)pixels : 0;
    return d;
}

milori_status mil_gamut_measure(milori_context *ctx, const mil_output *output,
                                const double (*line)[3], const uint16_t *codes,
                                const uint64_t *pixels, uint32_t count, mil_gamut *gamut) {
    place *places = mil_alloc(ctx, count, sizeof *places);
    if (!places)
        return MILORI_ERR_MEMORY;
    double black[3];
    mil_output_black(output, black);
    *gamut = (mil_gamut){
        .intent = mil_output_intent(output), .black_point = black[0] > 0, .black_L = black[0]};
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
    qsort(places, count, sizeof *places, by_distance);
    gamut->far = sum_up(line, places, count, false, gamut->outside);
    gamut->all = sum_up(line, places, count, true, gamut->pixels);
    gamut->share = gamut->pixels ? (double)gamut->outside / (double)gamut->pixels : 0;
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

static void say_distances(text *t, const char *of, const mil_gamut_distances *d) {
    say(t,
        "%s: CIEDE2000 from what is asked for %.1f in the mean, 95 %% within %.1f, worst %.1f at "
        "L* %.0f\n",
        of, d->mean, d->most_95, d->worst, d->worst_L);
}

static void say_pixels(text *t, const mil_gamut *g) {
    if (g->outside) {
        say(t, "outside the printer's gamut: %llu of %llu pixels (%.1f %%)\n",
            (unsigned long long)g->outside, (unsigned long long)g->pixels, 100 * g->share);
        say_distances(t, "these", &g->far);
    } else {
        say(t, "every pixel lies inside the printer's gamut\n");
    }
    if (g->all.worst >= MIL_LOOK_OUT && g->pixels > g->outside)
        say_distances(t, "all pixels", &g->all);
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
