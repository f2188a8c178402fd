/* milori: positives from scans of in-camera cyanotype paper negatives.
 *
 * Conventions, everywhere in this header:
 *  - Lengths are mm or px as the name ends. A point in px is (x right, y down)
 *    in the upright scan (its orientation tag applied); (0, 0) is the outer
 *    corner of the first pixel, so pixel (i, j) covers [i, i+1) x [j, j+1).
 *  - Densities are decadic, D = -log10 R (ISO 5-4 geometry is the scanner's).
 *  - Stops are factors of two of the scene's light; + is lighter.
 *  - Functions that can fail return a milori_status; the context then holds the
 *    first cause in words. A later failure does not hide it.
 *  - A context, and a scan opened with it, belong to one thread at a time. Plain
 *    structs may be read by any number of threads.
 */
#ifndef MILORI_H
#define MILORI_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#if defined(__GNUC__)
#define MILORI_API __attribute__((visibility("default")))
#else
#define MILORI_API
#endif

/* What went wrong, coarsely; the words are in milori_message(). */
typedef enum milori_status {
    MILORI_OK = 0,
    MILORI_ERR_ARGUMENT,    /* a choice or argument out of its range */
    MILORI_ERR_MEMORY,      /* the system gave no memory */
    MILORI_ERR_LIMIT,       /* a limit of the context would be passed */
    MILORI_ERR_OPEN,        /* a file cannot be opened or read */
    MILORI_ERR_FORMAT,      /* not a TIFF, PNG or JPEG, or not what was needed */
    MILORI_ERR_UNSUPPORTED, /* a real file of a kind milori does not read */
    MILORI_ERR_DAMAGED,     /* cut off or broken inside */
    MILORI_ERR_PROFILE,     /* an ICC profile that cannot be used */
    MILORI_ERR_SHEET,       /* no sheet or frame where one is needed */
    MILORI_ERR_WRITE,       /* the output cannot be written */
    MILORI_ERR_EXISTS,      /* the output is there, or is the input */
    MILORI_ERR_CANCELLED    /* the caller asked to stop */
} milori_status;

/* ---- context ------------------------------------------------------------ */

typedef struct milori_context milori_context;

/* A new context, or NULL without memory. */
MILORI_API milori_context *milori_context_new(void);
MILORI_API void milori_context_free(milori_context *context);

/* Most bytes that pictures which cannot be streamed may take (default 1 GiB). */
MILORI_API void milori_set_memory_limit(milori_context *context, size_t bytes);
/* Most pixels a scan may have (default 2^31). */
MILORI_API void milori_set_pixel_limit(milori_context *context, uint64_t pixels);
/* Threads to use in one rendering: 1 to 64; 0 means one per processor. The
 * result does not depend on it. */
MILORI_API void milori_set_threads(milori_context *context, int threads);
/* Asked between bands of rows; true stops the work with MILORI_ERR_CANCELLED. */
MILORI_API void milori_set_cancel(milori_context *context, bool (*asked)(void *), void *data);
/* Told between bands of rows; done runs from 0 to 1 over one scan's work. */
MILORI_API void milori_set_progress(milori_context *context, void (*tell)(double done, void *),
                                    void *data);

/* The first failure since the last clear; MILORI_OK if none. */
MILORI_API milori_status milori_failure(const milori_context *context);
/* One line: the file, what is wrong, what to do. "" if nothing failed. Lives
 * until the next call with this context. */
MILORI_API const char *milori_message(const milori_context *context);
/* Forget a failure, so that the next file can be tried. */
MILORI_API void milori_clear(milori_context *context);

/* milori's version, "1.2.3". */
MILORI_API const char *milori_version(void);

/* ---- notes -------------------------------------------------------------- */

/* Something the user should know and that is not an error. code is one lower
 * case word or two joined by "-", stable between versions; text is a line. */
typedef struct milori_note {
    char code[24];
    char *text;
} milori_note;

typedef struct milori_notes {
    size_t count;
    milori_note *note;
} milori_notes;

/* ---- choices ------------------------------------------------------------ */

typedef enum milori_format {
    MILORI_TIFF = 0,
    MILORI_PNG,
    MILORI_JPEG,
    MILORI_PDF /* of prints; not a choice for positives */
} milori_format;
typedef enum milori_palette {
    MILORI_NEUTRAL = 0,
    MILORI_AMBER,
    MILORI_BLUE,
    MILORI_PALETTE_FILE
} milori_palette;
typedef enum milori_intent {
    MILORI_PERCEPTUAL = 0,
    MILORI_RELATIVE,
    MILORI_SATURATION,
    MILORI_ABSOLUTE
} milori_intent;
typedef enum milori_shape { MILORI_SHAPE_AUTO = 0, MILORI_RECTANGLE, MILORI_ROUND } milori_shape;
typedef enum milori_sun { MILORI_SUN_BLACK = 0, MILORI_SUN_WHITE } milori_sun;

