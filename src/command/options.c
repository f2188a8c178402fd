#include "command/options.h"

#include <stdlib.h>
#include <string.h>

#include "tone/choices.h"

static const mil_option table[] = {
    {MIL_OPTION_OUTPUT, 'o', "output", "FOLDER", "where the positives go; made if it is not there",
     MIL_FOR_POSITIVE},
    {MIL_OPTION_OUTPUT, 'o', "output", "FOLDER",
     "where choices and positives go; made if it is not there", MIL_FOR_EASEL},
    {MIL_OPTION_PORT, 0, "port", "N", "of this machine, 1 to 65535 (one that is free)",
     MIL_FOR_EASEL},
    {MIL_OPTION_OPEN, 0, "open", NULL, "open it in the desktop's browser", MIL_FOR_EASEL},
    {MIL_OPTION_OUTPUT, 'o', "output", "FILE", "the print: .tif, .png, .pdf or .jpg",
     MIL_FOR_PRINT},
    {MIL_OPTION_OUTPUT, 'o', "output", "FILE", "the proof: .png, .tif, .jpg or .pdf",
     MIL_FOR_PROOF},
    {MIL_OPTION_OUTPUT, 'o', "output", "FILE",
     "make: the film, .tif, .png or .pdf; read: the curve", MIL_FOR_TARGET},
    {MIL_OPTION_KIND, 0, "kind", "time|ink|tone", "make: which target (tone)", MIL_FOR_TARGET},
    {MIL_OPTION_PAPER, 0, "paper", "SIZE", "make: the sheet of film: a5, 8x10in, 120x160mm (a5)",
     MIL_FOR_TARGET},
    {MIL_OPTION_PRINT_DPI, 0, "print-dpi", "N", "make: resolution of the film's file (360)",
     MIL_FOR_TARGET},
    {MIL_OPTION_INK, 0, "ink", "#RGB", "make: colour of full ink, three digits 0 to f (#000)",
     MIL_FOR_TARGET},
    {MIL_OPTION_NOISE, 0, "noise", "L", "make: spread of like patches that is expected, L* (1)",
     MIL_FOR_TARGET},
    {MIL_OPTION_SHUFFLE, 0, "shuffle", "N", "make: order of the patches, 0 to 7 (0)",
     MIL_FOR_TARGET},
    {MIL_OPTION_STRIP_STOPS, 0, "strip-stops", "0.5|1", "make: time from strip to strip (0.5)",
     MIL_FOR_TARGET},
    {MIL_OPTION_PROCESS, 0, "process", "CURVE", "the curve that the target is printed through",
     MIL_FOR_TARGET},
    {MIL_OPTION_NAME, 0, "name", "WORDS", "read: what the curve is of: paper, coating, lamp",
     MIL_FOR_TARGET},
    {MIL_OPTION_LIKE, 0, "like", "FILE", "choices of an earlier positive, or of a file",
     MIL_FOR_POSITIVE | MIL_FOR_PRINT | MIL_FOR_PROOF | MIL_FOR_EASEL},
    {MIL_OPTION_PAPER, 0, "paper", "PAPER", "a4, a3+, letter, 8x10in, a4-across ...; none (a4)",
     MIL_FOR_PRINT},
    {MIL_OPTION_SIZE, 0, "size", "SIZE",
     "fit, 180mm, 7in (the long side), width=, height=, short=; pixels (fit)", MIL_FOR_PRINT},
    {MIL_OPTION_MARGIN, 0, "margin", "LENGTHS", "1, 2 or 4 of them, clockwise from above (15mm)",
     MIL_FOR_PRINT},
    {MIL_OPTION_PLACE, 0, "place", "PLACE", "top, bottom-left ..., or 20mm,30mm (centre)",
     MIL_FOR_PRINT},
    {MIL_OPTION_PRINT_DPI, 0, "print-dpi", "N", "pixels an inch on the paper, 72 to 2880 (360)",
     MIL_FOR_PRINT},
    {MIL_OPTION_PAPER, 0, "paper", "PAPER", "of the page (a4-across)", MIL_FOR_PROOF},
    {MIL_OPTION_PRINT_DPI, 0, "print-dpi", "N", "pixels an inch, 72 to 600 (200)", MIL_FOR_PROOF},
    {MIL_OPTION_PRINTER, 0, "printer", "FILE", "ICC profile of printer and paper (sRGB)",
     MIL_FOR_PRINT},
    {MIL_OPTION_SHARPEN, 0, "sharpen", "LENGTH", "edges this fine on the paper, to 1mm (none)",
     MIL_FOR_PRINT},
    {MIL_OPTION_EDGE, 0, "edge", NULL, "the whole coated sheet to the brush's own edge",
     MIL_FOR_PRINT},
    {MIL_OPTION_SHEET, 0, "sheet", "N", "which sheet of a scan that holds several",
     MIL_FOR_PRINT | MIL_FOR_PROOF},
    {MIL_OPTION_FINISHED, 0, "finished", NULL, "the file is a positive, not a scan", MIL_FOR_PRINT},
    {MIL_OPTION_LOOK, 0, "look", "FILE", "PNG of how the print will look, hatched out of gamut",
     MIL_FOR_PRINT},
    {MIL_OPTION_TEST_STRIP, 0, "test-strip", "CHOICE", "strips under CHOICE=VALUE,VALUE,...",
     MIL_FOR_PRINT | MIL_FOR_PROOF},
    {MIL_OPTION_VARY, 0, "vary", "CHOICE", "a picture for each of CHOICE=VALUE,VALUE,...",
     MIL_FOR_PROOF},
    {MIL_OPTION_BY, 0, "by", "CHOICE", "a row of them for each value of a second choice",
     MIL_FOR_PROOF},
    {MIL_OPTION_CONTACT_SHEET, 0, "contact-sheet", NULL, "all pictures named, small, on one page",
     MIL_FOR_PRINT},
    {MIL_OPTION_AGAIN, 0, "again", NULL, "remake positives that are up to date", MIL_FOR_POSITIVE},
    {MIL_OPTION_REPLACE, 0, "replace", NULL, "write over what was not made from this scan",
     MIL_FOR_POSITIVE},
    {MIL_OPTION_REPLACE, 0, "replace", NULL, "write over files that are there",
     MIL_FOR_PRINT | MIL_FOR_PROOF},
    {MIL_OPTION_DRY_RUN, 0, "dry-run", NULL, "say what would be made; write nothing",
     MIL_FOR_POSITIVE | MIL_FOR_PRINT},
    {MIL_OPTION_DENSITIES, 0, "densities", "LIST|FILE",
     "of the tablet: 21x0.15, 31x0.1, 11x0.3, or each with commas (21x0.15)", MIL_FOR_TABLET},
    {MIL_OPTION_ENDS, 0, "ends", "X,Y X,Y",
     "middles of the deepest blue step and of the last, in px (found)", MIL_FOR_TABLET},
    {MIL_OPTION_PLOT, 0, "plot", "FILE", "draw the curve into FILE, as SVG",
     MIL_FOR_TABLET | MIL_FOR_TARGET},
    {MIL_OPTION_REPLACE, 0, "replace", NULL, "write over a file that is there",
     MIL_FOR_TABLET | MIL_FOR_TARGET},
    {MIL_OPTION_JSON, 0, "json", NULL, "print JSON instead of a table",
     MIL_FOR_MEASURE | MIL_FOR_TABLET | MIL_FOR_TARGET},
    {MIL_OPTION_QUIET, 'q', "quiet", NULL, "say nothing but errors",
     MIL_FOR_POSITIVE | MIL_FOR_PRINT | MIL_FOR_PROOF | MIL_FOR_EASEL | MIL_FOR_TARGET},
    {MIL_OPTION_QUIET, 'q', "quiet", NULL, "leave out words, notes and the bar", MIL_FOR_MEASURE},
    {MIL_OPTION_QUIET, 'q', "quiet", NULL, "leave out the notes", MIL_FOR_TABLET},
    {MIL_OPTION_NOTES, 0, "notes", "FILE.csv", "your notes: file, minutes, light, hours",
     MIL_FOR_MEASURE},
    {MIL_OPTION_PLOTS, 0, "plots", "FOLDER", "draw the series that the notes are of, as SVG",
     MIL_FOR_MEASURE},
    {MIL_OPTION_REPLACE, 0, "replace", NULL, "write over plots that are there", MIL_FOR_MEASURE},
    {MIL_OPTION_JOBS, 'j', "jobs", "N", "scans at once, 1..64 (as the machine allows)",
     MIL_FOR_POSITIVE | MIL_FOR_MEASURE},
    {MIL_OPTION_MEMORY, 0, "memory", "MIB", "most for pictures that cannot be streamed (1024)",
     MIL_FOR_POSITIVE | MIL_FOR_MEASURE | MIL_FOR_PRINT | MIL_FOR_PROOF | MIL_FOR_EASEL |
         MIL_FOR_TABLET | MIL_FOR_TARGET},
    {MIL_OPTION_PIXELS, 0, "pixels", "N", "most pixels a scan may have (2147483648)",
     MIL_FOR_POSITIVE | MIL_FOR_MEASURE | MIL_FOR_PRINT | MIL_FOR_PROOF | MIL_FOR_EASEL |
         MIL_FOR_TABLET | MIL_FOR_TARGET},
    {MIL_OPTION_HELP, 'h', "help", NULL, "this text",
     MIL_FOR_POSITIVE | MIL_FOR_MEASURE | MIL_FOR_PRINT | MIL_FOR_PROOF | MIL_FOR_EASEL |
         MIL_FOR_TABLET | MIL_FOR_TARGET}};

