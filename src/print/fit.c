#include "print/fit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "print/fit_private.h"

enum { LEAST_PATCHES = 12, LEAST_LEVELS = 8 };
/* L* of density 0.84: a washed print's blue is deeper (1.2 to 1.4, from memory). */
static const double PALE_BLUE = 45;

static int by_ink(const void *a, const void *b) {
    const mil_patch *p = *(mil_patch *const *)a, *q = *(mil_patch *const *)b;
    if (p->ink != q->ink)
        return p->ink < q->ink ? -1 : 1;
    return p < q ? -1 : p > q; /* of one array: an order that is always the same */
}

static bool usable(const mil_patch *p) {
    return p->used && p->ink >= 0 && p->ink <= 1 && isfinite(p->L) && isfinite(p->sigma);
}

static milori_status gather(milori_context *ctx, mil_patches *patches, const mil_process *printed,
                            mil_samples *s) {
    size_t n = patches->count;
    *s = (mil_samples){.printed = printed};
    s->patch = mil_alloc(ctx, n + 1, sizeof *s->patch);
    s->x = mil_alloc(ctx, n + 1, 7 * sizeof *s->x);
    if (!s->patch || !s->x)
        return MILORI_ERR_MEMORY;
    s->ink = s->x + n;
    s->L = s->ink + n;
    s->weight = s->L + n;
    s->left = s->weight + n;
    s->spread = s->left + n;
    s->work = s->spread + n;
    for (size_t i = 0; i < n; i++)
        if (usable(&patches->patch[i]))
            s->patch[s->count++] = &patches->patch[i];
    qsort(s->patch, s->count, sizeof *s->patch, by_ink);
    for (size_t i = 0; i < s->count; i++) {
        s->ink[i] = s->patch[i]->ink;
        s->x[i] = mil_process_tone(printed, s->ink[i]);
        s->L[i] = s->patch[i]->L;
        s->weight[i] = 1;
    }
    return MILORI_OK;
}

static void drop(mil_samples *s) {
    free(s->patch);
    free(s->x);
}

static milori_status enough(milori_context *ctx, const char *file, const mil_samples *s,
                            mil_fit *fit) {
    fit->levels = 0;
    for (size_t i = 0; i < s->count; i++)
        fit->levels += i == 0 || s->ink[i] > s->ink[i - 1] + 1e-6;
    if (s->count < LEAST_PATCHES || fit->levels < LEAST_LEVELS)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: only %zu patches of %zu different inks could be read, and 12 of 8 are "
                        "the least; scan the whole chart flat and clean, or print it again",
                        file, s->count, fit->levels);
    if (s->ink[0] > 0.03 || s->ink[s->count - 1] < 0.9)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: the patches of %s could not be read, and the curve needs both its "
                        "ends; scan the whole chart, or print it again",
                        file, s->ink[0] > 0.03 ? "clear film" : "the most ink");
    return MILORI_OK;
}

void mil_fit_curve(const mil_samples *s, const mil_smooth *smooth, double *L) {
    for (int i = 0; i < MIL_FIT_POINTS; i++) {
        double ink = i / (MIL_FIT_POINTS - 1.0);
        L[i] = mil_smooth_at(smooth, mil_process_tone(s->printed, ink));
        L[i] = fmin(fmax(L[i], i ? L[i - 1] : 0), 110);
    }
}

/* Mean a* and b* of the patches at one end: all of the end's ink, spoiled ones not. */
static void end_colour(const mil_samples *s, bool light, double L, double lab[3]) {
    double end = s->ink[light ? s->count - 1 : 0], a = 0, b = 0, n = 0;
    for (size_t i = 0; i < s->count; i++)
        if (s->weight[i] > 0 && fabs(s->ink[i] - end) < 0.01) {
            a += s->patch[i]->a;
            b += s->patch[i]->b;
            n++;
        }
    lab[0] = L;
    lab[1] = n > 0 && isfinite(a) ? a / n : 0;
    lab[2] = n > 0 && isfinite(b) ? b / n : 0;
}

/* How far the tones of this print, made with the curve it was printed with, lie from
 * even steps of L* between its own ends. */
static void say_missed(const mil_process *print, const mil_process *printed, mil_fit *fit) {
    double dark = print->L[0], range = print->L[print->count - 1] - dark;
    fit->missed_mean = fit->missed_worst = 0;
    for (int i = 0; i < MIL_FIT_TONES; i++) {
        double tone = i / (MIL_FIT_TONES - 1.0);
        double came = mil_process_lightness(print, mil_process_ink(printed, tone));
        double off = fabs(came - (dark + tone * range));
        fit->missed_mean += off / MIL_FIT_TONES;
        fit->missed_worst = fmax(fit->missed_worst, off);
    }
}

/* Rises at the ends, each over a twentieth of the ink, and where the ink has done
 * all it can. */
static void say_ends(const mil_process *p, mil_fit *fit) {
    double dark = p->L[0], light = p->L[p->count - 1], twentieth = (light - dark) / 20;
    fit->dark_slope = (mil_process_lightness(p, 0.05) - dark) / twentieth;
    fit->light_slope = (light - mil_process_lightness(p, 0.95)) / twentieth;
    fit->ink_needed = mil_process_ink(p, 1 - 1 / (light - dark));
}

static void note_ends(const mil_fit *fit, milori_notes *notes) {
    if (fit->dark_slope > 0.4)
        mil_note(notes, "exposure",
                 "the blue still deepens close to clear film, so it may not be the deepest that "
                 "this coat gives: compare with a print exposed half as long again");
    if (fit->light_slope > 0.8)
        mil_note(notes, "ink",
                 "the print still grows lighter at the most ink, so that ink may not hold back "
                 "enough light for white paper: try an ink, or a mix, that holds back more");
    else if (fit->ink_needed < 0.6)
        mil_note(notes, "ink",
                 "%.0f %% of the ink already gives white paper: more than enough wastes tones, so "
                 "an ink that holds back less, or less of it, prints finer steps",
                 100 * fit->ink_needed);
}

