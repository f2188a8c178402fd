/* milori tablet read: a step tablet's print, read from its scan. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "command/command.h"
#include "command/messages.h"
#include "print/tablet.h"
#include "print/tablet_plot.h"
#include "scan/sink.h"

typedef struct job {
    const mil_options *options;
    mil_tablet tablet;
    bool at_ends; /* ends are given */
    double ends[2][2];
    json_t *all; /* --json: what was read, scan by scan */
} job;

/* "X,Y X,Y" */
static milori_status take_ends(milori_context *ctx, const char *text, double ends[2][2]) {
    double *value = &ends[0][0];
    size_t count = 0;
    for (const char *p = text; *p;) {
        size_t length = strcspn(p, ", ");
        char number[40];
        if (length > 0 && (count == 4 || length >= sizeof number))
            break;
        memcpy(number, p, length);
        number[length] = 0;
        if (length > 0 && !mil_parse_number(number, &value[count++]))
            break;
        p += length + (p[length] != 0);
        if (!*p && count == 4)
            return MILORI_OK;
    }
    return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                    "--ends takes \"X,Y X,Y\", the middles of the first and the last step in px; "
                    "see milori tablet --help");
}

/* ---- JSON --------------------------------------------------------------- */

static json_t *number(double value, int decimals) {
    double unit = pow(10, decimals);
    return isfinite(value) ? json_real(round(value * unit) / unit + 0.0) : json_null();
}

static json_t *point(const double at[2]) {
    return json_pack("{soso}", "log_exposure", number(at[0], 4), "density", number(at[1], 4));
}

static json_t *curve_json(const mil_scale_curve *c) {
    return json_pack("{sososososososososi}", "least", number(c->least, 4), "most",
                     number(c->most, 4), "T", point(c->T), "S", point(c->S), "S_net",
                     point(c->S_net), "scale", number(c->scale, 4), "scale_sigma",
                     number(c->sigma, 4), "scale_net", number(c->scale_net, 4), "iso_range",
                     mil_scale_iso_range(c->scale));
}

static json_t *steps_json(const mil_tablet_print *print) {
    json_t *array = json_array();
    for (size_t i = 0; i < print->tablet.count; i++) {
        const mil_tablet_step *s = &print->step[i];
        json_array_append_new(
            array, json_pack("{sisososososososo}", "step", (int)i + 1, "tablet",
                             number(print->tablet.density[i], 4), "density", number(s->density, 4),
                             "density_sigma", number(s->sigma, 4), "red_density",
                             print->colour ? number(s->red, 4) : json_null(), "L", number(s->L, 3),
                             "x_px", number(s->x_px, 1), "y_px", number(s->y_px, 1)));
    }
    return array;
}

static void add_json(const job *j, const char *shown, const mil_tablet_print *print,
                     const milori_notes *notes) {
    json_t *said = json_array();
    for (size_t i = 0; i < notes->count; i++)
        json_array_append_new(said,
                              json_sprintf("%s: %s", notes->note[i].code, notes->note[i].text));
    json_array_append_new(j->all,
                          json_pack("{sssososososo}", "file", shown, "steps", steps_json(print),
                                    "visual", curve_json(&print->visual), "red",
                                    print->colour ? curve_json(&print->red) : json_null(),
                                    "spare_stops", number(print->spare_stops, 2), "notes", said));
}

/* ---- words -------------------------------------------------------------- */

static void print_steps(const mil_tablet_print *print) {
    puts("step  tablet     L*  density  red light");
    for (size_t i = 0; i < print->tablet.count; i++) {
        const mil_tablet_step *s = &print->step[i];
        printf("%4zu %7.2f %6.1f %8.3f", i + 1, print->tablet.density[i], s->L, s->density);
        if (print->colour)
            printf(" %10.3f", s->red);
        putchar('\n');
    }
}

