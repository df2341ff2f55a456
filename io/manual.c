#include "io/manual.h"

#include <string.h>

#include "io/options.h"

/* ------------------------------------------------------------------------------------------------ manual page */

/* Text for roff: no escapes, hyphens as they are typed, no line that begins with a full stop. */
static void roff(FILE *to, const char *text)
{
  if (*text == '.' || *text == '\'')
    fputs("\\&", to);
  for (; *text; text++) {
    if (*text == '\\')
      fputs("\\e", to);
    else if (*text == '-')
      fputs("\\-", to);
    else
      fputc(*text, to);
  }
}

static void heading(FILE *to, const char *name) { (void)fprintf(to, ".SH %s\n", name); }

static void line(FILE *to, const char *text)
{
  roff(to, text);
  fputc('\n', to);
}

static void write_commands(FILE *to)
{
  options_row c;
  heading(to, "COMMANDS");
  for (size_t i = 0; options_command(i, &c); i++) {
    fputs(".TP\n.B lastwater ", to);
    roff(to, c.name);
    fputs("\\fR ", to);
    roff(to, c.value);
    fputc('\n', to);
    line(to, c.help);
  }
}

/* "check, run" of an option that not every command takes. */
static void write_takers(FILE *to, unsigned bits)
{
  options_row c;
  unsigned all = 0;
  for (size_t i = 0; options_command(i, &c); i++)
    all |= c.commands;
  if ((bits & all) == all)
    return;
  fputs("(", to);
  bool first = true;
  for (size_t i = 0; options_command(i, &c); i++)
    if (c.commands & bits) {
      fputs(first ? "" : ", ", to);
      roff(to, c.name);
      first = false;
    }
  fputs(")\n", to);
}

static void write_options(FILE *to)
{
  options_row o;
  heading(to, "OPTIONS");
  for (size_t i = 0; options_option(i, &o); i++) {
    fputs(".TP\n.B ", to);
    if (o.letter) {
      roff(to, o.letter);
      fputs("\\fR, \\fB", to);
    }
    roff(to, o.name);
    if (o.value) {
      fputs(" \\fI", to);
      roff(to, o.value);
    }
    fputs("\\fR\n", to);
    line(to, o.help);
    write_takers(to, o.commands);
  }
}

bool manual_print_man(FILE *to)
{
  (void)fprintf(to, ".TH LASTWATER 1 \"\" \"lastwater %s\" \"User Commands\"\n", LASTWATER_VERSION);
  heading(to, "NAME");
  line(to, "lastwater - foretells how water freezes in a mould");
  heading(to, "SYNOPSIS");
  line(to, "lastwater COMMAND [ARGUMENTS] [OPTIONS]");
  heading(to, "DESCRIPTION");
  line(to, "Reads one case file and tells how long the block takes to freeze, where the last water sits and whether it is trapped, whether the bath stays "
           "soft enough to draw the mould, what the plant carries and where the cold goes. Results go into a directory beside the case: report.html, "
           "summary.txt, summary.json, series.csv, fields.h5 and pictures.");
  write_commands(to);
  write_options(to);
  heading(to, "ENVIRONMENT");
  fputs(".TP\n.B NO_COLOR\n", to);
  line(to, "When set and not empty, no colour on the terminal. There is none either when the output is not a terminal.");
  heading(to, "EXIT STATUS");
  line(to, "0 done, 1 failed, 2 the input is wrong (nothing is written), 130 interrupted (--resume goes on).");
  heading(to, "CAUTION");
  line(to, "Forecasts, not permission: local codes, makers' instructions and licensed practice come first.");
  return !ferror(to);
}

/* ------------------------------------------------------------------------------------------------ completion */

static void write_words(FILE *to, unsigned command)
{
  options_row o;
  bool first = true;
  for (size_t i = 0; options_option(i, &o); i++)
    if (o.commands & command) {
      (void)fprintf(to, "%s%s%s%s", first ? "" : " ", o.letter ? o.letter : "", o.letter ? " " : "", o.name);
      first = false;
    }
}

bool manual_print_bash(FILE *to)
{
  options_row c;
  fputs("# Completion of lastwater for bash; made by: lastwater --help bash\n"
        "_lastwater()\n{\n  local word=${COMP_WORDS[COMP_CWORD]} command= w\n"
        "  for w in \"${COMP_WORDS[@]:1:COMP_CWORD-1}\"; do\n    case $w in\n      -*) ;;\n      *) command=$w; break ;;\n    esac\n  done\n"
        "  case $command in\n    '') COMPREPLY=($(compgen -W \"", to);
  for (size_t i = 0; options_command(i, &c); i++)
    (void)fprintf(to, "%s ", c.name);
  fputs("--help --version\" -- \"$word\")); return ;;\n", to);
  for (size_t i = 0; options_command(i, &c); i++) {
    const bool directories = strncmp(c.value, "DIR", 3) == 0, files = strncmp(c.value, "CASE", 4) == 0 || strncmp(c.value, "PLAN", 4) == 0;
    (void)fprintf(to, "    %s)\n      if [[ $word == -* ]]; then COMPREPLY=($(compgen -W \"", c.name);
    write_words(to, c.commands);
    (void)fprintf(to, "\" -- \"$word\")); else COMPREPLY=(%s); fi ;;\n",
                  directories ? "$(compgen -d -- \"$word\")"
                  : files     ? "$(compgen -d -- \"$word\") $(compgen -f -X '!*.y?(a)ml' -- \"$word\")"
                              : "$(compgen -f -- \"$word\")");
  }
  fputs("  esac\n}\ncomplete -o filenames -F _lastwater lastwater\n", to);
  return !ferror(to);
}