#define MILORI_PATH_MAX 4096
#define MILORI_CURVE_MAX 64
#define MILORI_PALETTE_MAX 64
#define MILORI_SPOT_MAX 8

/* A place on a palette's line. */
typedef struct milori_palette_stop {
    double at;      /* 0 the darkest tone .. 1 the lightest */
    double L, a, b; /* CIELAB, D50 */
} milori_palette_stop;

/* All that the user may choose about a positive. Plain data: copy it freely.
 * NaN stands for "automatic" where a comment says so. The names and texts of
 * the choices are those of the command's long options; milori_choice_set() is
 * the one parser. Start from milori_choices_default(). */
typedef struct milori_choices {
    size_t struct_size; /* sizeof(milori_choices) of the caller */

    /* the file written */
    milori_format format;          /* tiff */
    int depth;                     /* 8 or 16; 0 automatic: 16, or 8 for JPEG */
    int quality;                   /* JPEG, 1..100; 95 */
    char profile[MILORI_PATH_MAX]; /* ICC file of the output; "" is sRGB */
    milori_intent intent;          /* relative */
    bool black_point;              /* black point compensation; true */

    /* the tones */
    double stops;          /* + lighter, - darker; 0; -10..10 */
    double grade;          /* 0 very soft .. 5 extra hard, -2..8 accepted; NaN automatic */
    double soften_shadows; /* 0 runs out as the paper grade does .. 1 most gently; 0 */
    double soften_lights;  /* the same at the light end; 0 */
    double veil;           /* evenly spread light taken off, per cent of the sheet's range,
                              0..95; NaN automatic */
    size_t curve_points;   /* 0: no curve of the user's own */
    double curve[MILORI_CURVE_MAX][2]; /* tone in, tone out, 0..1 each; in rising */
    char dodge[MILORI_PATH_MAX];       /* grey picture over the frame; "" none */
    double dodge_stops; /* what white of that picture adds and black takes, in stops; 1 */

    /* the colours */
    milori_palette palette; /* neutral */
    char palette_name[MILORI_PATH_MAX];
    size_t palette_stops; /* of a palette of the user's own */
    milori_palette_stop palette_stop[MILORI_PALETTE_MAX];

    /* the sheet */
    milori_sun sun;          /* black */
    bool as_scanned;         /* false: lateral reversal undone, reads right */
    int turn;                /* clockwise, 0 90 180 270 */
    double dpi;              /* NaN: as the scan says */
    milori_shape shape;      /* auto */
    double frame_mm[2];      /* width, height of the camera's gate; NaN automatic */
    bool whole_sheet;        /* true: do not crop to the frame but to the sheet */
    bool corners_given;      /* the frame's corners, for one sheet of one scan */
    double corners_px[4][2]; /* clockwise from the one nearest the top left */
    size_t spots;            /* places that should be unexposed */
    double spot_px[MILORI_SPOT_MAX][2];
} milori_choices;

MILORI_API void milori_choices_default(milori_choices *choices);
/* Sets one choice from its text, as the command's option of that name would.
 * MILORI_ERR_ARGUMENT names the choice and its range. A file named by palette
 * or curve is read at once. */
MILORI_API milori_status milori_choice_set(milori_context *context, milori_choices *choices,
                                           const char *name, const char *text);
/* Choices as JSON: every choice, one key per name; a string to free(). */
MILORI_API milori_status milori_choices_to_json(milori_context *context,
                                                const milori_choices *choices, char **json);
/* Takes every key the JSON object holds; others keep their value. Unknown or
 * doubled keys are refused. */
MILORI_API milori_status milori_choices_from_json(milori_context *context, milori_choices *choices,
                                                  const char *json, size_t size);

/* ---- the sheet ---------------------------------------------------------- */

typedef enum milori_origin { MILORI_FOUND = 0, MILORI_ASSUMED, MILORI_GIVEN } milori_origin;

/* A value, its standard uncertainty (NaN if unknown) and where it is from. */
typedef struct milori_value {
    double value;
    double sigma;
    milori_origin origin;
} milori_value;

/* How tarnished a sheet was, by the part of its fog that is beyond its uncertainty. */
typedef enum milori_tarnish {
    MILORI_TARNISH_UNKNOWN = 0,
    MILORI_FRESH,           /* under 0.06 of red density */
    MILORI_SLIGHTLY_FOGGED, /* from there */
    MILORI_CLEARLY_FOGGED   /* from 0.10 */
} milori_tarnish;

/* How much light a sheet had, by its light tones: see milori-measure(1) for the limits. */
typedef enum milori_exposure {
    MILORI_EXPOSURE_UNKNOWN = 0,
    MILORI_EXPOSURE_SHORT,
    MILORI_EXPOSURE_RIGHT,
    MILORI_EXPOSURE_LONG
} milori_exposure;

