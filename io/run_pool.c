#define _GNU_SOURCE /* CPU_COUNT, MAP_ANONYMOUS */
#include "io/run_pool.h"

#include <errno.h>
#include <sched.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>
#ifdef _OPENMP
#include <omp.h>
#endif

#include "io/interrupt.h"

/* What a worker leaves, in shared memory: the head, then the answer. */
typedef struct {
  status code;
  bool finished;
  message why;
} slot_head;

typedef struct {
  pid_t worker; /* 0: free */
  size_t job;
  double begun;
  unsigned char *shared;
} slot;

struct run_pool {
  size_t num, room, stride;
  run_pool_work *work;
  const void *what;
  slot *slots;
};

static double wall_clock(void)
{
  struct timespec t;
  (void)clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

size_t run_pool_processors(void)
{
  cpu_set_t set;
  if (sched_getaffinity(0, sizeof set, &set) == 0 && CPU_COUNT(&set) > 0)
    return (size_t)CPU_COUNT(&set);
  const long n = sysconf(_SC_NPROCESSORS_ONLN);
  return n > 0 ? (size_t)n : 1;
}

status run_pool_create(run_pool **out, size_t num_workers, size_t room, run_pool_work *work, const void *what, message *msg)
{
  run_pool *p = calloc(1, sizeof *p);
  if (p)
    p->slots = calloc(num_workers, sizeof *p->slots);
  if (!p || !p->slots) {
    free(p);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu workers", num_workers);
  }
  p->room = room;
  p->stride = (sizeof(slot_head) + room + 63) / 64 * 64;
  p->work = work;
  p->what = what;
  for (; p->num < num_workers; p->num++) {
    void *shared = mmap(NULL, p->stride, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (shared == MAP_FAILED) {
      run_pool_destroy(&p);
      return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu shared bytes for a worker", room);
    }
    p->slots[p->num].shared = shared;
  }
  *out = p;
  return STATUS_OK;
}

void run_pool_destroy(run_pool **p)
{
  if (!*p)
    return;
  for (size_t i = 0; i < (*p)->num; i++) {
    slot *s = &(*p)->slots[i];
    if (s->worker > 0) {
      (void)kill(s->worker, SIGKILL);
      while (waitpid(s->worker, NULL, 0) < 0 && errno == EINTR)
        continue;
    }
    (void)munmap(s->shared, (*p)->stride);
  }
  free((*p)->slots);
  free(*p);
  *p = NULL;
}

bool run_pool_is_full(const run_pool *p)
{
  return run_pool_num_running(p) == p->num;
}

size_t run_pool_num_running(const run_pool *p)
{
  size_t n = 0;
  for (size_t i = 0; i < p->num; i++)
    n += p->slots[i].worker > 0;
  return n;
}

/* The worker's life. It does not return, and runs nothing that the parent would run at its end. */
static void live(const run_pool *p, const slot *s, pid_t parent)
{
  slot_head *head = (slot_head *)(void *)s->shared;
  (void)prctl(PR_SET_PDEATHSIG, SIGKILL);
  (void)signal(SIGINT, SIG_IGN); /* Ctrl-C reaches the whole group; the parent decides */
  (void)signal(SIGTERM, SIG_DFL);
  if (getppid() != parent)
    _exit(1);
#ifdef _OPENMP
  omp_set_num_threads(1);
#endif
  head->code = p->work(p->what, s->job, s->shared + sizeof(slot_head), p->room, &head->why);
  head->finished = true;
  _exit(0);
}

status run_pool_start(run_pool *p, size_t job, message *msg)
{
  slot *s = p->slots;
  while (s->worker > 0)
    s++;
  memset(s->shared, 0, sizeof(slot_head) + (p->room > 0));
  s->job = job;
  s->begun = wall_clock();
  (void)fflush(NULL); /* a worker must not write what waits here a second time */
  const pid_t parent = getpid(), worker = fork();
  if (worker < 0)
    return message_set(msg, STATUS_FAILED, "cannot start another process: %s", strerror(errno));
  if (worker == 0)
    live(p, s, parent);
  s->worker = worker;
  return STATUS_OK;
}

static void take(slot *s, int how, run_pool_answer *out)
{
  const slot_head *head = (const slot_head *)(const void *)s->shared;
  *out = (run_pool_answer){.job = s->job, .code = head->code, .why = head->why, .answer = s->shared + sizeof(slot_head),
                           .wall = wall_clock() - s->begun};
  if (WIFSIGNALED(how)) {
    out->killed = WTERMSIG(how) == SIGKILL || WTERMSIG(how) == SIGTERM;
    out->code = message_set(&out->why, STATUS_FAILED, "the computation ended by signal %d (%s)", WTERMSIG(how), strsignal(WTERMSIG(how)));
  } else if (!head->finished) {
    out->code = message_set(&out->why, STATUS_FAILED, "the computation ended without an answer");
  }
  s->worker = 0;
}

status run_pool_next(run_pool *p, run_pool_answer *out, message *msg)
{
  for (;;) {
    int how = 0;
    const pid_t ended = waitpid(-1, &how, 0);
    if (ended < 0 && errno != EINTR)
      return message_set(msg, STATUS_FAILED, "cannot wait for a worker: %s", strerror(errno));
    for (size_t i = 0; ended > 0 && i < p->num; i++)
      if (p->slots[i].worker == ended) {
        take(&p->slots[i], how, out);
        return STATUS_OK;
      }
    if (interrupt_count() > 0)
      return message_set(msg, STATUS_INTERRUPTED, "interrupted");
  }
}
