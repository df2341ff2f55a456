#include "io/fault.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_KEPT = 200, SENTENCE = 512 };

typedef struct {
  fault_place at;
  size_t order;
  char text[SENTENCE];
} entry;

typedef struct {
  size_t num, kept;
  entry *entries; /* [MOST_KEPT], allocated at first use */
} entries;

struct fault_list {
  const char *file;
  entries faults, notes;
  bool lost;
};

status fault_list_create(fault_list **out, const char *file, message *msg)
{
  fault_list *f = calloc(1, sizeof *f);
  if (!f)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the list of faults", sizeof *f);
  f->file = file;
  *out = f;
  return STATUS_OK;
}

void fault_list_destroy(fault_list **faults)
{
  if (!*faults)
    return;
  free((*faults)->faults.entries);
  free((*faults)->notes.entries);
  free(*faults);
  *faults = NULL;
}

static bool same_entry(const entry *a, const entry *b)
{
  return a->at.line == b->at.line && a->at.column == b->at.column && a->at.origin == b->at.origin && strcmp(a->text, b->text) == 0;
}

static void add(fault_list *f, entries *to, fault_place at, const char *format, va_list args)
{
  if (!to->entries)
    to->entries = calloc(MOST_KEPT, sizeof *to->entries);
  if (to->entries && to->kept < MOST_KEPT) {
    entry *e = &to->entries[to->kept];
    e->at = at;
    e->order = to->kept;
    (void)vsnprintf(e->text, sizeof e->text, format, args);
    for (size_t i = 0; i < to->kept; i++)
      if (same_entry(e, &to->entries[i]))
        return; /* said already */
    to->kept++;
  } else if (!to->entries) {
    f->lost = true;
  }
  to->num++;
}

void fault_add(fault_list *faults, fault_place at, const char *format, ...)
{
  va_list args;
  va_start(args, format);
  add(faults, &faults->faults, at, format, args);
  va_end(args);
}

void fault_note(fault_list *faults, fault_place at, const char *format, ...)
{
  va_list args;
  va_start(args, format);
  add(faults, &faults->notes, at, format, args);
  va_end(args);
}

size_t fault_count(const fault_list *faults)
{
  return faults->faults.num;
}

bool fault_is_at(const fault_list *faults, fault_place at)
{
  const entries *f = &faults->faults;
  for (size_t i = 0; i < f->kept; i++)
    if (f->entries[i].at.line == at.line && f->entries[i].at.column == at.column && f->entries[i].at.origin == at.origin)
      return true;
  return f->num > f->kept; /* some were not kept: any place may be one of them */
}

size_t fault_num_notes(const fault_list *faults)
{
  return faults->notes.kept;
}

const char *fault_note_text(const fault_list *faults, size_t i)
{
  return faults->notes.entries[i].text;
}

bool fault_lost(const fault_list *faults)
{
  return faults->lost;
}

static int by_place(const void *a, const void *b)
{
  const entry *x = a, *y = b;
  if ((x->at.origin != NULL) != (y->at.origin != NULL))
    return x->at.origin ? 1 : -1;
  if (x->at.line != y->at.line)
    return x->at.line < y->at.line ? -1 : 1;
  if (x->at.column != y->at.column)
    return x->at.column < y->at.column ? -1 : 1;
  return x->order < y->order ? -1 : x->order > y->order;
}

/* One line; returns its length, as snprintf does. */
static size_t write_line(char *to, size_t room, const char *file, const entry *e)
{
  int n = 0;
  if (e->at.origin)
    n = snprintf(to, room, "%s: %s\n", e->at.origin, e->text);
  else if (e->at.line)
    n = snprintf(to, room, "%s:%zu:%zu: %s\n", file, e->at.line, e->at.column, e->text);
  else
    n = snprintf(to, room, "%s: %s\n", file, e->text);
  return n > 0 ? (size_t)n : 0;
}

status fault_text(const fault_list *faults, char **text, message *msg)
{
  const entries *from = &faults->faults;
  size_t room = 128;
  for (size_t i = 0; i < from->kept; i++)
    room += write_line(NULL, 0, faults->file, &from->entries[i]);
  char *all = malloc(room);
  entry *sorted = malloc((from->kept + 1) * sizeof *sorted);
  if (!all || !sorted) {
    free(all);
    free(sorted);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for %zu faults", room, from->kept);
  }
  if (from->kept)
    memcpy(sorted, from->entries, from->kept * sizeof *sorted);
  qsort(sorted, from->kept, sizeof *sorted, by_place);
  size_t n = 0;
  for (size_t i = 0; i < from->kept; i++)
    n += write_line(all + n, room - n, faults->file, &sorted[i]);
  all[n] = 0;
  if (from->num > from->kept)
    (void)snprintf(all + n, room - n, "and %zu more\n", from->num - from->kept);
  free(sorted);
  *text = all;
  return STATUS_OK;
}
