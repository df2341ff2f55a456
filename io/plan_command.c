#include "io/plan_command.h"

#include <stdlib.h>
#ifdef _OPENMP
#include <omp.h>
#endif

status plan_command_read(plan_file **p, const options *o, plan_use use, message *msg)
{
  char *faults = NULL;
#ifdef _OPENMP
  omp_set_num_threads(1);
#endif
  status code = plan_file_read(p, o->case_path, use, o->overrides, o->num_overrides, &faults, msg);
  if (faults)
    (void)fprintf(stderr, "%s", faults);
  free(faults);
  if (code == STATUS_FILE) /* the plan cannot be read: the input is wrong */
    code = STATUS_BAD_INPUT;
  return code;
}
