#include "io/options.h"

#include <stdlib.h>
#include <string.h>

#include "io/nearest.h"
#include "materials/salt_grade.h"

enum { MOST_THREADS = 1024, MOST_WORDS = 16, MOST_SHARES = 100000 };
enum { FOR_CHECK = 1, FOR_RUN = 2, FOR_ESTIMATE = 4, FOR_CASE = 7, FOR_BRINE = 8, FOR_SWEEP = 16, FOR_SEEK = 32, FOR_REPORT = 64, FOR_COMPARE = 128, FOR_FIT = 256, FOR_ALL = 511 };

static const struct {
  command_kind kind;
  unsigned bit;
  const char *name, *arguments, *help;
} commands[] = {
    {COMMAND_CHECK, FOR_CHECK, "check", "CASE", "read a case, explain what was understood and what to look out for; no simulation"},
    {COMMAND_RUN, FOR_RUN, "run", "CASE", "simulate a case; results go to CASE.result beside it, or to -o DIR"},
    {COMMAND_ESTIMATE, FOR_ESTIMATE, "estimate", "CASE", "hand formulas in a blink, each with what it leaves out"},
    {COMMAND_BRINE, FOR_BRINE, "brine", "--salt GRADE (--mass M --water V | --onset T --water V | --strength W) [--to T]",
     "what is in a tub of brine, when it starts to freeze, how much more salt to another onset"},
    {COMMAND_SWEEP, FOR_SWEEP, "sweep", "PLAN", "many runs of a case, as a plan says; table, pictures and ranked list go to PLAN.result, or to -o DIR"},
    {COMMAND_SEEK, FOR_SEEK, "seek", "PLAN", "the input that meets a target, or the inputs that make a goal best while limits hold"},
    {COMMAND_FIT, FOR_FIT, "fit", "CASE LOG.csv", "settle uncertain inputs from a thermometer's log; results go to CASE.fit, or to -o DIR"},
    {COMMAND_REPORT, FOR_REPORT, "report", "DIR", "page and pictures again from the results in a directory"},
    {COMMAND_COMPARE, FOR_COMPARE, "compare", "DIR DIR ...", "what differs between runs, in a table and on one page with their pictures side by side"},
};
enum { NUM_COMMANDS = sizeof commands / sizeof *commands };

typedef enum { OPTION_DIRECTORY, OPTION_SET, OPTION_THREADS, OPTION_RESUME, OPTION_QUIET, OPTION_JSON, OPTION_SALT, OPTION_MASS, OPTION_WATER,
               OPTION_ONSET, OPTION_STRENGTH, OPTION_TO, OPTION_LIQUIDUS, OPTION_JOBS, OPTION_YES, OPTION_SHARE, OPTION_VARY, OPTION_SLURM, OPTION_TASKS, OPTION_BAND, OPTION_VECTOR, OPTION_AT, OPTION_HELP,
               OPTION_VERSION } option_kind;

