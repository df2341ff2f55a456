#include "io/nearest.h"

#include <ctype.h>
#include <stdbool.h>
#include <string.h>

enum { LONGEST = 64 };

static size_t smaller(size_t a, size_t b)
{
  return a < b ? a : b;
}

static bool same(char a, char b)
{
  return tolower((unsigned char)a) == tolower((unsigned char)b) || (strchr("-_ ", a) && strchr("-_ ", b));
}

size_t nearest_distance(const char *a, const char *b, size_t most)
{
  size_t row[3][LONGEST + 1];
  const size_t na = strlen(a), nb = strlen(b);
  if (na > LONGEST || nb > LONGEST)
    return most + 1;
  for (size_t j = 0; j <= nb; j++)
    row[0][j] = j;
  for (size_t i = 1; i <= na; i++) {
    const size_t *before = row[(i + 1) % 3], *above = row[(i - 1) % 3];
    size_t *now = row[i % 3];
    now[0] = i;
    for (size_t j = 1; j <= nb; j++) {
      now[j] = smaller(smaller(above[j], now[j - 1]) + 1, above[j - 1] + !same(a[i - 1], b[j - 1]));
      if (i > 1 && j > 1 && same(a[i - 1], b[j - 2]) && same(a[i - 2], b[j - 1]))
        now[j] = smaller(now[j], before[j - 2] + 1);
    }
  }
  const size_t found = row[na % 3][nb];
  return found <= most ? found : most + 1;
}

/* One begins with the other, and enough of it to be told apart: "temp" means "temperature". */
static bool begins(const char *a, const char *b)
{
  const size_t n = smaller(strlen(a), strlen(b));
  if (n < 3)
    return false;
  for (size_t i = 0; i < n; i++)
    if (!same(a[i], b[i]))
      return false;
  return true;
}

const char *nearest_word(const char *typed, const char *const *words, size_t num)
{
  const size_t letters = strlen(typed), most = letters < 6 ? (letters < 3 ? 1 : 2) : letters / 3;
  const char *best = NULL;
  size_t least = most + 1;
  for (size_t i = 0; i < num; i++) {
    const size_t d = nearest_distance(typed, words[i], most);
    if (d < least && d < strlen(words[i])) {
      least = d;
      best = words[i];
    }
  }
  for (size_t i = 0; !best && i < num; i++)
    if (begins(typed, words[i]))
      best = words[i];
  return best;
}
