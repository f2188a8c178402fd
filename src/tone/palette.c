#include "tone/palette_parts.h"

void mil_palette_line(const milori_choices *choices, bool (*holds)(const void *, const double[3]),
                      const void *data, uint32_t count, double (*lab)[3]) {
    mil_palette_path path;
    mil_palette_limit limit;
    mil_palette_path_new(choices, &path);
    mil_palette_limit_new(&path, holds, data, &limit);
    for (uint32_t i = 0; i < count; i++) {
        double at = count > 1 ? (double)i / (count - 1) : 1;
        mil_palette_path_at(&path, at, lab[i]);
        double factor = mil_palette_limit_at(&limit, at);
        lab[i][1] *= factor;
        lab[i][2] *= factor;
    }
}