static const struct {
  option_kind kind;
  const char *name, *letter, *value; /* value: what follows, NULL: nothing */
  unsigned commands;
  const char *help;
} table[] = {
    {OPTION_DIRECTORY, "--output", "-o", "DIR", FOR_CHECK | FOR_RUN | FOR_BRINE | FOR_SWEEP | FOR_SEEK | FOR_FIT | FOR_COMPARE, "where the results go"},
    {OPTION_SET, "--set", NULL, "key.path=value", FOR_CASE | FOR_SWEEP | FOR_SEEK | FOR_FIT, "change the case for this time, e.g. --set \"parts.drum.wall=3 mm\"; repeatable"},
    {OPTION_THREADS, "--threads", NULL, "N", FOR_RUN, "how many threads; the results do not depend on it"},
    {OPTION_RESUME, "--resume", NULL, NULL, FOR_RUN | FOR_SWEEP, "go on where an interrupted run or sweep stopped"},
    {OPTION_QUIET, "--quiet", NULL, NULL, FOR_ALL, "no progress and no remarks"},
    {OPTION_JSON, "--json", NULL, NULL, FOR_ALL, "the answer as JSON on the standard output"},
    {OPTION_SALT, "--salt", NULL, "GRADE", FOR_BRINE, "what the bag says, e.g. \"CaCl2 flake 77\", or a salt with its purity, \"CaCl2 78 %\""},
    {OPTION_MASS, "--mass", NULL, "M", FOR_BRINE, "of the bags, e.g. \"18 kg\""},
    {OPTION_WATER, "--water", NULL, "V", FOR_BRINE, "poured in, at 20 degC, e.g. \"57 L\""},
    {OPTION_ONSET, "--onset", NULL, "T", FOR_BRINE, "at which the brine shall start to freeze, e.g. \"-16 C\""},
    {OPTION_STRENGTH, "--strength", NULL, "W", FOR_BRINE, "anhydrous salt over all, e.g. \"20 %\""},
    {OPTION_TO, "--to", NULL, "T", FOR_BRINE, "another onset: what to add to get there"},
    {OPTION_LIQUIDUS, "--liquidus", NULL, "SOURCE", FOR_BRINE, "toner_catling or melinder: published source of the freezing curve"},
    {OPTION_JOBS, "--jobs", NULL, "N", FOR_SWEEP | FOR_SEEK | FOR_RUN | FOR_FIT, "how many runs at once; without it, as many as there are processors"},
    {OPTION_YES, "--yes", NULL, NULL, FOR_SWEEP, "also when the plan has more than a million points"},
    {OPTION_SHARE, "--share", NULL, "K/N", FOR_SWEEP, "only the K-th of N shares, beside others in the same directory; no table yet"},
    {OPTION_VECTOR, "--vector", NULL, "svg|pdf", FOR_REPORT, "the pictures as drawings to enlarge too, beside the PNG"},
    {OPTION_AT, "--at", NULL, "T", FOR_REPORT, "when the ice is shown cut away, from the start of freezing or by share, e.g. --at \"3 h\" --at \"80 %\"; repeatable"},
    {OPTION_VARY, "--vary", NULL, "KEY[=RANGE]", FOR_FIT, "what the log shall settle, e.g. --vary \"room.film=5 .. 12 W/m2K\"; without it, values with a spread; repeatable"},
    {OPTION_SLURM, "--slurm", NULL, NULL, FOR_SWEEP, "hand the runs to Slurm as a job array; later, --resume without it gathers"},
    {OPTION_TASKS, "--tasks", NULL, "N", FOR_SWEEP, "with --slurm: how many tasks the array has; without it, one for some fifty cases"},
    {OPTION_BAND, "--band", NULL, NULL, FOR_RUN, "low, middle and high of every figure, by some runs more; what matters most"},
    {OPTION_HELP, "--help", "-h", NULL, FOR_ALL, "this text; --help keys: all keys of a case file; --help man, --help bash: manual page, completion"},
    {OPTION_VERSION, "--version", NULL, NULL, FOR_ALL, "program and version"},
};
enum { NUM_OPTIONS = sizeof table / sizeof *table };

/* ------------------------------------------------------------------------------------------------ help */

static void print_options(FILE *to, unsigned wanted)
{
  for (size_t i = 0; i < NUM_OPTIONS; i++) {
    char left[64];
    if (!(table[i].commands & wanted))
      continue;
    (void)snprintf(left, sizeof left, "%s%s%s%s%s", table[i].letter ? table[i].letter : "", table[i].letter ? ", " : "", table[i].name,
                   table[i].value ? " " : "", table[i].value ? table[i].value : "");
    (void)fprintf(to, "  %-24s %s\n", left, table[i].help);
  }
}

