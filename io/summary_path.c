#include "io/summary_path.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/nearest.h"

enum { MOST_KEY = 128, MOST_PATHS = 512, PATH = 160 };

/* The item of a list with that name, or with that number from 1; *used: letters of the path that it takes. */
static const json_t *item_of(const json_t *list, const char *path, size_t *used)
{
  const size_t n = strcspn(path, ".");
  size_t i;
  const json_t *item;
  char *end = NULL;
  *used = n;
  json_array_foreach(list, i, item) {
    const char *name = json_string_value(json_object_get(item, "name"));
    if (name && strlen(name) == n && strncmp(name, path, n) == 0)
      return item;
  }
  const unsigned long number = n && path[0] >= '0' && path[0] <= '9' ? strtoul(path, &end, 10) : 0;
  return end == path + n && number >= 1 ? json_array_get(list, number - 1) : NULL;
}

static const json_t *member_of(const json_t *object, const char *path, size_t *used)
{
  char key[MOST_KEY];
  for (size_t n = strlen(path); n > 0; n--) {
    if ((path[n] && path[n] != '.') || n >= sizeof key)
      continue;
    memcpy(key, path, n);
    key[n] = 0;
    const json_t *found = json_object_get(object, key);
    if (found) {
      *used = n;
      return found;
    }
  }
  return NULL;
}

const json_t *summary_path_find(const json_t *summary, const char *path)
{
  const json_t *at = summary;
  while (at && *path) {
    size_t used = 0;
    at = json_is_array(at) ? item_of(at, path, &used) : json_is_object(at) ? member_of(at, path, &used) : NULL;
    path += used;
    if (at && *path == '.')
      path++;
  }
  return at;
}

double summary_path_number(const json_t *value)
{
  return json_is_number(value) ? json_number_value(value) : json_is_boolean(value) ? (double)json_is_true(value) : NAN;
}

typedef struct {
  char (*paths)[PATH];
  size_t num;
} list;

static void collect(list *l, const json_t *at, const char *before)
{
  const char *key;
  json_t *value;
  if (!json_is_object(at)) {
    if (!json_is_array(at) && l->num < MOST_PATHS)
      (void)snprintf(l->paths[l->num++], PATH, "%s", before);
    return;
  }
  json_object_foreach((json_t *)(size_t)at, key, value) {
    char inner[PATH];
    if (strlen(before) + strlen(key) + 2 < sizeof inner) {
      (void)snprintf(inner, sizeof inner, "%.100s%s%.50s", before, *before ? "." : "", key);
      collect(l, value, inner);
    }
  }
}

int summary_path_nearest(const json_t *summary, const char *path, char *near, size_t size)
{
  list l = {.paths = malloc(MOST_PATHS * sizeof *l.paths)};
  const char **words = malloc(MOST_PATHS * sizeof *words);
  const char *found = NULL;
  if (l.paths && words) {
    collect(&l, summary, "");
    for (size_t i = 0; i < l.num; i++)
      words[i] = l.paths[i];
    found = nearest_word(path, words, l.num);
  }
  (void)snprintf(near, size, "%s", found ? found : "");
  free(words);
  free(l.paths);
  return found != NULL;
}
