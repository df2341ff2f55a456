/* `lastwater check`: a case explained as a colleague would, before anything is simulated. */
#ifndef LASTWATER_CASE_CHECK_H
#define LASTWATER_CASE_CHECK_H

#include <stdio.h>

#include "io/case_facts.h"

/* The explanation as text of at most 100 columns. False when the stream fails. */
bool case_check_print(FILE *to, const case_file *c, const case_facts *f);
/* The same figures as JSON, SI, the unit in each key. *text is allocated, ends with a line end; free() it. */
status case_check_json(char **text, const case_file *c, const case_facts *f, message *msg);

#endif
