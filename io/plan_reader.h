/* The keys of a plan, from its tree into a plan_file. Faults go to the list, each at its place; the status fails only when memory is out. */
#ifndef LASTWATER_PLAN_READER_H
#define LASTWATER_PLAN_READER_H

#include "io/plan_file.h"

/* `set`: what is set for all runs, into p->set. */
status plan_reader_set(plan_file *p, fault_list *faults, message *msg);
/* All the rest; p->case_tree holds the case with p->set in it. */
status plan_reader_body(plan_file *p, plan_use use, fault_list *faults, message *msg);

/* A value as --set takes it: a text as it stands, a list or a map in brackets. Allocated; NULL when out of memory. */
char *plan_reader_flow(const yaml_node *value);

#endif
