#include "solver/front.h"

#include <math.h>
#include <stdlib.h>

#include "solver/heat_flux.h"

enum { START, QUARTER, FREEZE, SOLID, FIRST_FREEZE, FIRST_SOLID, NUM_TIMES };
enum { NUM_LEVELS = 4 }; /* START, QUARTER, FREEZE, SOLID */

struct front_track {
  size_t num_nodes, num_tracked;
  int32_t *tracked;           /* [num_tracked] nodes of water, rising                     */
  int32_t *part;              /* [num_tracked]                                            */
  double (*level)[NUM_LEVELS];/* [num_parts] J/m3                                         */
  double *time;               /* [NUM_TIMES * num_nodes] s                                */
  double (*own)[NUM_LEVELS];  /* [num_nodes] levels of nodes that have their own           */
  int32_t *with_own;          /* [num_own] those nodes                                     */
  bool *has_own;              /* [num_nodes]                                               */
  size_t num_own;
};

status front_track_create(front_track **out, const mesh *m, const rig *r, message *msg)
{
  front_track *f = calloc(1, sizeof *f);
  if (!f) {
    goto no_memory;
  }
  f->num_nodes = m->num_nodes;
  f->tracked = malloc((m->num_nodes + 1) * sizeof *f->tracked);
  f->part = malloc((m->num_nodes + 1) * sizeof *f->part);
  f->level = calloc(r->num_parts + 1, sizeof *f->level);
  f->time = malloc((NUM_TIMES * m->num_nodes + 1) * sizeof *f->time);
  f->own = malloc((m->num_nodes + 1) * sizeof *f->own);
  f->with_own = malloc((m->num_nodes + 1) * sizeof *f->with_own);
  f->has_own = calloc(m->num_nodes + 1, sizeof *f->has_own);
  if (!f->tracked || !f->part || !f->level || !f->time || !f->own || !f->with_own || !f->has_own) {
    goto no_memory;
  }
  for (size_t part = 0; part < r->num_parts; part++) {
    if (r->parts[part].kind == PART_WATER) {
      const phase_curve *c = &r->parts[part].stuff->curve;
      f->level[part][START] = c->liquid_enthalpy;
      f->level[part][FREEZE] = 0.5 * (c->solid_enthalpy + c->liquid_enthalpy);
      f->level[part][QUARTER] = 0.5 * (f->level[part][START] + f->level[part][FREEZE]);
      f->level[part][SOLID] = c->solid_enthalpy;
    }
  }
  for (size_t n = 0; n < m->num_nodes; n++) {
    if (m->volume[n] > 0.0 && m->part[n] >= 0 && r->parts[m->part[n]].kind == PART_WATER) {
      f->tracked[f->num_tracked] = (int32_t)n;
      f->part[f->num_tracked++] = m->part[n];
    }
  }
  for (size_t i = 0; i < NUM_TIMES * m->num_nodes; i++) {
    f->time[i] = NAN;
  }
  *out = f;
  return STATUS_OK;
no_memory:
  front_track_destroy(&f);
  return message_set(msg, STATUS_NO_MEMORY, "out of memory for the freeze times of %zu nodes", m->num_nodes);
}

void front_track_destroy(front_track **f)
{
  if (f && *f) {
    free((*f)->tracked);
    free((*f)->part);
    free((*f)->level);
    free((*f)->time);
    free((*f)->own);
    free((*f)->with_own);
    free((*f)->has_own);
    free(*f);
    *f = NULL;
  }
}

/* Share 0..1 of the step at which the path from `before` down to `after` passes `level`. `slope` is dH/dt at the start times the step.
 * Parabola H = before + slope x + (fall - slope) x^2, x = share of the step; it falls all the way when slope is between
 * 2 fall and 0 (fall = after - before < 0). */
static double crossing(double before, double after, double slope, double level)
{
  const double fall = after - before, down = level - before;
  const double bend = fall - slope;
  if (slope <= 0.0 && slope >= 2.0 * fall && bend != 0.0) {
    /* bend x^2 + slope x - down = 0; the root in [0, 1], in the form that loses no digits. */
    const double root = sqrt(fmax(slope * slope + 4.0 * bend * down, 0.0));
    const double share = 2.0 * down / (slope - root);
    if (share >= 0.0 && share <= 1.0) {
      return share;
    }
  }
  return down / fall;
}

void front_track_set_levels(front_track *f, const front_levels *levels, size_t num)
{
  for (size_t i = 0; i < f->num_own; i++)
    f->has_own[f->with_own[i]] = false;
  f->num_own = 0;
  for (size_t i = 0; i < num; i++) {
    const int32_t node = levels[i].node;
    if (node < 0 || (size_t)node >= f->num_nodes)
      continue; /* a shell round a tube */
    f->own[node][START] = levels[i].start;
    f->own[node][FREEZE] = levels[i].freeze;
    f->own[node][QUARTER] = 0.5 * (levels[i].start + levels[i].freeze);
    f->own[node][SOLID] = levels[i].solid;
    f->has_own[node] = true;
    f->with_own[f->num_own++] = node;
  }
}

void front_track_update_with_rate(front_track *f, double t0, const double *before, const double *rate_before, double t1,
                                  const double *after)
{
#pragma omp parallel for schedule(static) if (f->num_tracked >= HEAT_FLUX_THREADED)
  for (size_t i = 0; i < f->num_tracked; i++) {
    const size_t n = (size_t)f->tracked[i];
    const double *level = f->has_own[n] ? f->own[n] : f->level[f->part[i]];
    for (int which = 0; which < NUM_LEVELS; which++) {
      double *time = &f->time[(size_t)which * f->num_nodes + n];
      if (after[n] > level[which]) {
        *time = NAN;
      } else if (before[n] > level[which]) {
        const double slope = rate_before ? rate_before[n] * (t1 - t0) : after[n] - before[n];
        *time = t0 + (t1 - t0) * crossing(before[n], after[n], slope, level[which]);
      } else if (isnan(*time)) {
        *time = t0; /* below the level before anybody looked */
      }
      if (which == FREEZE || which == SOLID) {
        double *first = &f->time[(size_t)(which == FREEZE ? FIRST_FREEZE : FIRST_SOLID) * f->num_nodes + n];
        *first = isnan(*first) ? *time : *first;
      }
    }
  }
}

void front_track_update(front_track *f, double t0, const double *before, double t1, const double *after)
{
  front_track_update_with_rate(f, t0, before, NULL, t1, after);
}

const double *front_track_start_time(const front_track *f) { return f->time + START * f->num_nodes; }
const double *front_track_quarter_time(const front_track *f)
{
  return f->time + QUARTER * f->num_nodes;
}
const double *front_track_freeze_time(const front_track *f) { return f->time + FREEZE * f->num_nodes; }
const double *front_track_solid_time(const front_track *f) { return f->time + SOLID * f->num_nodes; }
const double *front_track_first_freeze_time(const front_track *f) { return f->time + FIRST_FREEZE * f->num_nodes; }
const double *front_track_first_solid_time(const front_track *f) { return f->time + FIRST_SOLID * f->num_nodes; }
size_t front_track_num_memory(const front_track *f) { return NUM_TIMES * f->num_nodes; }
double *front_track_memory(front_track *f) { return f->time; }