/* What one sheet is, as its scan shows it. */
typedef struct milori_sheet {
    int number, of;          /* 1-based, among the sheets of its scan */
    double outline_px[4][2]; /* the cut paper, clockwise from nearest the top left */
    milori_origin outline_origin;
    milori_shape shape;     /* MILORI_RECTANGLE or MILORI_ROUND */
    double frame_px[4][2];  /* the frame; of a round one its bounding square */
    double frame_mm[2];     /* width, height */
    double corner_sigma_mm; /* standard uncertainty of a corner */
    int sides_found;        /* 0..4 sides seen, the others assumed */
    milori_origin frame_origin;
    char frame_name[24];   /* nearest known size, "6x6"; "" none */
    milori_value tilt_deg; /* of the frame, clockwise positive on the upright scan */

    milori_value base_density[3]; /* margin: base + fog + stain, red green blue (grey: all equal) */
    milori_value fog;    /* margin: red density above a clear coat's, assumed 0.06 above bare paper
                            (and that 0.04 where none shows: then assumed) */
    milori_value stain;  /* margin: blue density above bare paper, or NaN */
    milori_value range;  /* frame: log10 of light's amount over dark's amount (see man page) */
    milori_value noise;  /* frame: grain of the amount, as a fraction of the light tones' amount */
    double sun_fraction; /* of the frame's area that is sun reversal, 0..1 */
    double veil;         /* taken off, per cent of the range of amounts */
    double grade;        /* used */
    double stops;        /* automatic part of stops */

    /* What the sheet tells its maker; milori-measure(1) has the definitions. */
    milori_value strength;   /* frame: how deep the light tones are, K/S above the unexposed coat in
                                the dye's band (Kubelka and Munk 1931); in proportion to the light
                                while small; > 0, NaN unknown */
    milori_value most;       /* the strength at which the coat's dye would be used up; assumed
                                where its yellow does not tell */
    milori_value tones;      /* frame: how many tones stand apart from the grain, seen over 0.1 mm;
                                >= 1, NaN unknown */
    milori_value uneven;     /* margin and frame: deviation of the coat's thickness, per cent of
                                it; NaN of a grey scan */
    milori_value next_stops; /* from the light the sheet had to what is called right; + more light;
                                NaN unknown, or of a grey scan */
    milori_tarnish tarnish; /* unknown of a grey scan, one without margin, or of stretched levels */
    milori_exposure exposure; /* unknown of a grey scan, or of stretched levels */
} milori_sheet;

/* ---- one scan, from file to positives ------------------------------------ */

typedef struct milori_scan milori_scan;

/* Facts of a scan's file. Strings live as long as the scan. */
typedef struct milori_scan_facts {
    const char *path;
    uint32_t width, height; /* px, upright */
    int bits;               /* a sample, as stored */
    int channels;           /* 1 or 3 */
    double dpi;             /* 0 if the file gives none and none was chosen */
    const char *profile;    /* the profile's own description, or "sRGB (assumed)" */
    int sheets;             /* 0 before milori_scan_measure() */
} milori_scan_facts;

/* Opens a scan for reading, never for writing. */
MILORI_API milori_status milori_scan_open(milori_context *context, const char *path,
                                          milori_scan **scan);
/* Reads every row once and finds the sheets. choices may be NULL. */
MILORI_API milori_status milori_scan_measure(milori_scan *scan, const milori_choices *choices);
MILORI_API const milori_scan_facts *milori_scan_facts_of(const milori_scan *scan);
/* Sheet 0 .. sheets-1, or NULL. */
MILORI_API const milori_sheet *milori_scan_sheet(const milori_scan *scan, int index);
/* What to know about the scan (index -1) or one sheet. */
MILORI_API const milori_notes *milori_scan_notes(const milori_scan *scan, int index);
/* Writes one sheet's positive under path: whole, or not at all. The choices that say what the
 * sheet is (dpi, shape, frame_mm, corners, spots) must be those it was measured with. A file that
 * is there already is replaced only if replace is true. The packet embedded says how it was made.
 */
MILORI_API milori_status milori_scan_positive(milori_scan *scan, int index,
                                              const milori_choices *choices, const char *path,
                                              bool replace);
/* One sheet as a JSON object, as `milori measure --json` prints it; milori(1) and
 * milori-measure(1) define every key. A string to free(). */
MILORI_API milori_status milori_scan_sheet_json(milori_scan *scan, int index, char **json);
/* Size in px of the positive that choices would give. */
MILORI_API milori_status milori_scan_positive_size(milori_scan *scan, int index,
                                                   const milori_choices *choices, uint32_t *width,
                                                   uint32_t *height);
MILORI_API void milori_scan_close(milori_scan *scan);

#ifdef __cplusplus
}
#endif
#endif
