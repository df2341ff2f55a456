/* What varies in a plan: keys of the case, each with listed values or a range. */
#ifndef LASTWATER_PLAN_INPUTS_H
#define LASTWATER_PLAN_INPUTS_H

#include "io/plan_file.h"

/* `vary` of p->tree into p->inputs. Faults: an unknown key, an empty list or range, a value that the key does not take. */
status plan_inputs_read(plan_file *p, plan_use use, fault_list *faults, message *msg);

#endif
