/* The command line: one table of options beside the table of choices. */
#ifndef MILORI_OPTIONS_H
#define MILORI_OPTIONS_H

#include "command/like.h"

/* Which commands take an option. */
enum {
    MIL_FOR_POSITIVE = 1,
    MIL_FOR_MEASURE = 2,
    MIL_FOR_PRINT = 4,
    MIL_FOR_TARGET = 8,
    MIL_FOR_TABLET = 16,
    MIL_FOR_PROOF = 32,
    MIL_FOR_EASEL = 64
};

typedef enum mil_option_key {
    MIL_OPTION_OUTPUT,
    MIL_OPTION_LIKE,
    MIL_OPTION_AGAIN,
    MIL_OPTION_REPLACE,
    MIL_OPTION_DRY_RUN,
    MIL_OPTION_JSON,
    MIL_OPTION_NOTES,
    MIL_OPTION_PLOTS,
    MIL_OPTION_QUIET,
    MIL_OPTION_JOBS,
    MIL_OPTION_MEMORY,
    MIL_OPTION_PIXELS,
    MIL_OPTION_VARY,
    MIL_OPTION_BY,
    MIL_OPTION_PORT,
    MIL_OPTION_OPEN,
    MIL_OPTION_HELP,
    MIL_OPTION_PAPER,
    MIL_OPTION_SIZE,
    MIL_OPTION_MARGIN,
    MIL_OPTION_PLACE,
    MIL_OPTION_PRINT_DPI,
    MIL_OPTION_SHARPEN,
    MIL_OPTION_EDGE,
    MIL_OPTION_PRINTER,
    MIL_OPTION_LOOK,
    MIL_OPTION_SHEET,
    MIL_OPTION_FINISHED,
    MIL_OPTION_TEST_STRIP,
    MIL_OPTION_CONTACT_SHEET,
    MIL_OPTION_DENSITIES,
    MIL_OPTION_ENDS,
    MIL_OPTION_PLOT,
    MIL_OPTION_KIND,
    MIL_OPTION_INK,
    MIL_OPTION_NOISE,
    MIL_OPTION_SHUFFLE,
    MIL_OPTION_STRIP_STOPS,
    MIL_OPTION_PROCESS,
    MIL_OPTION_NAME,
    MIL_OPTION_KEYS /* how many */
} mil_option_key;

typedef struct mil_option {
    mil_option_key key;
    char letter;       /* 0 none */
    const char *name;  /* without the dashes */
    const char *value; /* what it takes, NULL nothing */
    const char *help;
    int commands;
} mil_option;

/* Every option that is no choice, in the order of the help. */
const mil_option *mil_option_table(size_t *count);
/* Whether a command takes the choice of that name. */
bool mil_choice_taken(int command, const char *name);

typedef struct mil_options {
    bool help, again, replace, dry_run, json, quiet;
    const char *given[MIL_OPTION_KEYS]; /* text of each option, "" of one that takes none; NULL not
                                           given */
    const char *output, *like;          /* NULL not given */
    int jobs;                           /* 0 not given */
    size_t memory;                      /* bytes */
    uint64_t pixels;                    /* 0 not given */
    mil_record record;                  /* what --like took */
    milori_choices choices;             /* of --like, then of the command line */
    milori_choices own;                 /* the same for the scan that --like's record is of */
    bool like_profile, like_dodge;      /* these files are named by --like's record alone */
    size_t chosen;                      /* choices on the command line itself */
    const char **choice;                /* name, text, name, text ... of them */
    char **names;                       /* scans and folders, in the order given */
    size_t count;
} mil_options;

/* Reads the arguments after the command's own name. Options may stand anywhere
 * before "--"; of one given twice the last counts. --help ends the reading. */
milori_status mil_options_read(milori_context *ctx, int command, const char *command_name,
                               char *const *arguments, size_t count, mil_options *options);
/* Whether the command line itself names that choice. */
bool mil_choice_given(const mil_options *options, const char *name);
void mil_options_free(mil_options *options);

#endif
