/* Whether a target's patches are those of a process at all. */
#include <math.h>
#include <stdlib.h>

#include "print/fit_private.h"

enum { LEVELS_MOST = 1024 };
static const double SURE = 5;     /* standard errors */
static const double DROP = 1.5;   /* L*: a smaller fall never matters */
static const double RANGE = 10;   /* L*: less is no print */
static const double AT_END = 0.2; /* of the ink: what lies there is an end */

/* Mean lightness of the patches of one ink, and its standard error. */
typedef struct level {
    double ink, L, error;
} level;

static size_t make_levels(const mil_samples *s, level *levels) {
    size_t count = 0;
    for (size_t i = 0, next; i < s->count && count < LEVELS_MOST; i = next) {
        double weight = 0, sum = 0, spread = 0, n = 0;
        for (next = i; next < s->count && s->ink[next] <= s->ink[i] + 1e-6; next++) {
            if (!(s->weight[next] > 0))
                continue;
            weight += s->weight[next];
            sum += s->weight[next] * s->L[next];
            spread = fmax(spread, hypot(s->spread[next], s->patch[next]->sigma));
            n++;
        }
        if (n > 0)
            levels[count++] = (level){s->ink[i], sum / weight, spread / sqrt(n)};
    }
    return count;
}

/* The fall from one level to a later one that stands out most from the noise. */
static bool worst_fall(const level *levels, size_t count, size_t *from, size_t *to) {
    double most = SURE;
    bool found = false;
    for (size_t i = 0; i < count; i++)
        for (size_t k = i + 1; k < count; k++) {
            double fall = levels[i].L - levels[k].L;
            double sure = fall / hypot(levels[i].error, levels[k].error);
            if (fall < DROP || sure < most)
                continue;
            most = sure;
            *from = i;
            *to = k;
            found = true;
        }
    return found;
}

static milori_status fail_fall(milori_context *ctx, const char *file, const level *from,
                               const level *to) {
    double fall = from->L - to->L;
    if (to->ink <= AT_END)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: the blue turns back at the dark end: %.0f %% of ink printed %.1f L* "
                        "darker than %.0f %%; let the print dry and darken fully (a day in air) "
                        "and scan it again, or expose shorter",
                        file, 100 * to->ink, fall, 100 * from->ink);
    if (from->ink >= 1 - AT_END)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: the tones turn back at the light end: %.0f %% of ink printed %.1f L* "
                        "darker than %.0f %%; look for ink that ran or stained the paper, and "
                        "print with less of it",
                        file, 100 * to->ink, fall, 100 * from->ink);
    return mil_fail(ctx, MILORI_ERR_SHEET,
                    "%s: the tones do not rise with the ink: %.0f %% printed %.1f L* darker than "
                    "%.0f %%, more than like patches spread (%.1f); check that the film lay flat "
                    "on the coat and print the target again",
                    file, 100 * to->ink, fall, 100 * from->ink, from->error);
}

milori_status mil_fit_judge(milori_context *ctx, const char *file, const mil_samples *s,
                            const mil_smooth *free_fall) {
    double range = mil_smooth_at(free_fall, s->x[s->count - 1]) - mil_smooth_at(free_fall, s->x[0]);
    if (range < -RANGE)
        return mil_fail(ctx, MILORI_ERR_SHEET,
                        "%s: more ink came out darker, the reverse of a blue print; scan the blue "
                        "print as it is, not the film and not inverted",
                        file);
    level *levels = mil_alloc(ctx, LEVELS_MOST, sizeof *levels);
    if (!levels)
        return MILORI_ERR_MEMORY;
    size_t from = 0, to = 0, count = make_levels(s, levels);
    milori_status status = MILORI_OK;
    if (worst_fall(levels, count, &from, &to))
        status = fail_fall(ctx, file, &levels[from], &levels[to]);
    free(levels);
    if (status == MILORI_OK && range < RANGE)
        status = mil_fail(ctx, MILORI_ERR_SHEET,
                          "%s: from clear film to the most ink the print changes by %.1f L* only; "
                          "check that the coat is fresh, then expose shorter or take an ink that "
                          "holds back more",
                          file, range);
    return status;
}
