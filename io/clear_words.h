/* Clear and white ice in sentences: how much and what can be sawn out, what to do about it, where the white is and how fast it grew. */
#ifndef LASTWATER_CLEAR_WORDS_H
#define LASTWATER_CLEAR_WORDS_H

#include "solver/results.h"

enum { CLEAR_WORDS = 900 };

/* Each fills text, or makes it empty when there is nothing to say. b->clear.present. */
void clear_words_shares(const body_result *b, bool revolved, char text[CLEAR_WORDS]);
/* When to stop and pour off, whether fresh water in the core pays, what minerals do. */
void clear_words_advice(const body_result *b, char text[CLEAR_WORDS]);
/* Where the white ice lies, and how fast the ice grew against what would have stayed clear. */
void clear_words_place(const body_result *b, bool revolved, char text[CLEAR_WORDS]);
/* What a look through the block shows. */
void clear_words_view(const body_result *b, bool revolved, char text[CLEAR_WORDS]);

/* "180 mm across, 50 mm high" or "160 x 5 x 152 mm". */
void clear_words_piece(const clear_result *c, bool revolved, char text[CLEAR_WORDS]);
/* Does exchanging the core water make at least two hundredths more of the ice clear? */
bool clear_words_exchange_pays(const clear_result *c);

#endif
