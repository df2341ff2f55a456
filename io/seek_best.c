#include "io/seek_best.h"

#include <math.h>
#include <nlopt.h>
#include <stdlib.h>
#include <string.h>

#include "io/sobol.h"

static const double WORST = 10.0; /* what is not known counts as this far off: NaN would lead the search astray */
static const double FIRST_STEP = 0.15, LAST_STEP = 2e-3;
/* The search keeps so much, as a share of a limit, inside it: it comes to a limit from either side, and a last run a hair beyond it keeps none. */
static const double INSIDE = 1e-3;

typedef struct {
  seek_runs *s;
  status code;
  message *msg;
  double scale, middle;  /* of the goal over the first runs */
  nlopt_opt search;
  size_t reserve;        /* runs kept back for the sides    */
} hunt;

/* ------------------------------------------------------------------------------------------------ goal and limits */

static double goal_of(const seek_runs *s, size_t run)
{
  const plan_goal *g = &s->plan->goals[0];
  const double v = s->value[run * s->plan->num_report + seek_runs_column(s, g->path)];
  return g->best == GOAL_MOST ? -v : v;
}

/* How far beyond a limit, as a share of it (of one unit when it is zero); negative inside; WORST when not known. side 0: most, 1: least. */
static double excess_of(const seek_runs *s, size_t run, size_t limit, int side)
{
  const plan_limit *l = &s->plan->limits[limit];
  const double bound = side ? l->least : l->most, v = s->value[run * s->plan->num_report + seek_runs_column(s, l->path)];
  const double scale = fabs(bound) > 0.0 ? fabs(bound) : 1.0;
  if (isnan(bound))
    return -1.0;
  return isnan(v) ? WORST : (side ? bound - v : v - bound) / scale;
}

static double broken_by(const seek_runs *s, size_t run)
{
  double most = isnan(goal_of(s, run)) ? WORST : 0.0;
  for (size_t l = 0; l < s->plan->num_limits; l++)
    for (int side = 0; side < 2; side++)
      most = fmax(most, excess_of(s, run, l, side));
  return most;
}

/* The best that keeps its limits; else the one that breaks them least. */
static size_t find_best(const seek_runs *s)
{
  size_t best = SIZE_MAX;
  for (size_t n = 0; n < s->num; n++) {
    if (isnan(goal_of(s, n)))
      continue;
    const double b = broken_by(s, n), old = best == SIZE_MAX ? INFINITY : broken_by(s, best);
    if (best == SIZE_MAX || b < old || (b <= 0.0 && old <= 0.0 && goal_of(s, n) < goal_of(s, best)))
      best = n;
  }
  return best;
}

/* ------------------------------------------------------------------------------------------------ runs */

static size_t left(const hunt *h)
{
  return h->s->num + h->reserve < h->s->most ? h->s->most - h->s->num - h->reserve : 0;
}

/* Number of the run at a place; made when it was not yet. SIZE_MAX: no runs are left, or something failed. */
static size_t run_at(hunt *h, const double *x)
{
  const size_t inputs = h->s->plan->num_inputs;
  for (size_t n = 0; n < h->s->num; n++) {
    double away = 0.0;
    for (size_t i = 0; i < inputs; i++)
      away = fmax(away, fabs(h->s->place[n * inputs + i] - x[i]));
    if (away < 1e-9)
      return n;
  }
  if (h->code != STATUS_OK || left(h) == 0)
    return SIZE_MAX;
  h->code = seek_runs_make(h->s, x, 1, h->msg);
  return h->code == STATUS_OK ? h->s->num - 1 : SIZE_MAX;
}

static double objective(unsigned n, const double *x, double *gradient, void *data)
{
  hunt *h = data;
  (void)n;
  (void)gradient;
  const size_t run = run_at(h, x);
  if (run == SIZE_MAX) {
    (void)nlopt_force_stop(h->search);
    return WORST;
  }
  const double g = goal_of(h->s, run);
  return isnan(g) ? WORST : (g - h->middle) / h->scale;
}

static void limits(unsigned m, double *result, unsigned n, const double *x, double *gradient, void *data)
{
  hunt *h = data;
  (void)n;
  (void)gradient;
  const size_t run = run_at(h, x);
  for (unsigned k = 0; k < m; k++)
    result[k] = run == SIZE_MAX ? WORST : excess_of(h->s, run, k / 2, (int)(k % 2)) + INSIDE;
  if (run == SIZE_MAX)
    (void)nlopt_force_stop(h->search);
}

/* ------------------------------------------------------------------------------------------------ the search */

static status spread(hunt *h, size_t num)
{
  const size_t inputs = h->s->plan->num_inputs;
  double *places = calloc(num * inputs + 1, sizeof *places);
  if (!places)
    return message_set(h->msg, STATUS_NO_MEMORY, "out of memory for the search");
  for (size_t n = 0; n < num; n++)
    for (size_t i = 0; i < inputs; i++)
      places[n * inputs + i] = sobol_coordinate(i % SOBOL_DIMENSIONS, n + 1);
  const status code = seek_runs_make(h->s, places, num, h->msg);
  free(places);
  return code;
}

static void find_scale(hunt *h)
{
  double low = INFINITY, high = -INFINITY;
  for (size_t n = 0; n < h->s->num; n++)
    if (!isnan(goal_of(h->s, n))) {
      low = fmin(low, goal_of(h->s, n));
      high = fmax(high, goal_of(h->s, n));
    }
  h->middle = low <= high ? low : 0.0;
  h->scale = high > low ? high - low : 1.0;
}

