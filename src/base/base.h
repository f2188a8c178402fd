/* What every room stands on: the context, failures, notes, limits, plain text. */
#ifndef MILORI_BASE_H
#define MILORI_BASE_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "milori/milori.h"

#if defined(__GNUC__)
#define MIL_PRINTF(f, a) __attribute__((format(printf, f, a)))
#else
#define MIL_PRINTF(f, a)
#endif

/* Keeps the first failure and its words (one line; control bytes in it
 * become "?"), returns status so that `return mil_fail(...)` works. */
milori_status mil_fail(milori_context *ctx, milori_status status, const char *format, ...)
    MIL_PRINTF(3, 4);

/* count x size bytes, zeroed; NULL after mil_fail(). Overflow is checked. */
void *mil_alloc(milori_context *ctx, size_t count, size_t size);

/* Charges bytes held for a picture that cannot be streamed against the memory
 * limit before they are allocated; what names the file and reason. */
milori_status mil_charge(milori_context *ctx, size_t bytes, const char *path, const char *why);
void mil_release(milori_context *ctx, size_t bytes);
size_t mil_memory_limit(const milori_context *ctx);
uint64_t mil_pixel_limit(const milori_context *ctx);
/* 1..64 */
int mil_threads(const milori_context *ctx);

/* MILORI_OK, or MILORI_ERR_CANCELLED after mil_fail(). */
milori_status mil_check_cancel(milori_context *ctx);
void mil_progress(milori_context *ctx, double done);

/* Adds a note; a code already there is not added twice with the same text. A
 * lack of memory drops the note. */
void mil_note(milori_notes *notes, const char *code, const char *format, ...) MIL_PRINTF(3, 4);
void mil_notes_free(milori_notes *notes);
bool mil_notes_have(const milori_notes *notes, const char *code);

/* A number in the C locale whatever the process's is; the whole text (but
 * surrounding blanks) must be used and the number finite. */
bool mil_parse_number(const char *text, double *value);
/* The shortest text that reads back as value ("%.17g" at most), C locale. */
void mil_format_number(double value, char *text, size_t size);
/* Bytes of the valid UTF-8 character (RFC 3629) at s and its number; 0 if there is none. */
size_t mil_utf8(const char *s, uint32_t *code);
/* A file name for messages and JSON: valid UTF-8 as it is, other bytes and
 * controls as \xNN; a backslash as \\. A string to free(), or NULL. */
char *mil_printable(const char *name);
/* MILORI_ERR_OPEN with the one line that says that path cannot be opened: error is
 * its errno, and says what to do. */
milori_status mil_fail_open(milori_context *ctx, const char *path, int error);
/* The whole of a small file, most bytes given; fails with one line. buffer gets
 * a NUL after its end. free() it. */
milori_status mil_read_file(milori_context *ctx, const char *path, size_t most, uint8_t **buffer,
                            size_t *size);
char *mil_strdup(milori_context *ctx, const char *text);
/* folder/stem + ending, or folder/stem-number + ending where of is more than 1 (number 0: without).
 * A string to free(). */
char *mil_stem_path(milori_context *ctx, const char *folder, const char *stem, int number, int of,
                    const char *ending);
/* The same, a positive's of that format. */
char *mil_result_path(milori_context *ctx, const char *folder, const char *stem, int number, int of,
                      milori_format format);
/* The format that a file's name ends in, in small or capital letters; false if in none. */
bool mil_format_of_name(const char *path, milori_format *format);
/* MILORI_ERR_ARGUMENT: --option: "text" is to be expected. */
milori_status mil_fail_option(milori_context *ctx, const char *option, const char *text,
                              const char *expected);

#endif
