#include "command/progress.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

#define BAR_CELLS 20

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static int columns(void) {
    struct winsize size;
    if (ioctl(STDERR_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0)
        return size.ws_col;
    return 80;
}

void mil_bar_open(mil_bar *bar, size_t count, bool wanted) {
    memset(bar, 0, sizeof *bar);
    bar->count = count;
    if (!wanted || count == 0 || !isatty(STDERR_FILENO))
        return;
    bar->done = calloc(count, sizeof *bar->done);
    bar->on = bar->done != NULL;
    bar->started = now();
}

static void time_left(const mil_bar *bar, char *text, size_t size) {
    double gone = now() - bar->started, part = bar->sum / (double)bar->count;
    text[0] = 0;
    if (gone < 2 || part < 0.01)
        return;
    double left = gone * (1 - part) / part;
    if (left < 60)
        snprintf(text, size, ", %.0f s left", left);
    else
        snprintf(text, size, ", %.0f min left", left / 60);
}

/* Bytes of name that fill at most room columns (a character is taken as one). */
static int fit(const char *name, int room) {
    int bytes = 0;
    for (int seen = 0; name[bytes]; bytes++) {
        bool starts = ((unsigned char)name[bytes] & 0xc0) != 0x80;
        if (starts && seen++ >= room)
            break;
    }
    return bytes;
}

static void draw(mil_bar *bar, const char *name) {
    char cells[BAR_CELLS + 1], count[48], left[48];
    double part = bar->sum / (double)bar->count;
    for (int i = 0; i < BAR_CELLS; i++)
        cells[i] = i < (int)(part * BAR_CELLS + 0.5) ? '#' : '.';
    cells[BAR_CELLS] = 0;
    size_t at = bar->ended < bar->count ? bar->ended + 1 : bar->count;
    snprintf(count, sizeof count, "%zu/%zu", at, bar->count);
    time_left(bar, left, sizeof left);
    int room = columns() - 1 - BAR_CELLS - 4 - (int)strlen(count) - (int)strlen(left);
    /* Back to the start of the line, the bar, then clear to its end. */
    fprintf(stderr, "\r[%s] %s %.*s%s\033[K", cells, count, room > 0 ? fit(name, room) : 0, name,
            room > 0 ? left : "");
    fflush(stderr);
    bar->visible = true;
    bar->drawn = now();
}

void mil_bar_tell(mil_bar *bar, size_t index, const char *name, double done) {
    if (!bar->on)
        return;
    double step = done - bar->done[index];
    if (step > 0) {
        bar->done[index] = done;
        bar->sum += step;
    }
    if (!bar->visible || now() - bar->drawn > 0.1)
        draw(bar, name);
}

void mil_bar_ended(mil_bar *bar, size_t index) {
    bar->ended++;
    if (bar->on) {
        bar->sum += 1 - bar->done[index];
        bar->done[index] = 1;
    }
}

void mil_bar_hide(mil_bar *bar) {
    if (!bar->visible)
        return;
    fputs("\r\033[K", stderr);
    fflush(stderr);
    bar->visible = false;
}

void mil_bar_close(mil_bar *bar) {
    mil_bar_hide(bar);
    free(bar->done);
    memset(bar, 0, sizeof *bar);
}
