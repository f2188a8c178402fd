/* One sheet's part of the report. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "draw/plot.h"
#include "render/hold.h"
#include "render/scan.h"
#include "view/curves.h"
#include "view/day.h"
#include "view/html.h"
#include "view/scan_view.h"

enum { SIDE = 720 };

/* ---- pictures ------------------------------------------------------------------- */

/* The sheet's outline with a little of the bed, px of the upright scan. */
static mil_part_rect around(const milori_sheet *sheet, const milori_scan_facts *facts) {
    double x[2] = {INFINITY, -INFINITY}, y[2] = {INFINITY, -INFINITY};
    for (int i = 0; i < 4; i++) {
        x[0] = fmin(x[0], sheet->outline_px[i][0]);
        x[1] = fmax(x[1], sheet->outline_px[i][0]);
        y[0] = fmin(y[0], sheet->outline_px[i][1]);
        y[1] = fmax(y[1], sheet->outline_px[i][1]);
    }
    double more = 0.03 * fmax(x[1] - x[0], y[1] - y[0]);
    double left = fmax(x[0] - more, 0), top = fmax(y[0] - more, 0);
    return (mil_part_rect){left, top, fmin(x[1] + more, facts->width) - left,
                           fmin(y[1] + more, facts->height) - top};
}

static milori_status before(milori_context *ctx, FILE *out, milori_scan *scan, int index) {
    mil_scan_sight view;
    const mil_part_rect part = around(milori_scan_sheet(scan, index), milori_scan_facts_of(scan));
    milori_status status = mil_scan_view(ctx, mil_scan_measured(scan), &part, SIDE, &view);
    if (status == MILORI_OK)
        status = mil_html_picture(ctx, out, view.width, view.height, view.rgb,
                                  "the sheet as it was scanned");
    mil_scan_sight_free(&view);
    return status;
}

static milori_status paint(milori_context *ctx, FILE *out, const mil_held *held,
                           const mil_plan *plan) {
    uint32_t width, height;
    mil_held_size(held, &width, &height);
    size_t count = (size_t)width * height;
    uint16_t *places = mil_alloc(ctx, count, sizeof *places);
    uint8_t *rgb = mil_alloc(ctx, count, 3);
    milori_status status =
        places && rgb ? mil_held_places(ctx, held, plan, places) : MILORI_ERR_MEMORY;
    const uint16_t *codes = mil_plan_codes(plan);
    for (size_t i = 0; i < count && status == MILORI_OK; i++)
        for (size_t c = 0; c < 3; c++)
            rgb[3 * i + c] = (uint8_t)((codes[(size_t)places[i] * 3 + c] * 255u + 32767u) / 65535u);
    if (status == MILORI_OK)
        status = mil_html_picture(ctx, out, width, height, rgb, "the positive");
    free(places);
    free(rgb);
    return status;
}

static milori_status after(milori_context *ctx, FILE *out, milori_scan *scan,
                           const mil_plan *plan) {
    uint32_t width, height;
    mil_held *held = NULL;
    mil_plan_size(plan, &width, &height);
    double longer = width > height ? width : height;
    milori_status status =
        mil_hold(ctx, plan, mil_scan_measured(scan)->source, NULL, fmin(SIDE / longer, 1), &held);
    if (status == MILORI_OK)
        status = paint(ctx, out, held, plan);
    mil_held_free(held);
    return status;
}

/* ---- words and numbers ------------------------------------------------------------ */

static void row(FILE *out, const char *name, const char *value) {
    fprintf(out, "<tr><th>%s<td>", name);
    mil_html_words(out, value);
    fputc('\n', out);
}

/* A value in scaled units with its uncertainty, and how it is known. */
static void number(FILE *out, const char *name, const milori_value *v, double scale, int digits,
                   const char *unit) {
    char text[96], sigma[32] = "";
    if (!isfinite(v->value))
        return;
    if (isfinite(v->sigma))
        snprintf(sigma, sizeof sigma, " ± %.*f", digits, v->sigma * scale);
    snprintf(text, sizeof text, "%.*f%s%s%s", digits, v->value * scale, sigma, unit,
             v->origin == MILORI_ASSUMED ? ", assumed" : "");
    row(out, name, text);
}

static void numbers(FILE *out, const milori_sheet *s) {
    static const double stop = 0.30102999566398120; /* log10 2 */
    char text[128];
    fputs("<table>\n", out);
    snprintf(text, sizeof text, "%.1f x %.1f mm%s%s%s", s->frame_mm[0], s->frame_mm[1],
             s->frame_name[0] ? ", " : "", s->frame_name,
             s->frame_origin == MILORI_ASSUMED ? ", assumed"
             : s->frame_origin == MILORI_GIVEN ? ", given"
                                               : "");
    row(out, "frame", text);
    number(out, "tilt", &s->tilt_deg, 1, 2, "°");
    number(out, "fog", &s->fog, 1, 3, "");
    number(out, "stain", &s->stain, 1, 3, "");
    number(out, "range", &s->range, 1 / stop, 1, " stops");
    number(out, "grain", &s->noise, 100, 1, " %");
    const milori_value made[] = {{s->grade, NAN, MILORI_FOUND}, {s->veil, NAN, MILORI_FOUND}};
    number(out, "grade", &made[0], 1, 1, "");
    number(out, "veil taken off", &made[1], 1, 1, " %");
    if (s->sun_fraction > 0) {
        const milori_value sun = {s->sun_fraction, NAN, MILORI_FOUND};
        number(out, "sun reversal", &sun, 100, 2, " % of the frame");
    }
    fputs("</table>\n", out);
}

