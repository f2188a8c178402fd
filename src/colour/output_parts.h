/* What an output is made of, for the files of this room that make and question it. */
#ifndef MILORI_OUTPUT_PARTS_H
#define MILORI_OUTPUT_PARTS_H

#include "colour/output.h"
#include "colour/profile.h"

struct mil_output {
    mil_lcms lcms;
    cmsHTRANSFORM there;       /* Lab to the device, as chosen */
    cmsHTRANSFORM plain, back; /* Lab to the device and back, relative, nothing compensated */
    cmsHTRANSFORM on_paper;    /* the device to Lab, absolute; for prints only */
    double black[3];           /* XYZ that black point compensation makes of L* 0 */
    double fit[3];             /* the same as mil_output_asked() has it */
    int channels;
    milori_intent intent;
    char name[256];
    uint8_t *icc;
    size_t icc_size;
};

/* lcms2 counts inks in per cent. */
static inline double mil_full_code(const mil_output *output) {
    return output->channels == 4 ? 100 : 1;
}

static inline double mil_within(double v) {
    return v > 0 ? v < 1 ? v : 1 : 0; /* NaN to 0 */
}

#endif
