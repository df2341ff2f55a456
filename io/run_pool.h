/* Many computations at once, each in a process of its own with one thread: a crash of one is its own affair.
 *
 * A worker is a fork of this process: it sees everything as it stood, works one job, leaves its answer (plain bytes) in memory shared with
 * the parent, and ends. The workers end with the parent, also when that is killed. The caller starts jobs while the pool is not full and
 * takes the answers as they come. The parent must not have threads of its own. */
#ifndef LASTWATER_RUN_POOL_H
#define LASTWATER_RUN_POOL_H

#include <stdbool.h>
#include <stddef.h>

#include "io/status.h"

/* Runs in the worker. answer: room bytes; the first is zero, the others are what was left there. */
typedef status run_pool_work(const void *what, size_t job, void *answer, size_t room, message *msg);

typedef struct {
  size_t job;
  status code;        /* what the work returned                                        */
  bool killed;        /* ended by a signal that is no fault of its own (SIGKILL, SIGTERM): the job may be run again */
  message why;        /* with code not STATUS_OK: the sentence; of a crash, its signal  */
  const void *answer; /* borrowed, until the next run_pool_start                        */
  double wall;        /* s                                                             */
} run_pool_answer;

typedef struct run_pool run_pool;

/* room: bytes of an answer. what: handed to every work, borrowed. */
status run_pool_create(run_pool **out, size_t num_workers, size_t room, run_pool_work *work, const void *what, message *msg);
void run_pool_destroy(run_pool **p); /* NULL-safe; ends the workers that still run */
bool run_pool_is_full(const run_pool *p);
size_t run_pool_num_running(const run_pool *p);
/* STATUS_FAILED when no process can be made. The pool must not be full. */
status run_pool_start(run_pool *p, size_t job, message *msg);
/* Waits for the next answer. STATUS_INTERRUPTED: the user wished to stop (interrupt_count). Something must be running. */
status run_pool_next(run_pool *p, run_pool_answer *out, message *msg);
/* Processors that this process may use. */
size_t run_pool_processors(void);

#endif
