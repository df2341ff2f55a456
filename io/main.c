/* lastwater: foretells how water freezes in a mould. Reads the command line, dispatches, prints what went wrong once, sets the exit code. */
#include <stdlib.h>
#include <string.h>

#include "io/band_command.h"
#include "io/brine_command.h"
#include "io/case_file.h"
#include "io/case_keys.h"
#include "io/check_command.h"
#include "io/compare_command.h"
#include "io/estimate_command.h"
#include "io/fit_command.h"
#include "io/h5_file.h"
#include "io/manual.h"
#include "io/options.h"
#include "io/report_command.h"
#include "io/run_command.h"
#include "io/seek_command.h"
#include "io/sweep_command.h"

enum { EXIT_DONE = 0, EXIT_FAILED = 1, EXIT_INPUT = 2, EXIT_STOPPED = 130 };

static int exit_code(status code)
{
  switch (code) {
  case STATUS_OK: return EXIT_DONE;
  case STATUS_BAD_INPUT: return EXIT_INPUT;
  case STATUS_INTERRUPTED: return EXIT_STOPPED;
  default: return EXIT_FAILED;
  }
}

static int help(const options *o)
{
  const char *topic = o->topic ? o->topic : "";
  const bool written = strcmp(topic, "keys") == 0   ? case_keys_print(stdout)
                       : strcmp(topic, "man") == 0  ? manual_print_man(stdout)
                       : strcmp(topic, "bash") == 0 ? manual_print_bash(stdout)
                                                    : options_print_help(stdout, o->command);
  return written && fflush(stdout) == 0 ? EXIT_DONE : EXIT_FAILED;
}

static status dispatch(const options *o, const case_file *c, message *msg)
{
  switch (o->command) {
  case COMMAND_CHECK: return check_command(o, c, msg);
  case COMMAND_ESTIMATE: return estimate_command(o, c, msg);
  case COMMAND_FIT: return fit_command(o, c, msg);
  case COMMAND_RUN: return o->band ? band_command(o, c, msg) : run_command(o, c, msg);
  default: return message_set(msg, STATUS_FAILED, "no command");
  }
}

static status read_case(const options *o, case_file **c, message *msg)
{
  char *faults = NULL;
  status code = case_file_read(c, o->case_path, o->overrides, o->num_overrides, &faults, msg);
  if (faults)
    (void)fprintf(stderr, "%s", faults);
  free(faults);
  if (code == STATUS_FILE) /* the case cannot be read: the input is wrong */
    code = STATUS_BAD_INPUT;
  return code;
}

int main(int argc, char **argv)
{
  options o;
  case_file *c = NULL;
  message msg = {""};
  h5_file_begin(); /* before any other call of HDF5: its exit handler would crash after a full disk */
  status code = options_read(&o, argc, argv, &msg);
  int result = EXIT_DONE;
  if (code == STATUS_OK && o.help) {
    result = help(&o);
  } else if (code == STATUS_OK && o.version) {
    (void)printf("lastwater %s\n", LASTWATER_VERSION);
  } else {
    if (code == STATUS_OK && o.command == COMMAND_BRINE) {
      code = brine_command(&o, &msg);
    } else if (code == STATUS_OK && o.command == COMMAND_REPORT) {
      code = report_command(&o, &msg);
    } else if (code == STATUS_OK && o.command == COMMAND_COMPARE) {
      code = compare_command(&o, &msg);
    } else if (code == STATUS_OK && o.command == COMMAND_SWEEP) {
      code = sweep_command(&o, &msg);
    } else if (code == STATUS_OK && o.command == COMMAND_SEEK) {
      code = seek_command(&o, &msg);
    } else if (code == STATUS_OK) {
      code = read_case(&o, &c, &msg);
      if (code == STATUS_OK)
        code = dispatch(&o, c, &msg);
    }
    if (code != STATUS_OK)
      (void)fprintf(stderr, "lastwater: %s\n", msg.text);
    result = exit_code(code);
  }
  case_file_destroy(&c);
  options_release(&o);
  return result;
}
