/* What a session holds; for the files session*.c alone. */
#ifndef MILORI_SESSION_PRIVATE_H
#define MILORI_SESSION_PRIVATE_H

#include "render/hold.h"
#include "render/scan.h"
#include "view/session.h"

/* A sheet's choices. */
typedef struct mil_sitting {
    bool read, kept; /* its file has been looked for; there is one */
    milori_choices choices;
} mil_sitting;

typedef struct mil_easel_scan {
    mil_session_scan names;
    milori_scan *scan; /* NULL: not open */
    bool measured;
    milori_choices sheet_of; /* that it was measured with */
    int sheets;              /* 0 unknown */
    mil_sitting *sitting;    /* sheets */
} mil_easel_scan;

/* Amounts kept, and of what. */
typedef struct mil_kept_view {
    size_t scan;
    int sheet;
    bool in_part;
    mil_part_rect part;
    double scale;
    mil_held *held;
    uint64_t used;
} mil_kept_view;

typedef struct mil_kept_scan_view {
    size_t scan;
    bool in_part;
    mil_part_rect part;
    uint32_t most;
    mil_scan_sight view;
    uint64_t used;
} mil_kept_scan_view;

/* A ring and its middle, two sets side by side, a window at full scale; pages of a folder. */
enum { MIL_VIEWS = 12, MIL_SCAN_VIEWS = 6, MIL_OPEN_SCANS = 4 };

struct mil_session {
    milori_context *ctx;
    const char *folder;
    const milori_choices *first;
    size_t count;
    mil_easel_scan *scan;
    uint64_t clock;   /* of uses */
    uint64_t *opened; /* count: when each scan was last wanted */
    mil_kept_view view[MIL_VIEWS];
    mil_kept_scan_view scan_view[MIL_SCAN_VIEWS];
    size_t plan_scan; /* the plan last used, and of what */
    int plan_sheet;
    mil_plan *plan;
    uint16_t *places;
    size_t places_size;
};

/* The scan open, and its sheets known. */
milori_status mil_session_open(mil_session *session, size_t scan);
/* The same as choices say what it is: measured anew if need be. */
milori_status mil_session_measured(mil_session *session, size_t scan,
                                   const milori_choices *choices);
/* Drops what was made of a scan. */
void mil_session_forget(mil_session *session, size_t scan);
/* The sheet's own, read from its file at first. MILORI_ERR_ARGUMENT for none. */
milori_status mil_session_sitting(mil_session *session, size_t scan, int sheet,
                                  mil_sitting **sitting);

#endif
