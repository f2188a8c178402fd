#include "command/options.h"

#include <stdlib.h>
#include <string.h>

#include "tone/choices.h"

static const mil_option table[] = {
    {MIL_OPTION_OUTPUT, 'o', "output", "FOLDER", "where the positives go; made if it is not there",
     MIL_FOR_POSITIVE},
    {MIL_OPTION_LIKE, 0, "like", "FILE", "choices of an earlier positive, or of a file",
     MIL_FOR_POSITIVE},
    {MIL_OPTION_AGAIN, 0, "again", NULL, "remake positives that are up to date", MIL_FOR_POSITIVE},
    {MIL_OPTION_REPLACE, 0, "replace", NULL, "write over what was not made from this scan",
     MIL_FOR_POSITIVE},
    {MIL_OPTION_DRY_RUN, 0, "dry-run", NULL, "say what would be made; write nothing",
     MIL_FOR_POSITIVE},
    {MIL_OPTION_JSON, 0, "json", NULL, "print JSON instead of a table", MIL_FOR_MEASURE},
    {MIL_OPTION_NOTES, 0, "notes", "FILE.csv", "your notes: file, minutes, light, hours",
     MIL_FOR_MEASURE},
    {MIL_OPTION_PLOTS, 0, "plots", "FOLDER", "draw the series that the notes are of, as SVG",
     MIL_FOR_MEASURE},
    {MIL_OPTION_REPLACE, 0, "replace", NULL, "write over plots that are there", MIL_FOR_MEASURE},
    {MIL_OPTION_QUIET, 'q', "quiet", NULL, "say nothing but errors", MIL_FOR_POSITIVE},
    {MIL_OPTION_QUIET, 'q', "quiet", NULL, "leave out words, notes and the bar", MIL_FOR_MEASURE},
    {MIL_OPTION_JOBS, 'j', "jobs", "N", "scans at once, 1..64 (as the machine allows)",
     MIL_FOR_POSITIVE | MIL_FOR_MEASURE},
    {MIL_OPTION_MEMORY, 0, "memory", "MIB", "most for pictures that cannot be streamed (1024)",
     MIL_FOR_POSITIVE | MIL_FOR_MEASURE},
    {MIL_OPTION_PIXELS, 0, "pixels", "N", "most pixels a scan may have (2147483648)",
     MIL_FOR_POSITIVE | MIL_FOR_MEASURE},
    {MIL_OPTION_HELP, 'h', "help", NULL, "this text", MIL_FOR_POSITIVE | MIL_FOR_MEASURE}};

/* What is being read: the arguments, where we are, and the choices kept until
 * those of --like are known. */
typedef struct reading {
    milori_context *ctx;
    int command;
    const char *command_name;
    char *const *argument;
    size_t count, at;
    mil_options *options;
    size_t chosen;
    const char **choice; /* name, text, name, text ... */
} reading;

const mil_option *mil_option_table(size_t *count) {
    *count = sizeof table / sizeof *table;
    return table;
}

bool mil_choice_taken(int command, const char *name) {
    static const char *const measuring[] = {"dpi", "shape", "frame", "corners", "unexposed"};
    if (command == MIL_FOR_POSITIVE)
        return true;
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
        return text[0] ? MILORI_OK : wrong(r, "--output", "needs a folder");
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
    r->choice[r->chosen++] = choice->name;
    r->choice[r->chosen++] = text;
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

static bool named(const reading *r, const char *choice) {
    for (size_t i = 0; i < r->chosen; i += 2)
        if (strcmp(r->choice[i], choice) == 0)
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
    if (!named(r, "corners")) {
        o->own.corners_given = from->corners_given;
        memcpy(o->own.corners_px, from->corners_px, sizeof from->corners_px);
    }
    if (!named(r, "unexposed")) {
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
    o->like_profile = o->like && o->choices.profile[0] && !named(r, "profile");
    o->like_dodge = o->like && o->choices.dodge[0] && !named(r, "dodge");
    for (size_t i = 0; i < r->chosen && status == MILORI_OK; i += 2)
        status = milori_choice_set(r->ctx, &o->choices, r->choice[i], r->choice[i + 1]);
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
    r.choice = mil_alloc(ctx, count, 2 * sizeof *r.choice);
    milori_status status = options->names && r.choice ? MILORI_OK : MILORI_ERR_MEMORY;
    if (status == MILORI_OK)
        status = read_arguments(&r);
    if (status == MILORI_OK && !options->help)
        status = apply_choices(&r);
    free(r.choice);
    return status;
}

void mil_options_free(mil_options *options) {
    free(options->names);
    memset(options, 0, sizeof *options);
}
