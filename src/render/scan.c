/* The public face of a scan: from file to positives. */
#include "render/scan.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "render/render.h"
#include "render/sheet_json.h"
#include "render/straight.h"
#include "scan/packet.h"
#include "scan/sink_codes.h"
#include "tone/choices.h"

struct milori_scan {
    milori_context *ctx;
    mil_measured measured;
    milori_scan_facts facts;
    milori_notes *notes; /* facts.sheets: the crop's and the separation's together */
    char *path;
    char digest[33]; /* "" until it is wanted */
};

static void drop_notes(milori_scan *scan) {
    for (int i = 0; i < scan->facts.sheets; i++)
        mil_notes_free(&scan->notes[i]);
    free(scan->notes);
    scan->notes = NULL;
    scan->facts.sheets = 0;
}

static void take_facts(milori_scan *scan) {
    const mil_source_info *info = mil_source_info_of(scan->measured.source);
    bool across = info->orientation >= 5;
    bool known = info->dpi[0] > 0 && info->dpi[1] > 0;
    scan->facts = (milori_scan_facts){.path = scan->path,
                                      .width = across ? info->height : info->width,
                                      .height = across ? info->width : info->height,
                                      .bits = info->bits,
                                      .channels = info->channels,
                                      .dpi = known ? 2 / (1 / info->dpi[0] + 1 / info->dpi[1]) : 0,
                                      .profile = scan->measured.decode->name};
}

milori_status milori_scan_open(milori_context *ctx, const char *path, milori_scan **out) {
    *out = NULL;
    milori_scan *scan = mil_alloc(ctx, 1, sizeof *scan);
    if (!scan)
        return MILORI_ERR_MEMORY;
    scan->ctx = ctx;
    scan->path = mil_strdup(ctx, path);
    milori_status status =
        scan->path ? mil_measured_open(ctx, path, &scan->measured) : MILORI_ERR_MEMORY;
    if (status != MILORI_OK) {
        milori_scan_close(scan);
        return status;
    }
    take_facts(scan);
    *out = scan;
    return MILORI_OK;
}

static void join_notes(milori_notes *to, const milori_notes *from) {
    for (size_t i = 0; i < from->count; i++)
        mil_note(to, from->note[i].code, "%s", from->note[i].text);
}

/* What the print would do under these choices: the tone stands above the sheet's room. */
static void take_tone(const milori_choices *choices, const mil_separation *separation,
                      milori_sheet *sheet) {
    mil_tone tone;
    sheet->veil = isnan(choices->veil) ? separation->veil : choices->veil;
    mil_tone_resolve(&separation->scale, choices, sheet->veil, separation->shoulder, &tone);
    sheet->grade = tone.grade;
    sheet->stops = tone.automatic_stops;
}

milori_status milori_scan_measure(milori_scan *scan, const milori_choices *choices) {
    milori_choices defaults;
    mil_measured *m = &scan->measured;
    milori_choices_default(&defaults);
    choices = choices ? choices : &defaults;
    drop_notes(scan);
    milori_status status = mil_choices_check(scan->ctx, choices);
    if (status == MILORI_OK)
        status = mil_measured_analyse(scan->ctx, m, choices);
    if (status != MILORI_OK)
        return status;
    scan->notes = mil_alloc(scan->ctx, (size_t)m->count, sizeof *scan->notes);
    if (!scan->notes)
        return MILORI_ERR_MEMORY;
    scan->facts.sheets = m->count;
    scan->facts.dpi = m->grid.mm_known ? 25.4 / m->grid.mm_px : 0;
    for (int i = 0; i < m->count; i++) {
        join_notes(&scan->notes[i], &m->found[i].notes);
        join_notes(&scan->notes[i], &m->separation[i].notes);
        take_tone(choices, &m->separation[i], &m->sheet[i]);
    }
    return MILORI_OK;
}

const milori_scan_facts *milori_scan_facts_of(const milori_scan *scan) {
    return &scan->facts;
}

static bool has_sheet(const milori_scan *scan, int index) {
    return index >= 0 && index < scan->facts.sheets;
}

const milori_sheet *milori_scan_sheet(const milori_scan *scan, int index) {
    return has_sheet(scan, index) ? &scan->measured.sheet[index] : NULL;
}

const milori_notes *milori_scan_notes(const milori_scan *scan, int index) {
    if (index == -1)
        return &scan->measured.notes;
    return has_sheet(scan, index) ? &scan->notes[index] : NULL;
}

static milori_status want_sheet(milori_scan *scan, int index) {
    if (has_sheet(scan, index))
        return MILORI_OK;
    return mil_fail(scan->ctx, MILORI_ERR_ARGUMENT,
                    scan->facts.sheets ? "%s: there is no sheet %d; there are %d"
                                       : "%s: there is no sheet %d yet; measure the scan first",
                    scan->path, index + 1, scan->facts.sheets);
}

/* The sheet in JSON under the scan's whole name, or under that without its folder. */
static milori_status describe(milori_scan *scan, int index, bool with_folder, char **json) {
    const char *slash = strrchr(scan->path, '/');
    char *name = mil_printable(slash && !with_folder ? slash + 1 : scan->path);
    if (!name)
        return mil_fail(scan->ctx, MILORI_ERR_MEMORY, "out of memory: close other programs");
    milori_status status =
        mil_sheet_json(scan->ctx, name, &scan->facts, &scan->measured.sheet[index],
                       &scan->measured.notes, &scan->notes[index], json);
    free(name);
    return status;
}