static milori_status exposed(milori_context *ctx, const char *file, const mil_process *p,
                             const mil_fit *fit) {
    double rise = fit->dark_slope * (p->L[p->count - 1] - p->L[0]) / 20;
    double most = p->L[0] > PALE_BLUE ? 0.6 : 1.25;
    if (fit->dark_slope <= most || rise < 4 * fmax(p->sigma[0], p->sigma[6]))
        return MILORI_OK;
    return mil_fail(ctx, MILORI_ERR_SHEET,
                    "%s: exposed too short: the first 5 %% of ink still lighten the blue by %.1f "
                    "L*, so clear film has not reached the deepest blue; expose longer (milori "
                    "target make lays out a time sheet) and print the target again",
                    file, rise);
}

/* What this print alone says. */
static milori_status from_print(milori_context *ctx, const char *file, mil_samples *s,
                                mil_process *p, mil_fit *fit) {
    mil_smooth smooth;
    milori_status status = mil_fit_robust(ctx, file, s, fit, &smooth);
    if (status == MILORI_OK)
        status = mil_fit_judge(ctx, file, s, &smooth);
    if (status != MILORI_OK)
        return status;
    if (!mil_smooth_fit(s->x, s->L, s->weight, s->count, false, 0, &smooth))
        return mil_fail(ctx, MILORI_ERR_SHEET, "%s: the patches allow no curve; print it again",
                        file);
    p->count = MIL_FIT_POINTS;
    for (int i = 0; i < MIL_FIT_POINTS; i++)
        p->ink[i] = i / (MIL_FIT_POINTS - 1.0);
    mil_fit_curve(s, &smooth, p->L);
    status = mil_fit_uncertainty(ctx, s, &smooth, p->sigma, fit);
    p->repeat_sigma = fit->repeat_sigma;
    p->coat_sigma = NAN;
    p->round = 1;
    end_colour(s, false, p->L[0], p->blue_lab);
    end_colour(s, true, p->L[MIL_FIT_POINTS - 1], p->paper_lab);
    return status;
}

static double mean_square(const double *v, size_t count) {
    double sum = 0;
    for (size_t i = 0; i < count; i++)
        sum += v[i] * v[i];
    return sum / (double)count;
}

/* Joins this print (p) to the rounds before it (old): a mean of the curves, each
 * weighted by what it alone is sure of and by how much coats differ. */
static void join(const mil_process *old, mil_process *p, mil_fit *fit, milori_notes *notes) {
    double rounds = old->round, apart[MIL_FIT_POINTS], before[MIL_FIT_POINTS];
    for (int i = 0; i < MIL_FIT_POINTS; i++) {
        before[i] = mil_process_lightness(old, p->ink[i]);
        apart[i] = p->L[i] - before[i];
    }
    double moved = mean_square(apart, MIL_FIT_POINTS), mine = mean_square(p->sigma, p->count);
    double theirs = mean_square(old->sigma, old->count);
    double coat = fmax(moved - mine - theirs, 0) / (1 + 1 / rounds);
    if (old->round > 1 && isfinite(old->coat_sigma))
        coat = (coat + (rounds - 1) * old->coat_sigma * old->coat_sigma) / rounds;
    double before_var = theirs + coat / rounds + 1e-6, my_var = mine + coat + 1e-6;
    double share = before_var / (before_var + my_var);
    for (int i = 0; i < MIL_FIT_POINTS; i++) {
        p->L[i] = share * p->L[i] + (1 - share) * before[i];
        p->sigma[i] = hypot(share * p->sigma[i], (1 - share) * sqrt(theirs));
    }
    for (int c = 0; c < 3; c++) {
        p->blue_lab[c] = share * p->blue_lab[c] + (1 - share) * old->blue_lab[c];
        p->paper_lab[c] = share * p->paper_lab[c] + (1 - share) * old->paper_lab[c];
    }
    p->round = old->round < MIL_PROCESS_ROUNDS ? old->round + 1 : MIL_PROCESS_ROUNDS;
    p->coat_sigma = sqrt(coat);
    fit->moved = sqrt(moved);
    memcpy(p->name, old->name, sizeof p->name);
    if (fit->moved > 4)
        mil_note(notes, "coat",
                 "this print lies %.1f L* from the rounds before: if paper, coating, lamp or time "
                 "changed, begin again with a target made without --process",
                 fit->moved);
}

milori_status mil_fit_process(milori_context *ctx, const char *file, mil_patches *patches,
                              const mil_process *printed, mil_process *process, mil_fit *fit,
                              milori_notes *notes) {
    mil_samples samples;
    mil_process p = {0};
    *fit = (mil_fit){.moved = NAN};
    milori_status status = gather(ctx, patches, printed, &samples);
    if (status == MILORI_OK)
        status = enough(ctx, file, &samples, fit);
    if (status == MILORI_OK)
        status = from_print(ctx, file, &samples, &p, fit);
    drop(&samples);
    if (status != MILORI_OK)
        return status;
    say_missed(&p, printed, fit);
    say_ends(&p, fit);
    status = exposed(ctx, file, &p, fit);
    if (status != MILORI_OK)
        return status;
    memcpy(p.ink_rgb, patches->ink_rgb, sizeof p.ink_rgb);
    note_ends(fit, notes);
    if (printed)
        join(printed, &p, fit, notes);
    *process = p;
    return MILORI_OK;
}
