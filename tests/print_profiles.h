/* Printer profiles made by argyll, since Debian has none: from FOGRA's
 * characterisation data (icc-profiles-free), and of a made RGB printer. */
#ifndef TEST_PRINT_PROFILES_H
#define TEST_PRINT_PROFILES_H

#include <math.h>

#include "temp_folder.h"

/* A path in the folder; one of a few buffers in turn. */
static inline const char *made_path(const char *name) {
    static char paths[4][256];
    static int turn;
    char *path = paths[turn++ % 4];
    snprintf(path, sizeof paths[0], "%s/%s", folder, name);
    return path;
}

/* number 29: FOGRA29L.ti3, uncoated, becomes 29.icc in the folder. */
static inline int make_fogra(int number) {
    char command[400];
    snprintf(command, sizeof command,
             "cd '%s' && cp /usr/share/color/icc/FOGRA%dL.ti3 %d.ti3 && "
             "colprof -ql -b -D 'FOGRA%d by argyll' %d >/dev/null 2>&1",
             folder, number, number, number, number);
    return system(command);
}

/* CIELAB, absolute, of the made RGB printer on its matt paper: black L* 20,
 * paper L* 96. */
static inline void rag_lab(const double rgb[3], double lab[3]) {
    lab[0] = 20 + 76 * (.3 * rgb[0] + .6 * rgb[1] + .1 * rgb[2]);
    lab[1] = 60 * (rgb[0] - rgb[1]);
    lab[2] = 1.5 + 45 * (rgb[1] - rgb[2]);
}

/* rag.icc in the folder. */
static inline int make_rag(void) {
    char command[200];
    FILE *file = fopen(made_path("rag.ti3"), "w");
    if (!file)
        return -1;
    fprintf(file, "CTI3\n\nDESCRIPTOR \"matt rag\"\nKEYWORD \"DEVICE_CLASS\"\n"
                  "DEVICE_CLASS \"OUTPUT\"\nKEYWORD \"COLOR_REP\"\nCOLOR_REP \"RGB_LAB\"\n\n"
                  "NUMBER_OF_FIELDS 7\nBEGIN_DATA_FORMAT\n"
                  "SAMPLE_ID RGB_R RGB_G RGB_B LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n\n"
                  "NUMBER_OF_SETS 216\nBEGIN_DATA\n");
    for (int i = 0; i < 216; i++) {
        const double rgb[3] = {i / 36 / 5., i / 6 % 6 / 5., i % 6 / 5.};
        double lab[3];
        rag_lab(rgb, lab);
        fprintf(file, "%d %g %g %g %.4f %.4f %.4f\n", i + 1, 100 * rgb[0], 100 * rgb[1],
                100 * rgb[2], lab[0], lab[1], lab[2]);
    }
    fprintf(file, "END_DATA\n");
    if (fclose(file) != 0)
        return -1;
    snprintf(command, sizeof command, "cd '%s' && colprof -ql -b -D 'matt rag' rag >/dev/null 2>&1",
             folder);
    return system(command);
}

typedef struct fogra_patch {
    double inks[4]; /* per cent */
    double lab[3];  /* absolute */
} fogra_patch;

/* The patches of a .ti3 file of Debian's; how many. */
static inline int read_fogra(int number, fogra_patch patches[], int most) {
    char name[64], line[400];
    snprintf(name, sizeof name, "/usr/share/color/icc/FOGRA%dL.ti3", number);
    FILE *file = fopen(name, "r");
    int count = 0;
    while (file && count < most && fgets(line, sizeof line, file)) {
        fogra_patch *p = &patches[count];
        if (sscanf(line, "%*d %lf %lf %lf %lf %*f %*f %*f %lf %lf %lf", p->inks, p->inks + 1,
                   p->inks + 2, p->inks + 3, p->lab, p->lab + 1, p->lab + 2) == 7)
            count++;
    }
    if (file)
        fclose(file);
    return count;
}

#endif