milori_status milori_scan_sheet_json(milori_scan *scan, int index, char **json) {
    *json = NULL;
    milori_status status = want_sheet(scan, index);
    return status == MILORI_OK ? describe(scan, index, true, json) : status;
}

milori_status milori_scan_positive_size(milori_scan *scan, int index, const milori_choices *choices,
                                        uint32_t *width, uint32_t *height) {
    mil_straight straight;
    milori_status status = want_sheet(scan, index);
    if (status == MILORI_OK)
        status = mil_choices_check(scan->ctx, choices);
    if (status == MILORI_OK)
        status = mil_straight_of(scan->ctx, &scan->measured, index, choices, &straight);
    if (status == MILORI_OK)
        mil_straight_size(&straight, width, height);
    return status;
}

/* ---- one positive ----------------------------------------------------------- */

void mil_scan_know_digest(milori_scan *scan, const char digest[33]) {
    memcpy(scan->digest, digest, sizeof scan->digest);
}

/* Digests of the files that the choices name; NULL stays where they name none. */
static milori_status digest_files(milori_context *ctx, const milori_choices *choices,
                                  char dodge[33], char profile[33], mil_packet *packet) {
    milori_status status = MILORI_OK;
    if (choices->dodge[0]) {
        status = mil_file_digest(ctx, choices->dodge, dodge);
        packet->dodge = dodge;
    }
    if (status == MILORI_OK && choices->profile[0]) {
        status = mil_file_digest(ctx, choices->profile, profile);
        packet->profile = profile;
    }
    return status;
}

static milori_status make_packet(milori_scan *scan, int index, const milori_choices *choices,
                                 char **xmp, size_t *size) {
    char version[] = "milori " MILORI_VERSION, dodge[33], profile[33];
    const char *slash = strrchr(scan->path, '/');
    mil_packet packet = {.digest = scan->digest, .version = version, .number = index + 1};
    milori_status status = milori_choices_to_json(scan->ctx, choices, &packet.choices);
    if (status == MILORI_OK && !scan->digest[0])
        status = mil_file_digest(scan->ctx, scan->path, scan->digest);
    if (status == MILORI_OK)
        status = digest_files(scan->ctx, choices, dodge, profile, &packet);
    if (status == MILORI_OK)
        status = describe(scan, index, false, &packet.sheet);
    packet.source = mil_printable(slash ? slash + 1 : scan->path);
    if (status == MILORI_OK && !packet.source)
        status = mil_fail(scan->ctx, MILORI_ERR_MEMORY, "out of memory: close other programs");
    if (status == MILORI_OK)
        status = mil_packet_write(scan->ctx, &packet, xmp, size);
    free(packet.source);
    free(packet.choices);
    free(packet.sheet);
    return status;
}

static milori_status write_rows(void *data, uint32_t count, const uint16_t *codes) {
    return mil_code_sink_write(data, count, codes);
}

static milori_status write_positive(milori_scan *scan, const mil_plan *plan, const char *path,
                                    mil_sink_options *options) {
    mil_code_sink sink = {0};
    const mil_taker taker = {write_rows, &sink};
    const mil_output *output = mil_plan_output(plan);
    mil_plan_size(plan, &options->width, &options->height);
    options->channels = mil_output_channels(output);
    options->dpi = mil_plan_dpi(plan);
    options->icc = mil_output_icc(output, &options->icc_size);
    milori_status status = mil_code_sink_open(scan->ctx, path, options, &sink);
    if (status == MILORI_OK)
        status = mil_render(scan->ctx, plan, scan->measured.source, NULL, 1, &taker);
    return mil_code_sink_close(&sink, status);
}

static milori_status not_the_scan(milori_scan *scan, const char *path) {
    struct stat in, out;
    if (stat(path, &out) != 0 || stat(scan->path, &in) != 0)
        return MILORI_OK;
    if (in.st_dev != out.st_dev || in.st_ino != out.st_ino)
        return MILORI_OK;
    return mil_fail(scan->ctx, MILORI_ERR_EXISTS, "%s: is the scan itself; name another place",
                    path);
}

milori_status milori_scan_positive(milori_scan *scan, int index, const milori_choices *choices,
                                   const char *path, bool replace) {
    mil_plan *plan = NULL;
    char *xmp = NULL;
    mil_sink_options options = {.format = choices->format,
                                .bits = mil_choices_depth(choices),
                                .quality = choices->quality,
                                .replace = replace};
    milori_status status = want_sheet(scan, index);
    if (status == MILORI_OK)
        status = not_the_scan(scan, path);
    if (status == MILORI_OK)
        status = make_packet(scan, index, choices, &xmp, &options.xmp_size);
    if (status == MILORI_OK)
        status = mil_plan_new(scan->ctx, &scan->measured, index, choices, &plan);
    options.xmp = xmp;
    if (status == MILORI_OK)
        status = write_positive(scan, plan, path, &options);
    mil_plan_free(plan);
    free(xmp);
    return status;
}

void milori_scan_close(milori_scan *scan) {
    if (!scan)
        return;
    drop_notes(scan);
    mil_measured_close(&scan->measured);
    free(scan->path);
    free(scan);
}
