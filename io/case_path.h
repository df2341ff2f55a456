/* What a path such as parts.pot.wall means in a given case: the key, and the value that stands there. The paths of --set and of plans. */
#ifndef LASTWATER_CASE_PATH_H
#define LASTWATER_CASE_PATH_H

#include "io/case_keys.h"

typedef struct {
  const case_key *key;
  const yaml_node *value; /* borrowed from the case; NULL: not given there (then key->preset counts) */
} case_path;

/* Walks the path through the case and the table of keys. False: a fault at `at` says what is not known and what comes closest. */
bool case_path_find(case_path *out, const yaml_node *root, const char *path, fault_list *faults, fault_place at);

/* Index of the item of a list by its name, or by its number from 1 when the items have no names; SIZE_MAX when there is none. */
size_t case_path_item(const yaml_node *list, const char *name);

#endif
