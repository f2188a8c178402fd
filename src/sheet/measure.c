#include "sheet/measure.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/judge.h"
#include "sheet/tell.h"

milori_status mil_measured_open(milori_context *ctx, const char *path, mil_measured *m) {
    *m = (mil_measured){0};
    milori_status status = mil_source_open(ctx, path, &m->notes, &m->source);
    if (status == MILORI_OK)
        status = mil_decode_new(ctx, mil_source_info_of(m->source), &m->notes, &m->decode);
    if (status == MILORI_OK)
        status = mil_absorb_init(ctx, m->decode, &m->absorb);
    m->file_notes = m->notes.count;
    if (status != MILORI_OK)
        mil_measured_close(m);
    return status;
}

static void drop_analysis(mil_measured *m) {
    while (m->notes.count > m->file_notes)
        free(m->notes.note[--m->notes.count].text);
    for (int i = 0; m->separation && i < m->count; i++)
        mil_separation_free(&m->separation[i]);
    free(m->separation);
    free(m->sheet);
    mil_found_free(m->found, m->count);
    m->separation = NULL;
    m->sheet = NULL;
    m->found = NULL;
    m->count = 0;
}

void mil_measured_close(mil_measured *m) {
    drop_analysis(m);
    mil_grid_free(&m->grid);
    mil_absorb_free(&m->absorb);
    mil_decode_free(m->decode);
    mil_source_close(m->source);
    mil_notes_free(&m->notes);
    *m = (mil_measured){0};
}

/* A rectangle of the stored scan as four corners of the upright one. */
static void upright(const mil_grid *g, const mil_rect *rect, double out[4][2]) {
    double corner[4][2];
    mil_rect_corners(rect, corner);
    for (int i = 0; i < 4; i++)
        mil_orient(g->orientation, g->width, g->height, corner[i][0], corner[i][1], &out[i][0],
                   &out[i][1]);
    mil_corners_sort(out);
}

static void face_frame(const mil_grid *g, const mil_found *found, milori_sheet *sheet) {
    upright(g, &found->outline, sheet->outline_px);
    upright(g, &found->frame, sheet->frame_px);
    sheet->outline_origin = found->outline_origin;
    sheet->frame_origin = found->frame_origin;
    sheet->shape = found->shape;
    double(*c)[2] = sheet->frame_px;
    double right[2] = {c[1][0] - c[0][0], c[1][1] - c[0][1]};
    sheet->frame_mm[0] = hypot(right[0], right[1]) * g->mm_px;
    sheet->frame_mm[1] = hypot(c[3][0] - c[0][0], c[3][1] - c[0][1]) * g->mm_px;
    sheet->corner_sigma_mm = found->corner_sigma_px * g->mm_px;
    memcpy(sheet->frame_name, found->frame_name, sizeof sheet->frame_name);
    for (int i = 0; i < 4; i++)
        sheet->sides_found += found->side_found[i];
    double tilt = atan2(right[1], right[0]) * 57.29577951308232;
    double sigma = found->angle_sigma * 57.29577951308232;
    sheet->tilt_deg = (milori_value){tilt, sigma, found->frame_origin};
}

/* Densities of stretched levels tell neither age nor light; those of a grey scan, or of a picture
 * that stands for a margin, no age. */
static void face_told(const mil_measured *m, const mil_separation *s, milori_sheet *sheet) {
    static const milori_value unknown = {NAN, NAN, MILORI_ASSUMED};
    bool stretched = mil_notes_have(&m->notes, "levels");
    sheet->tones = s->told.tones;
    sheet->strength = stretched ? unknown : s->told.strength;
    sheet->most = stretched ? unknown : s->told.most;
    sheet->uneven = stretched ? unknown : s->told.uneven;
    sheet->next_stops = stretched ? unknown : s->told.next;
    sheet->exposure = stretched ? MILORI_EXPOSURE_UNKNOWN : s->told.exposure;
    bool ageless = stretched || s->channels != 3 || mil_notes_have(&s->notes, "margin");
    sheet->tarnish = ageless ? MILORI_TARNISH_UNKNOWN : mil_tell_tarnish(&s->fog_density);
}

static void face(const mil_measured *m, int i, milori_sheet *sheet) {
    const mil_separation *s = &m->separation[i];
    *sheet = (milori_sheet){.number = i + 1, .of = m->count};
    face_frame(&m->grid, &m->found[i], sheet);
    memcpy(sheet->base_density, s->base_density, sizeof sheet->base_density);
    sheet->fog = s->fog_density;
    sheet->stain = s->stain;
    sheet->range = s->range;
    sheet->noise = s->noise;
    sheet->sun_fraction = s->sun_fraction;
    sheet->veil = s->veil;
    face_told(m, s, sheet);
    sheet->grade = NAN;
    sheet->stops = NAN;
}

static milori_status analyse_sheets(milori_context *ctx, mil_measured *m,
                                    const milori_choices *choices) {
    m->separation = mil_alloc(ctx, (size_t)m->count, sizeof *m->separation);
    m->sheet = mil_alloc(ctx, (size_t)m->count, sizeof *m->sheet);
    if (!m->separation || !m->sheet)
        return MILORI_ERR_MEMORY;
    for (int i = 0; i < m->count; i++) {
        milori_status status = mil_check_cancel(ctx);
        if (status == MILORI_OK)
            status = mil_separate(ctx, &m->grid, &m->found[i], choices, &m->separation[i]);
        if (status != MILORI_OK)
            return status;
        mil_judge_sheet(&m->grid, &m->found[i], &m->separation[i].notes);
        face(m, i, &m->sheet[i]);
    }
    return MILORI_OK;
}

milori_status mil_measured_analyse(milori_context *ctx, mil_measured *m,
                                   const milori_choices *choices) {
    const mil_source_info *info = mil_source_info_of(m->source);
    drop_analysis(m);
    mil_grid_free(&m->grid);
    milori_status status = mil_source_rewind(m->source);
    if (status == MILORI_OK)
        status = mil_grid_build(ctx, m->source, &m->absorb, choices->dpi, &m->grid);
    if (status != MILORI_OK)
        return status;
    mil_judge_scan(info, &m->grid, &m->notes);
    status = mil_find(ctx, info->path, &m->grid, choices, &m->found, &m->count);
    if (status == MILORI_OK)
        status = analyse_sheets(ctx, m, choices);
    if (status != MILORI_OK)
        drop_analysis(m);
    return status;
}