/* What is being read: the arguments, where we are, and the choices kept until
 * those of --like are known. */
typedef struct reading {
    milori_context *ctx;
    int command;
    const char *command_name;
    char *const *argument;
    size_t count, at;
    mil_options *options;
} reading;

const mil_option *mil_option_table(size_t *count) {
    *count = sizeof table / sizeof *table;
    return table;
}

bool mil_choice_taken(int command, const char *name) {
    static const char *const measuring[] = {"dpi", "shape", "frame", "corners", "unexposed"};
    if (command == MIL_FOR_POSITIVE || command == MIL_FOR_EASEL)
        return true;
    if (command == MIL_FOR_PROOF) /* it is in sRGB, of the kind that its name says */
        return strcmp(name, "format") != 0 && strcmp(name, "profile") != 0 &&
               strcmp(name, "depth") != 0 && strcmp(name, "quality") != 0;
    if (command == MIL_FOR_PRINT) /* the file's name says the first, --printer the other */
        return strcmp(name, "format") != 0 && strcmp(name, "profile") != 0;
    if (command == MIL_FOR_TARGET)
        return strcmp(name, "dpi") == 0;
    if (command == MIL_FOR_TABLET)
        return false;
    for (size_t i = 0; i < sizeof measuring / sizeof *measuring; i++)
        if (strcmp(name, measuring[i]) == 0)
            return true;
    return false;
}