static void notes(FILE *out, const milori_notes *of_scan, const milori_notes *of_sheet) {
    const milori_notes *const both[] = {of_scan, of_sheet};
    if (of_scan->count + of_sheet->count == 0)
        return;
    fputs("<ul>\n", out);
    for (int k = 0; k < 2; k++)
        for (size_t i = 0; i < both[k]->count; i++) {
            fputs("<li>", out);
            mil_html_words(out, both[k]->note[i].text);
            fputc('\n', out);
        }
    fputs("</ul>\n", out);
}

/* The curve from the scene's light to the print. */
static milori_status curve(milori_context *ctx, FILE *out, milori_scan *scan, int index,
                           const mil_plan *plan, const milori_choices *choices) {
    mil_curves c;
    milori_status status = mil_curves_make(
        ctx, mil_plan_tone(plan), &mil_scan_measured(scan)->separation[index], choices, &c);
    if (status != MILORI_OK)
        return status;
    const double ends[2] = {0, 100}, dark[2] = {c.dark, c.dark},
                 light[2] = {c.light_tones, c.light_tones}, grain[2] = {c.grain, c.grain};
    const mil_plot_series series[] = {
        {MIL_PLOT_LINE, "the print", MIL_CURVE_SAMPLES, c.light, c.lightness, NULL, NULL, NULL},
        {MIL_PLOT_LINE, "the sheet's darkest and lightest tones", 2, dark, ends, NULL, NULL, NULL},
        {MIL_PLOT_LINE, NULL, 2, light, ends, NULL, NULL, NULL},
        {MIL_PLOT_LINE, "its grain", 2, grain, ends, NULL, NULL, NULL}};
    const mil_plot plot = {.title = "From the scene's light to the print",
                           .x = {"light in the scene, stops about the middle", false, c.light[0],
                                 c.light[MIL_CURVE_SAMPLES - 1]},
                           .y = {"lightness of the print, L*", false, 0, 100},
                           .series = series,
                           .count = sizeof series / sizeof *series};
    char *svg = NULL;
    size_t size = 0;
    mil_day_part part;
    status = mil_plot_svg(ctx, &plot, &svg, &size);
    if (status == MILORI_OK)
        status = mil_day_plot(ctx, svg, &part);
    if (status == MILORI_OK) {
        fputs(part.text, out);
        free(part.text);
    }
    free(svg);
    return status;
}

static milori_status write_sheet(milori_context *ctx, FILE *out, milori_scan *scan, int index,
                                 const milori_choices *choices, const char *name) {
    const milori_scan_facts *facts = milori_scan_facts_of(scan);
    mil_plan *plan = NULL;
    milori_choices shown = *choices;
    shown.profile[0] = 0; /* a page is in sRGB */
    milori_status status = mil_plan_new(ctx, mil_scan_measured(scan), index, &shown, &plan);
    fputs("<section><h2>", out);
    mil_html_words(out, name);
    if (facts->sheets > 1)
        fprintf(out, ", sheet %d", index + 1);
    fputs("</h2>\n<div class=\"pair\"><figure>", out);
    if (status == MILORI_OK)
        status = before(ctx, out, scan, index);
    fputs("<figcaption>scanned</figcaption></figure><figure>", out);
    if (status == MILORI_OK)
        status = after(ctx, out, scan, plan);
    fputs("<figcaption>positive</figcaption></figure></div>\n<div class=\"facts\">", out);
    numbers(out, milori_scan_sheet(scan, index));
    if (status == MILORI_OK)
        status = curve(ctx, out, scan, index, plan, &shown);
    fputs("</div>\n", out);
    notes(out, milori_scan_notes(scan, -1), milori_scan_notes(scan, index));
    fputs("</section>\n", out);
    mil_plan_free(plan);
    return status;
}

milori_status mil_day_sheet(milori_context *ctx, milori_scan *scan, int index,
                            const milori_choices *choices, const char *name, mil_day_part *part) {
    *part = (mil_day_part){0};
    FILE *out = open_memstream(&part->text, &part->size);
    if (!out)
        return mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: close other programs");
    milori_status status = write_sheet(ctx, out, scan, index, choices, name);
    if (fclose(out) != 0 && status == MILORI_OK)
        status = mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: close other programs");
    if (status != MILORI_OK) {
        free(part->text);
        *part = (mil_day_part){0};
    }
    return status;
}