bool options_print_help(FILE *to, command_kind command)
{
  unsigned wanted = FOR_ALL;
  (void)fprintf(to, "lastwater foretells how water freezes in a mould.\n\n");
  for (size_t i = 0; i < NUM_COMMANDS; i++)
    if (command == COMMAND_NONE || command == commands[i].kind) {
      (void)fprintf(to, "  lastwater %-8s %s    %s\n", commands[i].name, commands[i].arguments, commands[i].help);
      if (command != COMMAND_NONE)
        wanted = commands[i].bit;
    }
  (void)fprintf(to, "\n");
  print_options(to, wanted);
  if (command == COMMAND_BRINE) {
    (void)fprintf(to, "\nGrades of salt\n");
    for (size_t i = 0; i < salt_grade_num(); i++)
      (void)fprintf(to, "  %-20s %s\n", salt_grade_at(i)->name, salt_grade_at(i)->words);
  }
  (void)fprintf(to, "\nExit codes: 0 done, 1 failed, 2 the input is wrong (nothing is written), 130 interrupted (--resume goes on).\n"
                    "Forecasts, not permission: local codes, makers' instructions and licensed practice come first.\n");
  return !ferror(to);
}

/* ------------------------------------------------------------------------------------------------ reading */

static status unknown_option(const char *word, message *msg)
{
  const char *names[NUM_OPTIONS];
  for (size_t i = 0; i < NUM_OPTIONS; i++)
    names[i] = table[i].name;
  const char *near = nearest_word(word, names, NUM_OPTIONS);
  return message_set(msg, STATUS_BAD_INPUT, "unknown option %.100s%s%s; lastwater --help lists them", word, near ? "; the closest is " : "",
                     near ? near : "");
}

static status unknown_command(const char *word, message *msg)
{
  const char *names[NUM_COMMANDS];
  for (size_t i = 0; i < NUM_COMMANDS; i++)
    names[i] = commands[i].name;
  const char *near = nearest_word(word, names, NUM_COMMANDS);
  return message_set(msg, STATUS_BAD_INPUT, "unknown command \"%.100s\"%s%s; lastwater --help lists them", word,
                     near ? "; the closest is " : "", near ? near : "");
}

static status read_number(const char *name, const char *text, int most, int *out, message *msg)
{
  char *end = NULL;
  const long n = text[0] >= '0' && text[0] <= '9' ? strtol(text, &end, 10) : 0;
  if (!end || *end || n < 1 || n > most)
    return message_set(msg, STATUS_BAD_INPUT, "%s %.40s: a whole number from 1 to %d is accepted", name, text, most);
  *out = (int)n;
  return STATUS_OK;
}

/* K/N, K from 1. */
static status read_share(options *out, const char *text, message *msg)
{
  char rest = 0;
  int k = 0, n = 0;
  if (sscanf(text, "%6d/%6d%c", &k, &n, &rest) != 2 || k < 1 || n < k || n > MOST_SHARES)
    return message_set(msg, STATUS_BAD_INPUT, "--share %.40s: written K/N, for instance 3/8, the third of eight", text);
  out->share = k - 1;
  out->num_shares = n;
  return STATUS_OK;
}

