/* The known word closest to a mistyped one. */
#ifndef LASTWATER_NEAREST_H
#define LASTWATER_NEAREST_H

#include <stddef.h>

/* Fewest single-letter changes (insert, drop, replace, swap of neighbours; upper and lower case alike) from a to b,
 * counted up to `most`; more is reported as most + 1. Damerau 1964, restricted form. */
size_t nearest_distance(const char *a, const char *b, size_t most);

/* The closest of num words, or NULL when none is near enough to be meant: one change away; or the one begins with the other; or the typed word is
 * a word of a longer name ("steel" of "mild steel"); or a third of the letters differ, of all or of as many as were typed. Ties: the first. */
const char *nearest_word(const char *typed, const char *const *words, size_t num);

#endif
