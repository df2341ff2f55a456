/* Water that ice shut in, on a section: where it was when it closed. */
#ifndef LASTWATER_PICTURE_POCKETS_H
#define LASTWATER_PICTURE_POCKETS_H

#include "io/picture_panel.h"
#include "solver/results.h"

/* inside[num_nodes]: 1 in nodes of water that were liquid when a trapped pocket that holds them closed, 0 in other water, NAN elsewhere. */
void picture_pockets_mark(const rig *r, const mesh *m, const results *res, double *inside);
/* The edge of it; field: workspace of the panel's samples. *drawn: is there an edge? None when all water was trapped, as in a closed vessel. */
status picture_pockets_draw(picture_panel *p, const rig *r, const mesh *m, const double *inside, float *field, canvas_pen pen, bool *drawn, message *msg);

#endif
