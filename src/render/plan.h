/* What a Plan holds; for the render room alone. */
#ifndef MILORI_PLAN_H
#define MILORI_PLAN_H

#include "render/dodge.h"
#include "render/response.h"
#include "render/straight.h"
#include "render/tones.h"

struct mil_plan {
    const mil_measured *measured;
    int index;              /* of the sheet */
    milori_choices choices; /* that it was made of */
    const mil_separation *separation;
    mil_straight straight;
    mil_response response;
    float sun_amount; /* what the reversed core of a sun's track holds */
    mil_tone tone;
    mil_tones tones;
    bool dodged;
    mil_dodge dodge;
    mil_output *output;
    int channels;
    uint16_t *codes; /* output codes of places 0 .. 65535, channels each */
    double dpi;
};

#endif
