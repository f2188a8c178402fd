#include <stdio.h>
#include <string.h>

#include "command/command.h"
#include "tone/choices.h"

static const char overview[] =
    "milori " MILORI_VERSION " makes positives from scans of in-camera cyanotype paper negatives.\n"
    "\n"
    "  milori positive [CHOICES] SCAN|FOLDER... -o FOLDER   make the positives\n"
    "  milori measure [--json] SCAN|FOLDER...               say what each sheet is\n"
    "  milori proof [CHOICES] SCAN [FILE...] -o FILE        a sheet many ways\n"
    "  milori easel SCAN|FOLDER... -o FOLDER                tones chosen by eye\n"
    "  milori print [CHOICES] SCAN|POSITIVE -o FILE         make a file for a printer\n"
    "  milori target make|read                              charts of your process\n"
    "  milori tablet read SCAN...                           a step tablet's print\n"
    "  milori COMMAND --help                                a command's options\n"
    "  milori --version\n"
    "\n"
    "Scan once, soon after the exposure, 16 bit, with the scanner's automatics off:\n"
    "man milori says how. Scans are only ever read.\n"
    "\n"
    "  milori positive scans -o positives\n"
    "  milori positive --palette amber --stops +0.5 scans/glasshouse.tif -o positives\n"
    "  milori positive --like positives/glasshouse.tif scans -o positives\n";

/* Columns of an option with its value, and of all. */
enum { LEFT = 27, ALL = 80 };

/* Option and help side by side, the help's words over as many lines as they need. */
static void line(const char *left, const char *help) {
    int used = printf("  %-*s", LEFT, left);
    if ((int)strlen(left) >= LEFT) {
        putchar('\n');
        used = printf("  %-*s", LEFT, "");
    }
    while (*help) {
        size_t word = strcspn(help, " ");
        if (used + 1 + (int)word > ALL) {
            putchar('\n');
            used = printf("  %-*s", LEFT, "");
        }
        used += printf(" %.*s", (int)word, help);
        help += word + (help[word] == ' ');
    }
    putchar('\n');
}

static void option_line(const mil_option *option) {
    char left[80], letter[8] = "";
    if (option->letter)
        snprintf(letter, sizeof letter, "-%c, ", option->letter);
    snprintf(left, sizeof left, "%s--%s %s", letter, option->name,
             option->value ? option->value : "");
    line(left, option->help);
}

static void choice_line(const mil_choice_info *choice) {
    char left[80], help[160];
    snprintf(left, sizeof left, "--%s %s", choice->name, choice->values);
    snprintf(help, sizeof help, "%s (%s)", choice->help, choice->first);
    line(left, help);
}

/* What most positives are made with: stands first. */
static const char *const first[] = {"output", "like", "dry-run", "stops",
                                    "grade",  "turn", "format",  "palette"};

static bool stands_first(int command, const char *name) {
    for (size_t i = 0; command == MIL_FOR_POSITIVE && i < sizeof first / sizeof *first; i++)
        if (strcmp(first[i], name) == 0)
            return true;
    return false;
}

/* The options or choices that do, or do not, stand first. */
static void options_of(int command, bool of_first) {
    size_t count;
    const mil_option *option = mil_option_table(&count);
    for (size_t i = 0; i < count; i++)
        if ((option[i].commands & command) && stands_first(command, option[i].name) == of_first)
            option_line(&option[i]);
}

static void choices_of(int command, bool of_first) {
    size_t count;
    const mil_choice_info *choice = mil_choice_table(&count);
    for (size_t i = 0; i < count; i++)
        if (mil_choice_taken(command, choice[i].name) &&
            stands_first(command, choice[i].name) == of_first)
            choice_line(&choice[i]);
}

void mil_help(int command) {
    if (command == 0) {
        fputs(overview, stdout);
        return;
    }
    if (command == MIL_FOR_POSITIVE) {
        puts("milori positive [CHOICES] SCAN|FOLDER... -o FOLDER\n"
             "Makes a positive of every sheet; defaults stand in brackets.");
        options_of(command, true);
        choices_of(command, true);
        puts("\nOther choices:");
        choices_of(command, false);
        puts("\nOther options:");
    } else if (command == MIL_FOR_EASEL) {
        puts("milori easel [CHOICES] SCAN|FOLDER... -o FOLDER\n"
             "Serves a page on which tones are chosen by eye. Choices named are the start.\n");
    } else if (command == MIL_FOR_PROOF) {
        puts("milori proof [CHOICES] SCAN [CHOICES FILE|POSITIVE...] -o FILE\n"
             "Draws one sheet under several choices on one page; without more, all palettes.\n");
    } else if (command == MIL_FOR_PRINT) {
        puts("milori print [CHOICES] SCAN|POSITIVE -o FILE\n"
             "Makes a file to print in ink; defaults stand in brackets.\n");
    } else if (command == MIL_FOR_TARGET) {
        puts("milori target make [--kind time|ink|tone] -o FILM\n"
             "milori target read SCAN [-o CURVE]\n"
             "Charts to be printed on clear film and in the sun, and their prints read.\n");
    } else if (command == MIL_FOR_TABLET) {
        puts("milori tablet read [--densities LIST|FILE] SCAN...\n"
             "Reads the blue print of a step tablet: exposure scale, paper, deepest blue.\n");
    } else {
        puts("milori measure [--json] [--notes FILE.csv] [CHOICES] SCAN|FOLDER...\n"
             "Says what each sheet is, and what a series tells with your notes. Writes plots\n"
             "alone, and these when asked.\n");
    }
    options_of(command, false);
    if (command != MIL_FOR_POSITIVE && command != MIL_FOR_TABLET) {
        puts(command == MIL_FOR_MEASURE  ? "\nWhat you know of the sheets:"
             : command == MIL_FOR_TARGET ? "\nWhat you know of the scan:"
                                         : "\nHow a scan is made positive:");
        choices_of(command, false);
    }
}
