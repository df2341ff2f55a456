#include "io/sentence.h"

#include <stdarg.h>
#include <stdio.h>

sentence sentence_begin(char *text, size_t room)
{
  text[0] = '\0';
  return (sentence){.text = text, .room = room};
}

void sentence_say(sentence *s, const char *format, ...)
{
  va_list args;
  va_start(args, format);
  const int more = vsnprintf(s->text + s->used, s->room - s->used, format, args);
  va_end(args);
  if (more > 0)
    s->used = s->used + (size_t)more < s->room ? s->used + (size_t)more : s->room - 1;
}
