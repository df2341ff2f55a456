/* The command line: one table of commands and one of options, used by the reader and by the help. */
#ifndef LASTWATER_OPTIONS_H
#define LASTWATER_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "io/status.h"

typedef enum { COMMAND_NONE, COMMAND_CHECK, COMMAND_RUN, COMMAND_ESTIMATE, COMMAND_BRINE, COMMAND_SWEEP, COMMAND_SEEK, COMMAND_FIT, COMMAND_REPORT, COMMAND_COMPARE } command_kind;

/* What `brine` is asked, as written; NULL: not given. Borrowed from argv. */
typedef struct { const char *salt, *mass, *water, *onset, *strength, *to, *liquidus; } options_brine;

typedef struct {
  command_kind command;
  const char *case_path;        /* the case or the plan, borrowed from argv; NULL with help, version, and without one */
  const char *directory;        /* -o; NULL: CASE.result beside the case                      */
  const char **overrides;       /* [num_overrides] texts of --set, owned array of borrowed texts */
  size_t num_overrides;
  const char **words;           /* [num_words] directories of report and compare, in the same array   */
  size_t num_words;
  const char *log_path;         /* of fit, borrowed                                            */
  const char **vary;            /* [num_vary] texts of --vary, in the same array as overrides     */
  size_t num_vary;
  const char **at;              /* [num_at] texts of --at, in the same array as overrides          */
  size_t num_at;
  const char *vector;           /* --vector: "svg" or "pdf"; NULL: not asked                  */
  int threads;                  /* --threads; 0: as the case says, else all                   */
  bool resume, quiet, json;
  options_brine brine;
  int jobs;                     /* --jobs; 0: as many as there are processors                  */
  int share, num_shares;        /* --share K/N: K - 1 and N; 0, 0: not given                   */
  bool yes;
  bool slurm;                   /* sweep --slurm                                               */
  int tasks;                    /* --tasks; 0: one for some fifty cases                        */
  bool band;                    /* run --band                                                 */
  bool unsaid;                  /* not from the command line: the caller of run_command says the answer itself */
  bool help, version;
  const char *topic;            /* --help keys, man, bash                                     */
} options;

/* Reads a whole command line. STATUS_BAD_INPUT: msg says what is wrong and what comes closest; *out is then empty. */
status options_read(options *out, int argc, char *const *argv, message *msg);
void options_release(options *o);

/* The help: of one command, or of all with COMMAND_NONE. False when the stream fails. */
bool options_print_help(FILE *to, command_kind command);

/* Row i of the table of commands and of that of options, for the manual page and the completion; false past the end. */
typedef struct {
  const char *name, *letter, *value, *help; /* letter, value: NULL without; value of a command: its arguments */
  unsigned commands;                        /* bits: which commands take the option; of a command its own     */
} options_row;
bool options_command(size_t i, options_row *row);
bool options_option(size_t i, options_row *row);

#endif
