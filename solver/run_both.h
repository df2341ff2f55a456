/* A still bath answered both ways.
 *
 * Where the salt of freezing brine goes in a bath at rest is not known: it stays between the ice (`closed`) or sinks away and leaves
 * one strength for all (`mixed`); the two differ in all that matters for drawing the mould. So a rig with such a bath is marched a second time with
 * its salt mixed, up to the stage at whose end the baths are judged, and both answers are reported, the worse first. */
#ifndef LASTWATER_RUN_BOTH_H
#define LASTWATER_RUN_BOTH_H

#include "solver/results.h"

typedef struct run_both run_both;

/* True when some bath asks for both. */
bool run_both_wanted(const rig *r);
/* The second rig and its run; num_stages: how many of the stages it goes through. Borrows r. */
status run_both_create(run_both **out, const rig *r, size_t num_stages, message *msg);
void run_both_destroy(run_both **b); /* NULL-safe */
/* Marches on for a while. *done: nothing is left to march. */
status run_both_advance(run_both *b, bool *done, message *msg);
double run_both_time(const run_both *b);         /* s, of the second run        */
double run_both_frozen_share(const run_both *b); /* of its water, 0..1          */
/* Puts the second answers beside the first, the worse in front. */
void run_both_answer(const run_both *b, results *res);

#endif
