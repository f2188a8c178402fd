/* A series of sheets with the photographer's notes: what they say together. */
#ifndef MILORI_SERIES_H
#define MILORI_SERIES_H

#include <stdio.h>

#include "view/notes_file.h"

/* One sheet of the series. */
typedef struct mil_series_sheet {
    char *path; /* of its scan */
    char *own;  /* the same with "-2" before the extension, where the scan holds several */
    char *name; /* own without its folder, as messages show it */
    const mil_noted *noted; /* NULL: none */
    int light;              /* of mil_series.light; -1: not noted, or without minutes */
    milori_sheet sheet;
    milori_value apart; /* stops of light that its blue shows above the shortest one in its light */
    milori_value next;  /* stops to what is called right: from the sheets in its light together
                           where there are two, else its own */
} mil_series_sheet;

/* The sheets in one light that have minutes and a strength. Their strengths are taken to follow
 *   strength = most * (1 - exp(-rate * minutes / most)),
 * which grows in proportion to time while it is small. */
typedef struct mil_series_light {
    const char *name;
    size_t count;
    double shortest, longest; /* minutes */
    double most, rate;        /* K/S; K/S a minute */
    double scatter;           /* stops: standard deviation of one sheet from that, >= 0.1 */
    milori_value right; /* minutes of the exposure called right; sigma in stops; NaN unknown */
} mil_series_light;

typedef struct mil_series {
    const mil_notes_file *notes;
    size_t count, lights;
    mil_series_sheet *sheet;
    mil_series_light *light;
} mil_series;

/* Adds a sheet of the scan at path; number and of are the sheet's own. */
milori_status mil_series_add(milori_context *ctx, mil_series *series, const char *path,
                             const milori_sheet *sheet);
/* Finds each sheet's notes: those that fit its file best, or name its sheet as its positive is
 * called ("beds-2"). What fits nothing, or several alike, is said in said, a line each. */
milori_status mil_series_match(milori_context *ctx, mil_series *series, milori_notes *said);
/* Finds the lights and what the sheets in each say together. */
milori_status mil_series_relate(milori_context *ctx, mil_series *series);
/* Strength that the light's relation gives for minutes. */
double mil_series_strength(const mil_series_light *light, double minutes);
void mil_series_free(mil_series *series);

/* The table and a sentence a light (series_table.c). */
void mil_series_table(FILE *out, const mil_series *series);
/* "sheets" and "lights" as one JSON object; milori-measure(1) defines the keys. A string to free()
 * (series_json.c). */
milori_status mil_series_json(milori_context *ctx, const mil_series *series, char **json);
/* MILORI_ERR_EXISTS if one of the plots' names is taken in folder. */
milori_status mil_series_plots_vacant(milori_context *ctx, const char *folder);
/* Fog against age, range and depth against minutes, SVG files in folder (series_plots.c). said: a
 * line for each plot that there is nothing to draw for. */
milori_status mil_series_plots(milori_context *ctx, const mil_series *series, const char *folder,
                               bool replace, milori_notes *said);

#endif
