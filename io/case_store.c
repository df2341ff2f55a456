#include "io/case_store.h"

#include <stdlib.h>

typedef enum { HOLDS_SHAPE, HOLDS_MATERIAL, HOLDS_ARRAY } held_kind;

typedef struct held {
  struct held *next;
  held_kind kind;
  void *what;
} held;

struct case_store {
  held *first;
};

status case_store_create(case_store **out, message *msg)
{
  *out = calloc(1, sizeof **out);
  return *out ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a case", sizeof **out);
}

static void let_go(held_kind kind, void *what)
{
  shape *s = what;
  if (kind == HOLDS_SHAPE)
    shape_destroy(&s);
  if (kind == HOLDS_MATERIAL)
    material_release(what);
  if (kind != HOLDS_SHAPE)
    free(what);
}

void case_store_destroy(case_store **store)
{
  if (!*store)
    return;
  for (held *h = (*store)->first; h;) {
    held *next = h->next;
    let_go(h->kind, h->what);
    free(h);
    h = next;
  }
  free(*store);
  *store = NULL;
}

static void *keep(case_store *store, held_kind kind, void *what, message *msg)
{
  held *h = what ? malloc(sizeof *h) : NULL;
  if (!h) {
    if (what)
      let_go(kind, what);
    (void)message_set(msg, STATUS_NO_MEMORY, "out of memory while the case was built");
    return NULL;
  }
  *h = (held){.next = store->first, .kind = kind, .what = what};
  store->first = h;
  return what;
}

const shape *case_store_shape(case_store *store, shape *s, message *msg)
{
  return keep(store, HOLDS_SHAPE, s, msg);
}

const material *case_store_material(case_store *store, const material *m, message *msg)
{
  material *copy = malloc(sizeof *copy);
  material rest = *m;
  if (!copy) {
    material_release(&rest);
    (void)message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a material", sizeof *copy);
    return NULL;
  }
  *copy = rest;
  return keep(store, HOLDS_MATERIAL, copy, msg);
}

void *case_store_array(case_store *store, size_t num, size_t size, message *msg)
{
  return keep(store, HOLDS_ARRAY, calloc(num + 1, size), msg);
}
