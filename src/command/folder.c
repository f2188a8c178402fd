#include "command/folder.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "colour/output.h"
#include "scan/source.h"

milori_status mil_refuse_clashes(milori_context *ctx, const mil_batch *batch, const char *folder,
                                 milori_format format) {
    milori_status status = MILORI_OK;
    for (size_t i = 0; i < batch->count && status == MILORI_OK; i++) {
        const mil_entry *entry = &batch->entry[i];
        const mil_entry *clash = mil_result_clash(batch, entry, 0, 1);
        if (clash)
            return mil_fail(ctx, MILORI_ERR_EXISTS,
                            "%s and %s: their positives would have one name; rename one, or use "
                            "two folders",
                            entry->shown, clash->shown);
        char *path = mil_result_path(ctx, folder, entry->stem, 0, 1, format);
        const mil_entry *input = path ? mil_batch_same_file(batch, path) : NULL;
        if (!path)
            status = MILORI_ERR_MEMORY;
        else if (input)
            status = mil_fail(ctx, MILORI_ERR_EXISTS,
                              "%s: the positive of %s would take its place; name another folder",
                              input->shown, entry->shown);
        free(path);
    }
    return status;
}

milori_status mil_refuse_strays(milori_context *ctx, const mil_batch *batch,
                                const milori_choices *choices) {
    if (batch->count < 2 || (!choices->corners_given && !choices->spots))
        return MILORI_OK;
    return mil_fail(ctx, MILORI_ERR_ARGUMENT,
                    "%s: is for one scan, and there are %zu; name the scan that it belongs to",
                    choices->corners_given ? "--corners" : "--unexposed", batch->count);
}

/* Adds who named a file that does not serve, where that is not this command line. */
static void blame(milori_context *ctx, const char *option, const char *like) {
    char *said = mil_strdup(ctx, milori_message(ctx));
    milori_status status = milori_failure(ctx);
    if (!said)
        return;
    milori_clear(ctx);
    mil_fail(ctx, status, "%s; %s names it: put it there, or give --%s yourself", said, like,
             option);
    free(said);
}

/* The digest of a file that choices may name, and a note if it is not the record's. */
static milori_status take_digest(milori_context *ctx, const mil_options *options, const char *path,
                                 const char *what, const char *recorded, char digest[33]) {
    digest[0] = 0;
    milori_status status = path[0] ? mil_file_digest(ctx, path, digest) : MILORI_OK;
    if (status != MILORI_OK || !recorded || !recorded[0] || strcmp(recorded, digest) == 0 ||
        options->quiet)
        return status;
    char *file = mil_printable(path), *like = mil_printable(options->like);
    fprintf(stderr, "%s is not the %s that %s was made with\n", file ? file : "a file", what,
            like ? like : "its like");
    free(file);
    free(like);
    return status;
}

static milori_status take_digests(milori_context *ctx, const mil_options *o, char dodge[33],
                                  char profile[33]) {
    milori_status status = take_digest(ctx, o, o->choices.dodge, "picture",
                                       o->like_dodge ? o->record.dodge : NULL, dodge);
    if (status == MILORI_OK)
        status = take_digest(ctx, o, o->choices.profile, "profile",
                             o->like_profile ? o->record.profile : NULL, profile);
    return status;
}

milori_status mil_files_ready(milori_context *ctx, const mil_options *options, char dodge[33],
                              char profile[33]) {
    const milori_choices *choices = &options->choices;
    mil_output *output = NULL;
    mil_source *picture = NULL;
    milori_notes notes = {0};
    milori_set_memory_limit(ctx, options->memory);
    if (options->pixels)
        milori_set_pixel_limit(ctx, options->pixels);
    milori_status status =
        mil_output_new(ctx, choices->profile, choices->intent, choices->black_point, &output);
    if (status != MILORI_OK && options->like_profile)
        blame(ctx, "profile", options->like);
    if (status == MILORI_OK && choices->dodge[0]) {
        status = mil_source_open(ctx, choices->dodge, &notes, &picture);
        if (status != MILORI_OK && options->like_dodge)
            blame(ctx, "dodge", options->like);
    }
    mil_notes_free(&notes);
    mil_source_close(picture);
    mil_output_free(output);
    return status == MILORI_OK ? take_digests(ctx, options, dodge, profile) : status;
}

static milori_status refuse(milori_context *ctx, const char *folder, const char *why) {
    char *shown = mil_printable(folder);
    mil_fail(ctx, MILORI_ERR_WRITE, "%s: %s; name another folder with -o",
             shown ? shown : "the folder", why);
    free(shown);
    return MILORI_ERR_WRITE;
}

/* The folder that folder would be made in; "." where its name has no other. */
static char *parent_of(milori_context *ctx, const char *folder) {
    char *parent = mil_strdup(ctx, folder);
    if (!parent)
        return NULL;
    size_t end = strlen(parent);
    while (end > 1 && parent[end - 1] == '/')
        end--;
    while (end > 0 && parent[end - 1] != '/')
        end--;
    if (end == 0)
        parent[end++] = '.';
    parent[end] = 0;
    return parent;
}

static milori_status could_make(milori_context *ctx, const char *folder) {
    char *parent = parent_of(ctx, folder);
    if (!parent)
        return MILORI_ERR_MEMORY;
    bool could = access(parent, W_OK | X_OK) == 0;
    free(parent);
    return could ? MILORI_OK : refuse(ctx, folder, "cannot be made here");
}

milori_status mil_folder_ready(milori_context *ctx, const char *folder, bool look_only,
                               bool *made) {
    struct stat st;
    bool there = stat(folder, &st) == 0;
    *made = false;
    if (!there && errno == ENOENT && look_only)
        return could_make(ctx, folder);
    if (!there && errno == ENOENT) {
        if (mkdir(folder, 0777) != 0)
            return refuse(ctx, folder,
                          errno == ENOENT ? "the folder it lies in is not there"
                                          : "the folder cannot be made");
        *made = true;
        there = stat(folder, &st) == 0;
    }
    if (!there)
        return refuse(ctx, folder, errno == ENOTDIR ? "lies in no folder" : "cannot be reached");
    if (!S_ISDIR(st.st_mode))
        return refuse(ctx, folder, "is a file, not a folder");
    if (access(folder, W_OK | X_OK) != 0)
        return refuse(ctx, folder, "the folder cannot be written to");
    return MILORI_OK;
}
