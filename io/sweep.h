/* A sweep as it lies on the disk: DIR/plan.yaml and case.yaml (copies), DIR/ledger/ (what is done), DIR/cases/000/007/ (the answer of case
 * 7), and in the end results.csv, results.h5, ranking.txt, pictures. The plan's runs are known to the ledger by what is set in them. */
#ifndef LASTWATER_SWEEP_H
#define LASTWATER_SWEEP_H

#include "io/ledger.h"
#include "io/plan_points.h"
#include "io/whole_file.h"

typedef struct {
  const plan_file *plan;
  const plan_points *points;
  char directory[WHOLE_FILE_PATH];
  int lock;
  ledger *ledger;
} sweep;

/* Opens or begins the directory and its ledger. journal: this writer's; shared: others may write at the same time (tasks of an array).
 * STATUS_BAD_INPUT: the directory is another plan's, holds something else, or holds runs of this plan and `resume` was not asked for. */
status sweep_open(sweep *s, const plan_file *p, const plan_points *points, const char *asked_directory, const char *journal, bool shared,
                  bool resume, message *msg);
void sweep_close(sweep *s);

/* What the ledger knows a case by. */
uint64_t sweep_key(const sweep *s, size_t which);
/* "DIR/cases/000/007". */
status sweep_case_directory(const sweep *s, size_t which, char path[WHOLE_FILE_PATH], message *msg);

/* Runs one case in this process and writes its files; answer: the reported values as a JSON list. A work of run_pool; what: the sweep. */
status sweep_work(const void *what, size_t which, void *answer, size_t room, message *msg);
size_t sweep_answer_room(const sweep *s);

#endif
