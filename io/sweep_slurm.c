#define _XOPEN_SOURCE 700 /* realpath */
#include "io/sweep_slurm.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

/* A slot of an array is filled again about once a second: a task should have more to do than that. */
enum { CASES_A_TASK = 50, MOST_TASKS = 1000, LONGEST_ANSWER = 256 };

static size_t count_to_do(const sweep *s)
{
  size_t num = 0;
  for (size_t i = 0; i < plan_points_num_cases(s->points); i++)
    num += ledger_state_of(s->ledger, sweep_key(s, i)) == LEDGER_TO_DO;
  return num;
}

static size_t choose_tasks(const options *o, size_t to_do)
{
  const size_t wanted = o->tasks > 0 ? (size_t)o->tasks : (to_do + CASES_A_TASK - 1) / CASES_A_TASK;
  const size_t most = to_do < MOST_TASKS || o->tasks > 0 ? to_do : MOST_TASKS;
  return wanted < most ? wanted : most;
}

/* ------------------------------------------------------------------------------------------------ the script */

static status quotable(const char *text, message *msg)
{
  return strpbrk(text, "'\n") ? message_set(msg, STATUS_BAD_INPUT, "a quote or line end in %.200s cannot be handed to Slurm", text) : STATUS_OK;
}

static void say_words(FILE *to, const sweep *s, const options *o, const char *program, const char *plan, const char *directory, size_t tasks)
{
  (void)fprintf(to, "#!/bin/bash\n# One task of the sweep in this directory: its share of the cases that are still to do.\n");
  (void)fprintf(to, "export OMP_NUM_THREADS=1\nexec '%s' sweep '%s' -o '%s' --quiet --share \"$SLURM_ARRAY_TASK_ID/%zu\" --jobs \"${SLURM_CPUS_PER_TASK:-1}\"",
                program, plan, directory, tasks);
  for (size_t i = 0; i < o->num_overrides; i++)
    (void)fprintf(to, " --set '%s'", o->overrides[i]);
  (void)fprintf(to, "%s\n", plan_points_num(s->points) > PLAN_POINTS_UNASKED ? " --yes" : "");
}

static status write_script(const sweep *s, const options *o, const char *directory, const char *path, size_t tasks, message *msg)
{
  char program[WHOLE_FILE_PATH], *plan = realpath(s->plan->path, NULL);
  const ssize_t n = readlink("/proc/self/exe", program, sizeof program - 1);
  whole_file *f = NULL;
  status code = plan && n > 0 ? STATUS_OK : whole_file_fault(msg, "find", n > 0 ? s->plan->path : "/proc/self/exe", errno);
  if (code == STATUS_OK) {
    program[n] = 0;
    code = quotable(program, msg);
  }
  if (code == STATUS_OK)
    code = quotable(plan, msg);
  if (code == STATUS_OK)
    code = quotable(directory, msg);
  for (size_t i = 0; code == STATUS_OK && i < o->num_overrides; i++)
    code = quotable(o->overrides[i], msg);
  if (code == STATUS_OK)
    code = whole_file_open(&f, path, msg);
  if (code == STATUS_OK) {
    say_words(whole_file_stream(f), s, o, program, plan, directory, tasks);
    code = whole_file_commit(&f, msg); /* which looks at all errors of the stream */
  }
  free(plan);
  return code;
}

/* ------------------------------------------------------------------------------------------------ Slurm's commands */

/* The first line that a command says. STATUS_FAILED: it ended otherwise than with 0. */
static status ask(char *const argv[], char answer[LONGEST_ANSWER], bool loud, message *msg)
{
  int ends[2], how = 0;
  if (pipe(ends) != 0)
    return message_set(msg, STATUS_FAILED, "cannot start %s: %s", argv[0], strerror(errno));
  (void)fflush(NULL);
  const pid_t child = fork();
  if (child == 0) {
    (void)dup2(ends[1], STDOUT_FILENO);
    if (!loud && !freopen("/dev/null", "w", stderr))
      _exit(127);
    (void)close(ends[0]);
    (void)close(ends[1]);
    (void)execvp(argv[0], argv);
    _exit(127);
  }
  (void)close(ends[1]);
  FILE *from = child > 0 ? fdopen(ends[0], "r") : NULL;
  answer[0] = 0;
  if (from && !fgets(answer, LONGEST_ANSWER, from))
    answer[0] = 0;
  answer[strcspn(answer, "\n")] = 0;
  for (int c = 0; from && c != EOF;)
    c = fgetc(from);
  if (from)
    (void)fclose(from);
  else
    (void)close(ends[0]);
  while (child > 0 && waitpid(child, &how, 0) < 0 && errno == EINTR)
    continue;
  if (child > 0 && WIFEXITED(how) && WEXITSTATUS(how) == 127)
    return message_set(msg, STATUS_FAILED, "%s was not found: --slurm needs Slurm's commands on this machine", argv[0]);
  return child > 0 && WIFEXITED(how) && WEXITSTATUS(how) == 0 ? STATUS_OK : message_set(msg, STATUS_FAILED, "%s refused", argv[0]);
}

