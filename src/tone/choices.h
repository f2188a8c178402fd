/* The choices: one table that drives the command's options, their help and JSON. */
#ifndef MILORI_CHOICES_H
#define MILORI_CHOICES_H

#include "base/base.h"

typedef enum mil_choice_kind {
    MIL_CHOICE_WORD,   /* one of values; stored as int: a number's own value, else its place */
    MIL_CHOICE_SWITCH, /* the same, two words, stored as bool */
    MIL_CHOICE_WHOLE,  /* int, low..high */
    MIL_CHOICE_NUMBER, /* double, low..high; NaN where values begin with "auto" */
    MIL_CHOICE_NAME,   /* file name; "" where the text is the first value */
    MIL_CHOICE_CURVE,
    MIL_CHOICE_PALETTE,
    MIL_CHOICE_FRAME,
    MIL_CHOICE_CORNERS,
    MIL_CHOICE_SPOTS
} mil_choice_kind;

typedef struct mil_choice_info {
    const char *name;   /* long option without dashes; JSON key */
    const char *values; /* as help shows them: "auto|N" */
    const char *first;  /* text of the default */
    const char *help;   /* one line */
    mil_choice_kind kind;
    size_t offset; /* of its first field in milori_choices */
    double low, high;
    bool one_sheet; /* true of one sheet only: not passed on to another made like it */
} mil_choice_info;

const mil_choice_info *mil_choice_table(size_t *count);
/* NULL if there is none of that name. */
const mil_choice_info *mil_choice_named(const char *name);
/* What a refusal tells the user to give: "auto or a number from -2 to 8". At most 191 bytes. */
void mil_choice_expects(const mil_choice_info *info, char *text, size_t size);
/* Value of the word of values that text is, or -1. */
int mil_choice_word(const mil_choice_info *info, const char *text);
/* The other way; false if no word has that value. */
bool mil_choice_word_of(const mil_choice_info *info, int value, char *word, size_t size);
/* Whether the choice, as choices hold it, is within its range. */
bool mil_choice_fits(const mil_choice_info *info, const milori_choices *choices);
/* Reads text into choices, its range unchecked. MILORI_ERR_ARGUMENT, and nothing
 * in ctx, if it cannot be read; a failure of a file that it names is in ctx. */
milori_status mil_choice_parse(milori_context *ctx, const mil_choice_info *info, const char *text,
                               milori_choices *choices);
/* Puts corners given round the frame, from any and either way about, into the order that
 * choices hold; false if they are none of a frame: crossed, in line or fallen together. */
bool mil_corners_take(double (*corners)[2]);

/* Every choice in its range, and none at odds with another. */
milori_status mil_choices_check(milori_context *ctx, const milori_choices *choices);
/* MILORI_OK if choices have the size they should. */
milori_status mil_choices_sized(milori_context *ctx, const milori_choices *choices);
/* Bits a sample of the file: depth, with automatic resolved. */
int mil_choices_depth(const milori_choices *choices);
/* Sets what is true of one sheet only to its default. */
void mil_choices_forget_sheet(milori_choices *choices);
/* milori_choices_from_json(), its messages naming name (a file). */
milori_status mil_choices_from_named_json(milori_context *ctx, milori_choices *choices,
                                          const char *json, size_t size, const char *name);

#endif
