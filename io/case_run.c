#include "io/case_run.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "io/summary_json.h"

static double processor_clock(void)
{
  struct timespec t;
  (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* The first of the faults: they are lines. */
static status first_fault(status code, const char *faults, message *msg)
{
  if (!faults || !faults[0])
    return code;
  return message_set(msg, code, "%.*s", (int)strcspn(faults, "\n"), faults);
}

status case_run_march(case_run_done *out, const case_run_request *want, message *msg)
{
  char *faults = NULL;
  run_pause why = PAUSE_PROGRESS;
  *out = (case_run_done){NULL, NULL, 0.0};
  status code = case_file_parse(&out->file, want->path, want->text, want->length, want->overrides, want->num_overrides, &faults, msg);
  if (code != STATUS_OK)
    code = first_fault(code, faults, msg);
  free(faults);
  const double begun = processor_clock();
  if (code == STATUS_OK)
    code = run_create(&out->run, &out->file->rig, msg);
  while (code == STATUS_OK && why != PAUSE_DONE)
    code = run_advance(out->run, &why, msg);
  out->marched = processor_clock() - begun;
  return code;
}

void case_run_release(case_run_done *d)
{
  run_destroy(&d->run);
  case_file_destroy(&d->file);
}

status case_run_summary(const case_run_done *d, char **text, json_t **tree, message *msg)
{
  provenance who;
  char *made = NULL;
  json_error_t error;
  summary_json_provenance(&who);
  who.wall = d->marched;
  status code = summary_json_text(&made, &d->file->rig, run_results(d->run), &who, msg);
  if (code == STATUS_OK && tree) {
    *tree = json_loads(made, 0, &error);
    if (!*tree)
      code = message_set(msg, STATUS_FAILED, "the summary cannot be read back: %s", error.text);
  }
  if (code == STATUS_OK && text)
    *text = made;
  else
    free(made);
  return code;
}
