/* The `band` of a summary: the same tree, every figure as [low, middle, high].
 *
 *   band.FIGURE       [low, middle, high] of every number that all runs know (freeze, last_liquid, clear, bath, plant, ledger, release, melt,
 *                     bodies[], baths[]); nine of ten lie between low and high; the middle is the run itself
 *   band.words        a word or yes-or-no that came out differently in some run: path, and what came out
 *   band.inputs[]     key, from_to, source (absent: the case's own spread), and what the lead figure is at its ends, share of its variance
 *   band.lead         path of the figure by which inputs are ordered: freeze.time_s, or the first that is known
 *   band.matters_most the three inputs that bring most of its variance
 *   band.left_out[]   inputs whose runs failed, or that came after the 32nd */
#ifndef LASTWATER_BAND_TREE_H
#define LASTWATER_BAND_TREE_H

#include <jansson.h>

#include "io/band_inputs.h"

/* runs: summaries; [2 i] and [2 i + 1] are input i at its low and high end, NULL where a run failed (low of a `two`: never looked at).
 * *out is owned by the caller. */
status band_tree_make(json_t **out, const json_t *middle, json_t *const *runs, const band_inputs *inputs, message *msg);

/* The band in sentences; allocated, free() it. */
status band_tree_words(char **text, const json_t *band, message *msg);

#endif
