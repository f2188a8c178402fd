/* Many pictures small on one page, their names below them. */
#ifndef MILORI_CONTACT_SHEET_H
#define MILORI_CONTACT_SHEET_H

#include "draw/canvas.h"
#include "print/layout.h"
#include "print/picture.h"

typedef struct mil_contact mil_contact;

/* A page for about expected pictures: more may come. wish: its paper, margins and
 * dpi. output, which everything is printed through, must outlive it. */
milori_status mil_contact_new(milori_context *ctx, const mil_layout_wish *wish,
                              const mil_output *output, size_t expected, mil_contact **contact);
/* The next picture, as mil_picture_take() has set it; it is not needed afterwards. */
milori_status mil_contact_add(mil_contact *contact, mil_picture *picture, const char *name);
size_t mil_contact_count(const mil_contact *contact);
/* The page, in the output's codes. MILORI_ERR_ARGUMENT if there are too many. */
milori_status mil_contact_draw(mil_contact *contact, mil_canvas **canvas);
void mil_contact_free(mil_contact *contact);

#endif
