/* Runs the program as a user would, for the practice tests. */
#ifndef TESTS_PRACTICE_PROGRAM_H
#define TESTS_PRACTICE_PROGRAM_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

typedef struct {
  int exit_code;     /* -1: ended by a signal */
  int signal_number; /* 0: not by one         */
  char *out, *err;   /* owned: program_release */
} program_result;

typedef struct {
  size_t file_limit; /* bytes a file may grow to; 0: no limit                */
  double kill_after; /* s; 0: not at all                                     */
  int kill_signal;   /* sent then                                            */
  const char *kill_when_exists; /* path: sent as soon as this file is there; NULL: not */
  const char *kill_when_gone;   /* with kill_when_exists: and this one is not          */
} program_wishes;

/* arguments: NULL-ended, without the program's name. wishes may be NULL. Aborts when the program cannot be started. */
program_result program_run(const char *const *arguments, const program_wishes *wishes);
void program_release(program_result *r);

/* A directory of its own for a test, and what is in it. */
void program_directory(char path[512]);
void program_remove(const char *path);
char *program_read(const char *directory, const char *name, size_t *num_bytes); /* NULL: not there; free() */
bool program_has(const char *directory, const char *name);
void program_write(const char *directory, const char *name, const char *text);
double program_clock(void); /* s */

/* Writes a case as directory/name.yaml and runs it into directory/name; options: NULL-ended, or NULL. */
program_result program_run_case(const char *directory, const char *name, const char *text, const char *const *options);
/* The same for a run that must end well; its summary, for json_decref. These fail the test that calls them. */
json_t *program_summary_of_case(const char *directory, const char *name, const char *text, const char *const *options);
json_t *program_summary(const char *directory); /* of results that are there */
double program_figure(const json_t *summary, const char *object, const char *key); /* a number of summary[object][key] */
double program_number(const json_t *object, const char *key);
/* The input was refused: exit code 2, nothing written, and the message says this. Releases r. */
void program_must_refuse(program_result *r, const char *says);

#endif
