/* What a seek found, in words and for programs. */
#ifndef LASTWATER_SEEK_ANSWER_H
#define LASTWATER_SEEK_ANSWER_H

#include "io/seek_best.h"
#include "io/seek_target.h"

/* target or best: the one that was sought, the other NULL. False when the stream fails. */
bool seek_answer_print(FILE *to, const seek_runs *s, const seek_target_answer *target, const seek_best_answer *best);

/* *text is allocated, free() it:  format, plan, outcome (met | best | no solution | not settled | runs spent), runs, settings {key: as --set
 * takes it}, figures {path: SI}, and for a target per_unit (change of the figure per unit of the input), for a goal flatness[] (key, step,
 * down, up: change of the goal). What is not known is absent. */
status seek_answer_json(char **text, const seek_runs *s, const seek_target_answer *target, const seek_best_answer *best, message *msg);

#endif
