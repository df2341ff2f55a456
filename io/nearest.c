#include "io/nearest.h"

#include <ctype.h>
#include <stdbool.h>
#include <stdio.h>
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

/* `word` stands in `name` as a word of its own. */
static bool holds_word(const char *name, const char *word)
{
  const size_t n = strlen(word);
  for (const char *at = name; n >= 3 && *at; at++) {
    size_t alike = 0;
    while (alike < n && at[alike] && same(at[alike], word[alike]))
      alike++;
    if (alike == n && (at == name || at[-1] == ' ') && (at[n] == '\0' || at[n] == ' '))
      return true;
  }
  return false;
}

/* The first of the words with the fewest changes, at most `most`; `by_beginning`: to as many of its letters as were typed. */
static const char *fewest_changes(const char *typed, const char *const *words, size_t num, size_t most, bool by_beginning)
{
  const char *best = NULL;
  size_t least = most + 1;
  for (size_t i = 0; i < num; i++) {
    char beginning[LONGEST + 1];
    (void)snprintf(beginning, sizeof beginning, "%.*s", by_beginning ? (int)smaller(strlen(typed), LONGEST) : LONGEST, words[i]);
    const size_t d = nearest_distance(typed, beginning, most);
    if (d < least && d < strlen(words[i])) {
      least = d;
      best = words[i];
    }
  }
  return best;
}

static const char *first_that(bool (*fits)(const char *word, const char *typed), const char *typed, const char *const *words, size_t num)
{
  for (size_t i = 0; i < num; i++)
    if (fits(words[i], typed))
      return words[i];
  return NULL;
}

const char *nearest_word(const char *typed, const char *const *words, size_t num)
{
  const size_t letters = strlen(typed), most = letters < 6 ? (letters < 3 ? 1 : 2) : letters / 3;
  const char *best = fewest_changes(typed, words, num, 1, false);
  best = best ? best : first_that(begins, typed, words, num);
  best = best ? best : first_that(holds_word, typed, words, num);
  best = best ? best : fewest_changes(typed, words, num, most, false);
  return best || letters < 6 ? best : fewest_changes(typed, words, num, most, true);
}
