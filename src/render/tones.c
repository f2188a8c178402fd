#include "render/tones.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The last 13 of a float's 23 bits of fraction lie between two entries. */
enum { BETWEEN = 13, STOPS_BELOW = 256, STOPS_ABOVE = 64, PER_STOP = 128 };
/* So far below no dye at all, in floors, there are specks but no picture. */
static const double FLOORS_BELOW = 12;

static uint32_t bits_of(float x) {
    uint32_t bits;
    memcpy(&bits, &x, sizeof bits);
    return bits;
}

static float of_bits(uint32_t bits) {
    float x;
    memcpy(&x, &bits, sizeof x);
    return x;
}

static milori_status make_places(milori_context *ctx, const mil_tone *tone, mil_tones *tones) {
    uint32_t count = (STOPS_BELOW + STOPS_ABOVE) * PER_STOP + 2;
    tones->place = mil_alloc(ctx, count, sizeof *tones->place);
    if (!tones->place)
        return MILORI_ERR_MEMORY;
    for (uint32_t i = 0; i < count; i++) {
        double stops = (double)i / PER_STOP - STOPS_BELOW;
        tones->place[i] = (float)(65535 * mil_tone_place(tone, stops));
    }
    return MILORI_OK;
}

milori_status mil_tones_make(milori_context *ctx, const mil_tone *tone, double light, bool dodge,
                             mil_tones *tones) {
    *tones = (mil_tones){0};
    tones->low = (float)(-FLOORS_BELOW * tone->floor);
    tones->least = (float)(tone->floor / 16);
    tones->most = (float)(1024 * fmax(light, tone->floor));
    tones->first = bits_of(tones->least) >> BETWEEN;
    uint32_t count = (bits_of(tones->most) >> BETWEEN) - tones->first + 2;
    tones->entry = mil_alloc(ctx, count, sizeof *tones->entry);
    if (!tones->entry || (dodge && make_places(ctx, tone, tones) != MILORI_OK)) {
        mil_tones_free(tones);
        return MILORI_ERR_MEMORY;
    }
    for (uint32_t i = 0; i < count; i++) {
        double amount = (double)of_bits((tones->first + i) << BETWEEN) + tones->low;
        double stops = mil_tone_light(tone, amount);
        tones->entry[i] = (float)(dodge ? stops : 65535 * mil_tone_place(tone, stops));
    }
    return MILORI_OK;
}

static inline float look_up(const mil_tones *tones, float amount) {
    float x = amount - tones->low;
    x = x > tones->least ? x : tones->least; /* and what is no number */
    x = x < tones->most ? x : tones->most;
    uint32_t bits = bits_of(x);
    const float *e = tones->entry + ((bits >> BETWEEN) - tones->first);
    float part = (float)(int32_t)(bits & ((1u << BETWEEN) - 1)) * (1.0f / (1 << BETWEEN));
    return e[0] + part * (e[1] - e[0]);
}

static inline float place_of(const mil_tones *tones, float stops) {
    const float last = (STOPS_BELOW + STOPS_ABOVE) * PER_STOP;
    float x = (stops + STOPS_BELOW) * PER_STOP;
    x = x > 0 ? x : 0;
    x = x < last ? x : last;
    int32_t i = (int32_t)x;
    const float *e = tones->place + i;
    return e[0] + (x - (float)i) * (e[1] - e[0]);
}

void mil_tones_row(const mil_tones *tones, const float *amount, const float *stops, uint32_t count,
                   uint16_t *place) {
    const mil_tones t = *tones;
    if (stops)
        for (uint32_t i = 0; i < count; i++)
            place[i] = (uint16_t)(int32_t)(place_of(&t, look_up(&t, amount[i]) + stops[i]) + 0.5f);
    else
        for (uint32_t i = 0; i < count; i++)
            place[i] = (uint16_t)(int32_t)(look_up(&t, amount[i]) + 0.5f);
}

void mil_tones_free(mil_tones *tones) {
    free(tones->entry);
    free(tones->place);
    *tones = (mil_tones){0};
}