static status descend(hunt *h, size_t from)
{
  const unsigned inputs = (unsigned)h->s->plan->num_inputs, num_limits = 2 * (unsigned)h->s->plan->num_limits;
  double x[PLAN_MOST_INPUTS], low[PLAN_MOST_INPUTS], high[PLAN_MOST_INPUTS], tolerance[2 * 64] = {0}, best = 0.0;
  memcpy(x, h->s->place + from * inputs, inputs * sizeof *x);
  for (unsigned i = 0; i < inputs; i++) {
    low[i] = 0.0;
    high[i] = 1.0;
  }
  h->search = nlopt_create(NLOPT_LN_COBYLA, inputs);
  if (!h->search)
    return message_set(h->msg, STATUS_NO_MEMORY, "out of memory for the search");
  bool ok = nlopt_set_lower_bounds(h->search, low) > 0 && nlopt_set_upper_bounds(h->search, high) > 0 &&
            nlopt_set_min_objective(h->search, objective, h) > 0 && nlopt_set_initial_step1(h->search, FIRST_STEP) > 0 &&
            nlopt_set_xtol_abs1(h->search, LAST_STEP) > 0 && nlopt_set_maxeval(h->search, 100 * (int)h->s->most) > 0;
  if (ok && num_limits)
    ok = nlopt_add_inequality_mconstraint(h->search, num_limits, limits, h, tolerance) > 0;
  const nlopt_result ended = ok ? nlopt_optimize(h->search, x, &best) : NLOPT_FAILURE;
  nlopt_destroy(h->search);
  h->search = NULL;
  if (h->code != STATUS_OK)
    return h->code;
  /* out of runs is told by the forced stop; rounding ends a search that has arrived */
  return ended > 0 || ended == NLOPT_FORCED_STOP || ended == NLOPT_ROUNDOFF_LIMITED ? STATUS_OK
                                                                                   : message_set(h->msg, STATUS_FAILED, "the search for the best failed (%d)", (int)ended);
}

/* ------------------------------------------------------------------------------------------------ how flat */

static status look_aside(hunt *h, seek_best_answer *out)
{
  const size_t inputs = h->s->plan->num_inputs;
  double *places = calloc(2 * inputs * inputs + 1, sizeof *places);
  size_t num = 0, which[2 * PLAN_MOST_INPUTS];
  if (!places)
    return message_set(h->msg, STATUS_NO_MEMORY, "out of memory for the search");
  const double *best = h->s->place + out->run * inputs;
  for (size_t k = 0; k < 2 * inputs; k++) {
    const double there = best[k / 2] + (k % 2 ? SEEK_BEST_STEP : -SEEK_BEST_STEP);
    if (there < 0.0 || there > 1.0)
      continue;
    memcpy(places + num * inputs, best, inputs * sizeof *places);
    places[num * inputs + k / 2] = there;
    which[num++] = k;
  }
  const size_t first = h->s->num;
  const status code = h->s->num + num <= h->s->most ? seek_runs_make(h->s, places, num, h->msg) : STATUS_OK;
  free(places);
  for (size_t n = 0; code == STATUS_OK && h->s->num > first && n < num; n++) {
    const double change = (h->s->plan->goals[0].best == GOAL_MOST ? -1.0 : 1.0) * (goal_of(h->s, first + n) - goal_of(h->s, out->run));
    const bool breaks = broken_by(h->s, first + n) > 0.0;
    seek_best_side *side = &out->side[which[n] / 2];
    *(which[n] % 2 ? &side->high_change : &side->low_change) = change;
    *(which[n] % 2 ? &side->high_breaks : &side->low_breaks) = breaks;
  }
  return code;
}

status seek_best_find(seek_best_answer *out, seek_runs *s, message *msg)
{
  const size_t inputs = s->plan->num_inputs;
  hunt h = {.s = s, .code = STATUS_OK, .msg = msg, .scale = 1.0, .reserve = 2 * inputs < s->most / 3 ? 2 * inputs : 0};
  size_t first = 4 + 4 * inputs;
  *out = (seek_best_answer){.run = SIZE_MAX};
  for (size_t i = 0; i < PLAN_MOST_INPUTS; i++)
    out->side[i] = (seek_best_side){NAN, NAN, false, false};
  first = first < left(&h) ? first : left(&h);
  status code = spread(&h, first);
  find_scale(&h);
  size_t best = find_best(s);
  if (code == STATUS_OK && best != SIZE_MAX && left(&h) > 0)
    code = descend(&h, best);
  out->run = find_best(s);
  if (code != STATUS_OK || out->run == SIZE_MAX)
    return code;
  out->broken = broken_by(s, out->run);
  out->found = out->broken <= 0.0;
  for (size_t i = 0; i < inputs; i++)
    out->at_edge[i] = s->place[out->run * inputs + i] < LAST_STEP || s->place[out->run * inputs + i] > 1.0 - LAST_STEP;
  out->settled = left(&h) > 0; /* else the search was cut short */
  if (out->found)
    code = look_aside(&h, out);
  const size_t now = find_best(s);
  if (now != out->run && broken_by(s, now) <= 0.0) {
    out->run = now;
    out->settled = false;
    for (size_t i = 0; i < inputs; i++)
      out->side[i] = (seek_best_side){NAN, NAN, false, false};
  }
  return code;
}