static void print_words(const char *shown, const mil_tablet_print *print, const milori_notes *notes,
                        bool quiet) {
    const mil_scale_curve *v = &print->visual;
    printf("%s\n", shown);
    print_steps(print);
    printf("cleared paper %.3f, deepest blue %.3f\n", v->least, v->most);
    printf("exposure scale %.2f +- %.2f, ISO range R %d (from 0.04 above paper to 90 %% of the "
           "deepest blue)\n",
           v->scale, v->sigma, mil_scale_iso_range(v->scale));
    printf("  %.2f if the 90 %% count from the paper", v->scale_net);
    if (print->colour)
        printf("; %.2f by red light", print->red.scale);
    printf("\nso the film is to hold back %.1f, as density in the light that prints\n", v->scale);
    if (print->spare_stops >= 0.1)
        printf("the time could be %.1f stops shorter for 90 %% of the deepest blue under step 1\n",
               print->spare_stops);
    for (size_t i = 0; !quiet && i < notes->count; i++)
        printf("  %s: %s\n", notes->note[i].code, notes->note[i].text);
}

/* ---- the command -------------------------------------------------------- */

static milori_status one_scan(milori_context *ctx, const job *j, const char *path) {
    const mil_options *o = j->options;
    mil_tablet_print print;
    milori_notes notes = {0};
    milori_status status =
        mil_tablet_read(ctx, path, &j->tablet, j->at_ends ? j->ends : NULL, &print, &notes);
    char *svg = NULL, *shown = mil_printable(path);
    size_t size;
    if (status == MILORI_OK && !shown)
        status = mil_fail(ctx, MILORI_ERR_MEMORY, "out of memory: close other programs");
    if (status == MILORI_OK && o->given[MIL_OPTION_PLOT]) {
        status = mil_tablet_plot(ctx, &print, shown, &svg, &size);
        if (status == MILORI_OK)
            status = mil_write_file(ctx, o->given[MIL_OPTION_PLOT], svg, size, o->replace);
    }
    if (status == MILORI_OK && o->json)
        add_json(j, shown, &print, &notes);
    else if (status == MILORI_OK)
        print_words(shown, &print, &notes, o->quiet);
    free(svg);
    free(shown);
    mil_notes_free(&notes);
    return status;
}

static int read_all(milori_context *ctx, job *j) {
    const mil_options *o = j->options;
    int exit_status = MIL_EXIT_WELL;
    j->all = json_array();
    for (size_t i = 1; i < o->count; i++) {
        milori_status status = one_scan(ctx, j, o->names[i]);
        if (mil_stopped()) {
            mil_error("stopped");
            exit_status = MIL_EXIT_STOPPED;
            break;
        }
        if (status != MILORI_OK) {
            mil_error_of(ctx);
            milori_clear(ctx);
            exit_status = MIL_EXIT_SOME_FAILED;
        }
    }
    if (o->json && exit_status != MIL_EXIT_STOPPED) {
        json_t *whole = json_pack("{sO}", "tablets", j->all);
        char *text = whole ? json_dumps(whole, JSON_REAL_PRECISION(12) | JSON_INDENT(1)) : NULL;
        if (text)
            puts(text);
        else
            mil_error("out of memory: close other programs");
        free(text);
        json_decref(whole);
    }
    json_decref(j->all);
    return exit_status;
}

static milori_status ready(milori_context *ctx, job *j) {
    const mil_options *o = j->options;
    const char *tablet = o->given[MIL_OPTION_DENSITIES], *ends = o->given[MIL_OPTION_ENDS];
    if (strcmp(o->names[0], "read") != 0 || o->count < 2)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "say milori tablet read SCAN; see milori tablet --help");
    if ((ends || o->given[MIL_OPTION_PLOT]) && o->count > 2)
        return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                        "--ends and --plot are of one scan, and %zu are named; name one",
                        o->count - 1);
    milori_status status = mil_tablet_parse(ctx, tablet ? tablet : "21x0.15", &j->tablet);
    if (status == MILORI_OK && ends)
        status = take_ends(ctx, ends, j->ends);
    j->at_ends = ends != NULL;
    return status;
}

int mil_command_tablet(milori_context *ctx, const mil_options *options) {
    job j = {.options = options};
    milori_set_cancel(ctx, mil_stop_asked, NULL);
    milori_set_memory_limit(ctx, options->memory);
    if (options->pixels)
        milori_set_pixel_limit(ctx, options->pixels);
    if (ready(ctx, &j) != MILORI_OK) {
        mil_error_of(ctx);
        return MIL_EXIT_REFUSED;
    }
    return read_all(ctx, &j);
}
