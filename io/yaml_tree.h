/* A YAML 1.2 file as a tree of our own in which every node knows its place.
 *
 * libyaml's events are turned into texts, lists and maps; nothing is interpreted (`no`, `1e3`, `~` are texts). Refused, each at its place:
 * anchors and aliases, tags, a second document, an empty file, keys that are not texts, keys given twice, NUL and bad UTF-8, more than
 * 4 MiB, more than 32 levels, more than 100 000 nodes. Input is hostile until it has passed here. */
#ifndef LASTWATER_YAML_TREE_H
#define LASTWATER_YAML_TREE_H

#include <stdbool.h>
#include <stddef.h>

#include "io/fault.h"
#include "io/status.h"

typedef enum { YAML_TEXT, YAML_LIST, YAML_MAP } yaml_kind;

typedef struct yaml_node yaml_node;
struct yaml_node {
  yaml_kind kind;
  fault_place at;
  char *text;        /* YAML_TEXT: its value, UTF-8, never NULL; else NULL           */
  bool quoted;       /* YAML_TEXT: it was written in quotes or as a block           */
  size_t num;        /* items of a list, pairs of a map                              */
  yaml_node **keys;  /* [num] YAML_MAP: texts; else NULL                             */
  yaml_node **items; /* [num] items of a list, values of a map                       */
  size_t capacity;
};

/* Reads a whole file. Faults of its form are added to faults (STATUS_BAD_INPUT: *out untouched); STATUS_FILE with the system's reason. */
status yaml_tree_read(yaml_node **out, const char *path, fault_list *faults, message *msg);
/* The same from memory. */
status yaml_tree_parse(yaml_node **out, const char *text, size_t length, fault_list *faults, message *msg);
void yaml_tree_destroy(yaml_node **node); /* NULL-safe; the whole tree below */

/* New nodes, for overrides. */
status yaml_tree_text(yaml_node **out, const char *text, fault_place at, message *msg);
status yaml_tree_map(yaml_node **out, fault_place at, message *msg);
/* Puts item at the end of a list, or key and item at the end of a map; both are taken over on success and on failure alike. */
status yaml_tree_append(yaml_node *to, yaml_node *key, yaml_node *item, message *msg);

/* Value of a key of a map, or NULL (also when map is NULL or no map). */
yaml_node *yaml_tree_value(const yaml_node *map, const char *key);
/* The key's own node, or NULL. */
const yaml_node *yaml_tree_key(const yaml_node *map, const char *key);
const char *yaml_tree_kind_name(yaml_kind kind); /* "a text", "a list", "a map" */

#endif