static milori_status wrong(const reading *r, const char *option, const char *what) {
    char *shown = mil_printable(option);
    milori_status status = mil_fail(r->ctx, MILORI_ERR_ARGUMENT, "%s %s; see milori %s --help",
                                    shown ? shown : "an option", what, r->command_name);
    free(shown);
    return status;
}

static const mil_option *option_of(const reading *r, const char *name, size_t length) {
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        if ((table[i].commands & r->command) && strlen(table[i].name) == length &&
            memcmp(table[i].name, name, length) == 0)
            return &table[i];
    return NULL;
}

static const mil_option *option_of_letter(const reading *r, char letter) {
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        if ((table[i].commands & r->command) && table[i].letter == letter)
            return &table[i];
    return NULL;
}

static const mil_choice_info *choice_of(const reading *r, const char *name, size_t length) {
    size_t count;
    const mil_choice_info *choice = mil_choice_table(&count);
    for (size_t i = 0; i < count; i++)
        if (strlen(choice[i].name) == length && memcmp(choice[i].name, name, length) == 0 &&
            mil_choice_taken(r->command, choice[i].name))
            return &choice[i];
    return NULL;
}

static milori_status whole_number(const reading *r, const mil_option *option, const char *text,
                                  double least, double most, double *value) {
    if (mil_parse_number(text, value) && *value >= least && *value <= most &&
        *value == (double)(uint64_t)*value)
        return MILORI_OK;
    *value = 0;
    return mil_fail(r->ctx, MILORI_ERR_ARGUMENT,
                    "--%s takes a whole number from %.0f to %.0f; see milori %s --help",
                    option->name, least, most, r->command_name);
}

