/* Text that grows piece by piece in room of a given size; what does not fit is cut off. */
#ifndef LASTWATER_SENTENCE_H
#define LASTWATER_SENTENCE_H

#include <stddef.h>

typedef struct {
  char *text; /* borrowed, always ended */
  size_t room, used;
} sentence;

sentence sentence_begin(char *text, size_t room); /* room > 0; empty at first */
void sentence_say(sentence *s, const char *format, ...) __attribute__((format(printf, 2, 3)));

#endif
