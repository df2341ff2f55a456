/* When to switch off: the earliest moment of the first freeze from which on the plant may stand, and cold stored in brine, ice and mould still ends it.
 *
 * Found by halving: each trial marches the rig from its start with the plant standing from the trial's moment on, and fails as soon as ice melts
 * again, or when the stage's longest time is over. Some eight trials settle it to 1/128 of the freeze; the moment reported is one that was tried
 * and did, so it lies on the safe side. The cost is that of as many runs up to the end of the freeze, and only paid when asked for. */
#ifndef LASTWATER_RUN_SWITCH_OFF_H
#define LASTWATER_RUN_SWITCH_OFF_H

#include "solver/results.h"

typedef struct run_switch_off run_switch_off;

/* True when asked for, and a first freeze cooled by the plant was completed (res: of the run so far). */
bool run_switch_off_wanted(const rig *r, size_t judged, const results *res);
/* Borrows r; judged: index of the stage that is judged (run_parts.h). */
status run_switch_off_create(run_switch_off **out, const rig *r, size_t judged, const results *res, message *msg);
void run_switch_off_destroy(run_switch_off **s); /* NULL-safe */
/* Marches on for a while. *done: settled, run_switch_off_answer has it. */
status run_switch_off_advance(run_switch_off *s, bool *done, message *msg);
switch_off_result run_switch_off_answer(const run_switch_off *s);

#endif