static milori_status apply_number(const reading *r, const mil_option *option, const char *text) {
    double value = 0;
    milori_status status;
    mil_options *o = r->options;
    if (option->key == MIL_OPTION_JOBS) {
        status = whole_number(r, option, text, 1, 64, &value);
        o->jobs = (int)value;
    } else if (option->key == MIL_OPTION_MEMORY) {
        status = whole_number(r, option, text, 16, (double)(SIZE_MAX >> 24), &value);
        o->memory = (size_t)value << 20;
    } else {
        status = whole_number(r, option, text, 1, 1e12, &value);
        o->pixels = (uint64_t)value;
    }
    return status;
}

static milori_status apply(const reading *r, const mil_option *option, const char *text) {
    mil_options *o = r->options;
    o->given[option->key] = text;
    switch (option->key) {
    case MIL_OPTION_OUTPUT:
        o->output = text;
        return text[0] ? MILORI_OK : wrong(r, "--output", "needs a name");
    case MIL_OPTION_LIKE:
        o->like = text;
        return MILORI_OK;
    case MIL_OPTION_AGAIN:
        o->again = true;
        return MILORI_OK;
    case MIL_OPTION_REPLACE:
        o->replace = true;
        return MILORI_OK;
    case MIL_OPTION_DRY_RUN:
        o->dry_run = true;
        return MILORI_OK;
    case MIL_OPTION_JSON:
        o->json = true;
        return MILORI_OK;
    case MIL_OPTION_QUIET:
        o->quiet = true;
        return MILORI_OK;
    case MIL_OPTION_HELP:
        o->help = true;
        return MILORI_OK;
    case MIL_OPTION_JOBS:
    case MIL_OPTION_MEMORY:
    case MIL_OPTION_PIXELS:
        return apply_number(r, option, text);
    default: /* the command's own to read */
        return MILORI_OK;
    }
}

/* The text an option takes: after "=", or the next argument. */
static milori_status take_text(reading *r, const char *after, const char **text) {
    const char *option = r->argument[r->at];
    if (after)
        *text = after;
    else if (r->at + 1 < r->count)
        *text = r->argument[++r->at];
    else
        return wrong(r, option, "needs a value after it");
    return MILORI_OK;
}

static milori_status read_long(reading *r) {
    const char *argument = r->argument[r->at], *name = argument + 2;
    const char *equals = strchr(name, '='), *text = "";
    size_t length = equals ? (size_t)(equals - name) : strlen(name);
    const mil_option *option = option_of(r, name, length);
    const mil_choice_info *choice = option ? NULL : choice_of(r, name, length);
    if (!option && !choice)
        return wrong(r, argument, "is no option of this command");
    bool takes = choice || option->value;
    if (!takes && equals)
        return wrong(r, argument, "takes no value");
    milori_status status = takes ? take_text(r, equals ? equals + 1 : NULL, &text) : MILORI_OK;
    if (status != MILORI_OK || option)
        return status == MILORI_OK ? apply(r, option, text) : status;
    mil_options *o = r->options;
    o->choice[o->chosen++] = choice->name;
    o->choice[o->chosen++] = text;
    return MILORI_OK;
}