/* An array of this directory that still waits or runs would work beside the new one, on the same cases. */
static status refuse_second(const char *path, const char *directory, message *msg)
{
  char *text = NULL, answer[LONGEST_ANSWER];
  if (!whole_file_exists(path) || whole_file_read(path, LONGEST_ANSWER, &text, NULL, NULL) != STATUS_OK)
    return STATUS_OK;
  text[strcspn(text, "\n")] = 0;
  char *const argv[] = {"squeue", "-h", "-j", text, NULL};
  const status code = ask(argv, answer, false, NULL); /* a job that Slurm has forgotten is an error of squeue, and no longer there */
  const bool queued = code == STATUS_OK && answer[0];
  if (queued)
    (void)message_set(msg, STATUS_BAD_INPUT, "job %s of %s is still in the queue; wait for it, or scancel %s", text, directory, text);
  free(text);
  return queued ? STATUS_BAD_INPUT : STATUS_OK;
}

static status submit(const char *script, const char *log, size_t tasks, char job[LONGEST_ANSWER], message *msg)
{
  char array[64], output[WHOLE_FILE_PATH + 32];
  (void)snprintf(array, sizeof array, "--array=1-%zu", tasks);
  (void)snprintf(output, sizeof output, "--output=%s/%%A_%%a.log", log);
  char *const argv[] = {"sbatch", "--parsable", "--job-name=lastwater", array, output, (char *)(size_t)script, NULL};
  const status code = ask(argv, job, true, msg);
  job[strcspn(job, ";")] = 0; /* the cluster's name may follow */
  return code;
}

status sweep_slurm_submit(sweep *s, const options *o, message *msg)
{
  char script[WHOLE_FILE_PATH], log[WHOLE_FILE_PATH], kept[WHOLE_FILE_PATH], job[LONGEST_ANSWER] = "";
  char *directory = realpath(s->directory, NULL);
  const size_t to_do = count_to_do(s), tasks = choose_tasks(o, to_do);
  status code = directory ? STATUS_OK : whole_file_fault(msg, "find", s->directory, errno);
  if (code == STATUS_OK && to_do == 0)
    code = message_set(msg, STATUS_BAD_INPUT, "nothing is to do in %s; sweep with --resume gathers", s->directory);
  if (code == STATUS_OK)
    code = whole_file_join(script, directory, "slurm.sh", msg);
  if (code == STATUS_OK)
    code = whole_file_join(log, directory, "slurm", msg);
  if (code == STATUS_OK)
    code = whole_file_join(kept, directory, "slurm.job", msg);
  if (code == STATUS_OK)
    code = refuse_second(kept, s->directory, msg);
  if (code == STATUS_OK && mkdir(log, 0777) != 0 && errno != EEXIST)
    code = whole_file_fault(msg, "make the directory", log, errno);
  if (code == STATUS_OK)
    code = write_script(s, o, directory, script, tasks, msg);
  sweep_close(s); /* the tasks may begin at once */
  if (code == STATUS_OK)
    code = submit(script, log, tasks, job, msg);
  if (code == STATUS_OK)
    code = whole_file_write(kept, job, strlen(job), msg);
  if (code == STATUS_OK && !o->quiet)
    (void)printf("Job %s: %zu cases in %zu tasks. When it has left the queue (squeue -j %s), the same command with --resume and without --slurm gathers.\n",
                 job, to_do, tasks, job);
  free(directory);
  return code;
}
