/* The story of the stages in a few words: how long each took, what it did to the ice. */
#ifndef LASTWATER_SUMMARY_STAGES_H
#define LASTWATER_SUMMARY_STAGES_H

#include "solver/results.h"

enum { SUMMARY_STAGES_TEXT = 1400 };

/* Fills text with one sentence over all stages, or makes it empty when there is one stage only. */
void summary_stages_tell(const results *res, char text[SUMMARY_STAGES_TEXT]);

#endif