static milori_status read_letter(reading *r) {
    const char *argument = r->argument[r->at], *text = "";
    const mil_option *option = option_of_letter(r, argument[1]);
    if (!option)
        return wrong(r, argument, "is no option of this command");
    if (!option->value && argument[2])
        return wrong(r, argument, "takes no value");
    milori_status status = MILORI_OK;
    if (option->value)
        status = take_text(r, argument[2] ? argument + 2 : NULL, &text);
    return status == MILORI_OK ? apply(r, option, text) : status;
}

static milori_status read_arguments(reading *r) {
    milori_status status = MILORI_OK;
    bool options_end = false;
    for (r->at = 0; r->at < r->count && status == MILORI_OK && !r->options->help; r->at++) {
        char *argument = r->argument[r->at];
        if (options_end || argument[0] != '-' || !argument[1])
            r->options->names[r->options->count++] = argument;
        else if (strcmp(argument, "--") == 0)
            options_end = true;
        else
            status = argument[1] == '-' ? read_long(r) : read_letter(r);
    }
    return status;
}

bool mil_choice_given(const mil_options *options, const char *name) {
    for (size_t i = 0; i < options->chosen; i += 2)
        if (strcmp(options->choice[i], name) == 0)
            return true;
    return false;
}

/* The very sheet that --like's record is of gets its own places again. */
static void make_own(const reading *r) {
    mil_options *o = r->options;
    const milori_choices *from = &o->record.choices;
    o->own = o->choices;
    if (!o->like)
        return;
    if (!mil_choice_given(o, "corners")) {
        o->own.corners_given = from->corners_given;
        memcpy(o->own.corners_px, from->corners_px, sizeof from->corners_px);
    }
    if (!mil_choice_given(o, "unexposed")) {
        o->own.spots = from->spots;
        memcpy(o->own.spot_px, from->spot_px, sizeof from->spot_px);
    }
}

/* --like first, then the command line's own, wherever they stood. */
static milori_status apply_choices(const reading *r) {
    mil_options *o = r->options;
    milori_status status = MILORI_OK;
    if (o->like) {
        o->record.choices = o->choices;
        status = mil_like_read(r->ctx, o->like, &o->record);
        o->choices = o->record.choices;
        mil_choices_forget_sheet(&o->choices);
    }
    o->like_profile = o->like && o->choices.profile[0] && !mil_choice_given(o, "profile");
    o->like_dodge = o->like && o->choices.dodge[0] && !mil_choice_given(o, "dodge");
    for (size_t i = 0; i < o->chosen && status == MILORI_OK; i += 2)
        status = milori_choice_set(r->ctx, &o->choices, o->choice[i], o->choice[i + 1]);
    if (status == MILORI_OK)
        status = mil_choices_check(r->ctx, &o->choices);
    make_own(r);
    return status;
}

milori_status mil_options_read(milori_context *ctx, int command, const char *command_name,
                               char *const *arguments, size_t count, mil_options *options) {
    memset(options, 0, sizeof *options);
    options->memory = (size_t)1 << 30;
    milori_choices_default(&options->choices);
    reading r = {.ctx = ctx,
                 .command = command,
                 .command_name = command_name,
                 .argument = arguments,
                 .count = count,
                 .options = options};
    options->names = mil_alloc(ctx, count, sizeof *options->names);
    options->choice = mil_alloc(ctx, count, 2 * sizeof *options->choice);
    milori_status status = options->names && options->choice ? MILORI_OK : MILORI_ERR_MEMORY;
    if (status == MILORI_OK)
        status = read_arguments(&r);
    if (status == MILORI_OK && !options->help)
        status = apply_choices(&r);
    return status;
}

void mil_options_free(mil_options *options) {
    free(options->names);
    free(options->choice);
    memset(options, 0, sizeof *options);
}
