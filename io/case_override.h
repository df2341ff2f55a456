/* Overrides of the command line: `--set parts.pot.wall=3 mm`.
 *
 * A path names keys from the top down; the items of a list are addressed by their names, those without names (surfaces) by their number
 * from 1: `surfaces.2.film=12 W/m2K`. The value is YAML: a text, or a list or map in brackets. A key that was not there is added. */
#ifndef LASTWATER_CASE_OVERRIDE_H
#define LASTWATER_CASE_OVERRIDE_H

#include "io/fault.h"
#include "io/yaml_tree.h"

/* text: "path=value"; origin: how the override is called in messages (must outlive the tree). Faults are added to faults; the status is not
 * STATUS_OK only when memory is out. */
status case_override_apply(yaml_node *root, const char *text, const char *origin, fault_list *faults, message *msg);

#endif