static status take_option(options *out, option_kind kind, const char *value, message *msg)
{
  switch (kind) {
  case OPTION_DIRECTORY:
    if (!*value)
      return message_set(msg, STATUS_BAD_INPUT, "-o needs the name of a directory");
    out->directory = value;
    break;
  case OPTION_SET: out->overrides[out->num_overrides++] = value; break;
  case OPTION_THREADS: return read_number("--threads", value, MOST_THREADS, &out->threads, msg);
  case OPTION_RESUME: out->resume = true; break;
  case OPTION_QUIET: out->quiet = true; break;
  case OPTION_JSON: out->json = true; break;
  case OPTION_SALT: out->brine.salt = value; break;
  case OPTION_MASS: out->brine.mass = value; break;
  case OPTION_WATER: out->brine.water = value; break;
  case OPTION_ONSET: out->brine.onset = value; break;
  case OPTION_STRENGTH: out->brine.strength = value; break;
  case OPTION_TO: out->brine.to = value; break;
  case OPTION_LIQUIDUS: out->brine.liquidus = value; break;
  case OPTION_JOBS: return read_number("--jobs", value, MOST_THREADS, &out->jobs, msg);
  case OPTION_YES: out->yes = true; break;
  case OPTION_SHARE: return read_share(out, value, msg);
  case OPTION_VECTOR:
    if (strcmp(value, "svg") != 0 && strcmp(value, "pdf") != 0)
      return message_set(msg, STATUS_BAD_INPUT, "--vector %.40s: svg or pdf is accepted", value);
    out->vector = value;
    break;
  case OPTION_AT: out->at[out->num_at++] = value; break;
  case OPTION_VARY: out->vary[out->num_vary++] = value; break;
  case OPTION_SLURM: out->slurm = true; break;
  case OPTION_TASKS: return read_number("--tasks", value, MOST_SHARES, &out->tasks, msg);
  case OPTION_BAND: out->band = true; break;
  case OPTION_HELP: out->help = true; break;
  case OPTION_VERSION: out->version = true; break;
  }
  return STATUS_OK;
}

/* Index of the option that word is, with its value after "=" if it has one there; NUM_OPTIONS: none. */
static size_t find_option(const char *word, const char **value)
{
  const char *equals = strncmp(word, "--", 2) == 0 ? strchr(word, '=') : NULL;
  const size_t n = equals ? (size_t)(equals - word) : strlen(word);
  *value = equals ? equals + 1 : NULL;
  for (size_t i = 0; i < NUM_OPTIONS; i++)
    if ((strlen(table[i].name) == n && strncmp(word, table[i].name, n) == 0) || (table[i].letter && strcmp(word, table[i].letter) == 0))
      return i;
  return NUM_OPTIONS;
}

static unsigned bit_of(command_kind command)
{
  for (size_t i = 0; i < NUM_COMMANDS; i++)
    if (commands[i].kind == command)
      return commands[i].bit;
  return FOR_ALL;
}

static status take_word(options *out, const char *word, message *msg)
{
  if (out->command == COMMAND_NONE) {
    for (size_t i = 0; i < NUM_COMMANDS; i++)
      if (strcmp(word, commands[i].name) == 0) {
        out->command = commands[i].kind;
        return STATUS_OK;
      }
    if (out->help && !out->topic && (strcmp(word, "keys") == 0 || strcmp(word, "man") == 0 || strcmp(word, "bash") == 0)) {
      out->topic = word;
      return STATUS_OK;
    }
    return unknown_command(word, msg);
  }
  if (out->command == COMMAND_BRINE)
    return message_set(msg, STATUS_BAD_INPUT, "brine takes no case, so what is \"%.100s\"? A value with spaces goes in quotes: --mass \"18 kg\"", word);
  if (out->command == COMMAND_REPORT || out->command == COMMAND_COMPARE) {
    out->words[out->num_words++] = word;
    return STATUS_OK;
  }
  if (out->command == COMMAND_FIT && out->case_path && !out->log_path) {
    out->log_path = word;
    return STATUS_OK;
  }
  if (out->case_path)
    return message_set(msg, STATUS_BAD_INPUT, "one case at a time: \"%.100s\" and \"%.100s\" are both given", out->case_path, word);
  out->case_path = word;
  return STATUS_OK;
}

