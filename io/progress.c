#include "io/progress.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

static const double TERMINAL_INTERVAL = 0.1; /* s of wall time between two looks */
static const double LINE_INTERVAL = 5.0;     /* s between two lines into a file  */
static const double EARLIEST_GUESS = 1.0;    /* s before the remaining time is guessed */
enum { NARROWEST = 40, WIDEST = 100, SHORT_BAR = 12, LONG_BAR = 20, WIDE_ENOUGH = 90 };

/* Whole units, two at most: steady in width and no digit that jumps. */
static void say_duration(double seconds, char *text, size_t size)
{
  if (seconds < 60.0)
    (void)snprintf(text, size, "%.0f s", seconds);
  else if (seconds < 3600.0)
    (void)snprintf(text, size, "%.0f min", floor(seconds / 60.0));
  else
    (void)snprintf(text, size, "%.0f h %02.0f min", floor(seconds / 3600.0), floor(fmod(seconds, 3600.0) / 60.0));
}

void progress_begin(progress *p, FILE *to, bool quiet, double wall)
{
  *p = (progress){.to = quiet ? NULL : to, .width = 80, .started_wall = wall, .shown_wall = -INFINITY, .anchor_share = {NAN, NAN}};
  if (!p->to)
    return;
  const char *kind = getenv("TERM"), *no_colour = getenv("NO_COLOR");
  const int fd = fileno(to);
  p->terminal = fd >= 0 && isatty(fd) && kind && strcmp(kind, "dumb") != 0;
  p->colour = p->terminal && !(no_colour && no_colour[0]);
  struct winsize size;
  if (p->terminal && ioctl(fd, TIOCGWINSZ, &size) == 0 && size.ws_col > 0)
    p->width = size.ws_col > WIDEST ? WIDEST : size.ws_col < NARROWEST ? NARROWEST : size.ws_col;
  if (!p->terminal)
    p->shown_wall = wall; /* the first line after one interval: a short run says nothing */
}

/* The pace is taken over the last tenth of the sitting or so, at least two seconds: the anchors move up when the later one is that old. */
static void move_anchors(progress *p, double share, double wall)
{
  const double age = wall - p->anchor_wall[1], enough = fmax(2.0, 0.1 * (wall - p->started_wall));
  if (isnan(p->anchor_share[0])) {
    p->anchor_share[0] = p->anchor_share[1] = share;
    p->anchor_wall[0] = p->anchor_wall[1] = wall;
  } else if (age >= 2.0 * enough || (age >= enough && p->anchor_wall[0] < p->anchor_wall[1])) {
    p->anchor_share[0] = p->anchor_share[1];
    p->anchor_wall[0] = p->anchor_wall[1];
    p->anchor_share[1] = share;
    p->anchor_wall[1] = wall;
  }
}

/* "about 12 s left"; nothing while too little is known. */
static void say_remaining(const progress *p, const progress_state *state, double wall, char *text, size_t size)
{
  text[0] = '\0';
  const double gained = state->frozen_share - p->anchor_share[0], took = wall - p->anchor_wall[0];
  if (wall - p->started_wall < EARLIEST_GUESS || !(took > 0.0) || !(gained > 0.0) || state->frozen_share >= 1.0)
    return;
  char left[48];
  const double remaining = took * (1.0 - state->frozen_share) / gained;
  say_duration(fmax(remaining, 1.0), left, sizeof left);
  (void)snprintf(text, size, ", about %s left", left);
}

static void say_state(const progress *p, const progress_state *state, double wall, char *text, size_t size)
{
  char clock[48], coolant[48] = "", left[80];
  say_duration(state->time, clock, sizeof clock);
  if (isfinite(state->coolant))
    (void)snprintf(coolant, sizeof coolant, ", coolant %.1f C", state->coolant);
  say_remaining(p, state, wall, left, sizeof left);
  /* 99.96 % must not read 100.0 % while there is water. */
  const double percent = state->frozen_share < 1.0 ? fmin(100.0 * state->frozen_share, 99.9) : 100.0;
  (void)snprintf(text, size, "%5.1f %%  at %s%s%s", percent, clock, coolant, left);
}

static void show_on_terminal(progress *p, const progress_state *state, const char *text)
{
  char bar[LONG_BAR + 1];
  const int length = p->width < WIDE_ENOUGH ? SHORT_BAR : LONG_BAR;
  const int full = (int)(length * fmin(fmax(state->frozen_share, 0.0), 1.0));
  for (int i = 0; i < length; i++)
    bar[i] = i < full ? '=' : ' ';
  bar[length] = '\0';
  const int room = p->width - 1 - (length + 3);
  const char *on = p->colour ? "\033[36m" : "", *off = p->colour ? "\033[0m" : "";
  if (room >= 16)
    (void)fprintf(p->to, "\r[%s%s%s] %-*.*s", on, bar, off, room, room, text);
  else
    (void)fprintf(p->to, "\r%-*.*s", p->width - 1, p->width - 1, text);
  (void)fflush(p->to);
  p->line_open = true;
}

void progress_show(progress *p, const progress_state *state, double wall)
{
  if (!p->to)
    return;
  if (isnan(p->anchor_share[0]))
    move_anchors(p, state->frozen_share, wall);
  if (wall - p->shown_wall < (p->terminal ? TERMINAL_INTERVAL : LINE_INTERVAL))
    return;
  p->shown_wall = wall;
  char text[256];
  say_state(p, state, wall, text, sizeof text);
  move_anchors(p, state->frozen_share, wall);
  if (p->terminal)
    show_on_terminal(p, state, text);
  else if (fprintf(p->to, "%s: %s\n", state->stage, text) > 0)
    (void)fflush(p->to);
}

void progress_end(progress *p)
{
  if (p->to && p->line_open) {
    (void)fputc('\n', p->to);
    (void)fflush(p->to);
  }
  p->line_open = false;
}
