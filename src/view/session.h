/* The scans of one sitting at the easel, and what was chosen for them. */
#ifndef MILORI_SESSION_H
#define MILORI_SESSION_H

#include "render/render.h"
#include "view/scan_view.h"

typedef struct mil_session mil_session;

typedef struct mil_session_scan {
    const char *path;  /* of the file */
    const char *shown; /* as messages show it */
    const char *stem;  /* what its positives are called */
} mil_session_scan;

/* scans' strings, folder and first must outlive it. folder is the only place that
 * is written to: a sheet's choices are kept there as they are made, in
 * STEM.choices.json or STEM-NUMBER.choices.json, and taken up again from there;
 * where there are none, first holds. The context's memory limit holds for what is
 * kept for showing. */
milori_status mil_session_new(milori_context *ctx, const mil_session_scan *scans, size_t count,
                              const char *folder, const milori_choices *first,
                              mil_session **session);
void mil_session_free(mil_session *session);
size_t mil_session_count(const mil_session *session);
const mil_session_scan *mil_session_scan_of(const mil_session *session, size_t scan);
const char *mil_session_folder(const mil_session *session);

/* How many sheets the scan holds; reads it if that is not known yet. */
milori_status mil_session_sheets(mil_session *session, size_t scan, int *sheets);
/* The sheet as last measured, as a JSON object (milori-measure(1)); a string to free(). */
milori_status mil_session_measured_json(mil_session *session, size_t scan, int sheet, char **json);
/* px of the upright scan. */
milori_status mil_session_scan_size(mil_session *session, size_t scan, uint32_t *width,
                                    uint32_t *height);

/* What was chosen for a sheet; kept: whether by someone. MILORI_ERR_ARGUMENT if there is no such
 * sheet. */
milori_status mil_session_choices(mil_session *session, size_t scan, int sheet,
                                  milori_choices *choices, bool *kept);
/* Chooses, and keeps it in its file before it returns. */
milori_status mil_session_choose(mil_session *session, size_t scan, int sheet,
                                 const milori_choices *choices);
/* MILORI_ERR_ARGUMENT if choices name a file that first does not: what comes from
 * the page reaches no file that was not named at the start. */
milori_status mil_session_allows(mil_session *session, const milori_choices *choices);

/* A picture wanted of a sheet. */
typedef struct mil_session_wish {
    size_t scan;
    int sheet;
    milori_choices choices; /* measured anew if these say otherwise what the sheet is */
    bool in_part;
    mil_part_rect part; /* px of the positive at scale 1 */
    uint32_t most;      /* px of its longer side; 0: as many as there are, scale 1 */
} mil_session_wish;

/* What a wish came to: places on the palette, until the session's next picture. */
typedef struct mil_session_picture {
    uint32_t width, height;
    const uint16_t *places;
    const mil_plan *plan;
    const mil_separation *separation;
} mil_session_picture;

milori_status mil_session_picture_of(mil_session *session, const mil_session_wish *wish,
                                     mil_session_picture *picture);
/* The plan alone, for its curves. */
milori_status mil_session_plan(mil_session *session, const mil_session_wish *wish,
                               mil_session_picture *picture);
/* The scan itself, as mil_scan_view() shows it; the last few are kept. *view stays
 * the session's. */
milori_status mil_session_scan_view(mil_session *session, size_t scan, const mil_part_rect *part,
                                    uint32_t most, const mil_scan_sight **view);

#endif