static status read_words(options *out, int argc, char *const *argv, message *msg)
{
  unsigned used = FOR_ALL;
  const char *only = NULL; /* the option that narrowed `used` */
  bool plain = false;      /* after "--" all words are plain */
  for (int i = 1; i < argc; i++) {
    const char *value = NULL;
    status code = STATUS_OK;
    if (plain || argv[i][0] != '-' || !argv[i][1]) {
      code = take_word(out, argv[i], msg);
    } else if (strcmp(argv[i], "--") == 0) {
      plain = true;
    } else {
      const size_t k = find_option(argv[i], &value);
      if (k == NUM_OPTIONS)
        return unknown_option(argv[i], msg);
      if (table[k].value && !value && i + 1 >= argc)
        return message_set(msg, STATUS_BAD_INPUT, "%s needs %s after it", table[k].name, table[k].value);
      if (!table[k].value && value)
        return message_set(msg, STATUS_BAD_INPUT, "%s takes no value", table[k].name);
      if (table[k].value && !value)
        value = argv[++i];
      if ((used & table[k].commands) != used)
        only = table[k].name;
      used &= table[k].commands;
      code = take_option(out, table[k].kind, value, msg);
    }
    if (code != STATUS_OK)
      return code;
  }
  if (out->command != COMMAND_NONE && !(used & bit_of(out->command)))
    return message_set(msg, STATUS_BAD_INPUT, "%s does not go with this command; lastwater --help tells what does", only);
  return STATUS_OK;
}

static status check_directories(const options *o, message *msg)
{
  enum { MOST_COMPARED = 12 };
  if (o->command == COMMAND_REPORT && o->num_words != 1)
    return message_set(msg, STATUS_BAD_INPUT, "name one directory with results, for instance: lastwater report drum.result");
  if (o->command == COMMAND_COMPARE && (o->num_words < 2 || o->num_words > MOST_COMPARED))
    return message_set(msg, STATUS_BAD_INPUT, "name two to %d directories with results, for instance: lastwater compare thin.result thick.result",
                       MOST_COMPARED);
  return STATUS_OK;
}

status options_read(options *out, int argc, char *const *argv, message *msg)
{
  options o = {0};
  o.overrides = calloc(4 * (size_t)argc + 4, sizeof *o.overrides);
  if (!o.overrides)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the command line");
  o.words = o.overrides + argc + 1;
  o.vary = o.words + argc + 1;
  o.at = o.vary + argc + 1;
  status code = read_words(&o, argc, argv, msg);
  if (code == STATUS_OK && !o.help && !o.version && o.command == COMMAND_NONE)
    code = message_set(msg, STATUS_BAD_INPUT, "say what to do: lastwater check CASE, lastwater run CASE, lastwater estimate CASE, lastwater brine, "
                                              "lastwater sweep PLAN, lastwater seek PLAN, lastwater fit CASE LOG.csv, lastwater report DIR, lastwater compare DIR DIR; "
                                              "lastwater --help tells more");
  const bool of_results = o.command == COMMAND_REPORT || o.command == COMMAND_COMPARE;
  if (code == STATUS_OK && !o.help && !o.version && of_results)
    code = check_directories(&o, msg);
  else if (code == STATUS_OK && !o.help && !o.version && !o.case_path && o.command != COMMAND_BRINE)
    code = message_set(msg, STATUS_BAD_INPUT, "name the case file, for instance: lastwater run drum.yaml");
  else if (code == STATUS_OK && !o.help && !o.version && o.command == COMMAND_FIT && !o.log_path)
    code = message_set(msg, STATUS_BAD_INPUT, "name the thermometer's log after the case: lastwater fit drum.yaml log.csv");
  if (code != STATUS_OK) {
    options_release(&o);
    o = (options){0};
  }
  *out = o;
  return code;
}

void options_release(options *o)
{
  free(o->overrides);
  o->overrides = NULL;
  o->words = NULL;
  o->num_overrides = 0;
}

/* ------------------------------------------------------------------------------------------------ the table itself */

bool options_command(size_t i, options_row *row)
{
  if (i >= NUM_COMMANDS)
    return false;
  *row = (options_row){.name = commands[i].name, .value = commands[i].arguments, .help = commands[i].help, .commands = commands[i].bit};
  return true;
}

bool options_option(size_t i, options_row *row)
{
  if (i >= NUM_OPTIONS)
    return false;
  *row = (options_row){.name = table[i].name, .letter = table[i].letter, .value = table[i].value, .help = table[i].help, .commands = table[i].commands};
  return true;
}
