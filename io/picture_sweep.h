/* Pictures of a sweep: what each input does to each goal (main effects), two inputs together (pairs), two goals against each other. */
#ifndef LASTWATER_PICTURE_SWEEP_H
#define LASTWATER_PICTURE_SWEEP_H

#include "io/sweep_table.h"

/* Into DIR/pictures: main_effects.png, pairs.png (with two inputs or more), front.png (with two goals). Figures of which fewer than two cases
 * are known, or that are the same everywhere, are left out; without any, nothing is drawn. */
status picture_sweep_draw(const sweep_table *t, const char *directory, message *msg);

#endif
