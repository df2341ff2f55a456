#include "solver/heat_step.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/front_cells.h"
#include "solver/heat_flux.h"
#include "solver/stabilised.h"
#include "solver/time_integrator.h"

static const double DEFAULT_TOLERANCE = 0.1;      /* of the latent heat, RMS over the nodes */
static const double DEFAULT_BDF_TOLERANCE = 1e-4; /* relative */
/* What the nodes of the front offer is found anew between steps: it must not run further in one. Chosen on plane freezing of other
 * temperatures than the checks have: the front is then 0.002 to 0.02 nodes off, at half a node 0.005 to 0.03 (4 to 200 nodes deep). */
static const double NODES_PER_STEP = 0.25;
/* What that costs in time falls as one over the front's depth, so deeper than ten nodes a step may go a fortieth of it, as far as it was looked ahead
 * (front_cells_refresh). The tolerance grows with it in the parts that freeze so: what the estimate finds there is how the front passes from node to
 * node. */
static const double OF_DEPTH = 0.025, BEYOND_AHEAD = 0.25;
static const double FIRST_STEP = 1.0;             /* s */
static const double SHORTEST_STEP = 1e-7;         /* s */
static const double SAFETY = 0.8, LARGEST_GROWTH = 2.0, LARGEST_CUT = 0.2;
/* Of what should long have decayed within a step RKC2 leaves a third to three fifths. What a node frozen through has left over of its latent
 * heat is of that kind, and what the front does in the nodes behind is found from it (front_node.h); so a step ends with a short one of RKC1, which is of first
 * order but leaves little of all that decays at a quarter of the bound or faster. While a corner of 56 or 64 nodes freezes, steps of more than half a node make up
 * to 4e5 times as much of a rounding where it leaves a tenth, up to 5e3 times where seven stages leave 0.03. In steps of many stages those cost next to nothing, and
 * something else than the ice sets the bound: by it, what is left over decays slowly (a tapered aluminium pot in still brine in 5 mm cells made 3e-6 of a rounding,
 * now 1e-12). */
typedef struct {
  size_t stages;
  double left;
} tail_kind;
static const tail_kind SHORT_TAIL = {3, 0.45}, LONG_TAIL = {7, 0.03};
static const double LONG_STEP = 0.5;                         /* nodes */
static const size_t MANY_STAGES = 40;
static const double TAIL_REACH = 0.95, LONGEST_TAIL = 0.1;   /* of what is stable (checked at its end too); of the step: no tail where it would be longer */
enum { MOST_TRIES = 60, BLOCK = 4096, LANES = 8, NO_PART = -1, MANY_PARTS = -2 };

struct heat_step {
  network *net;
  heat_step_options options;
  size_t num_nodes, num_paths, num_blocks;
  double *previous, *spare, *rate_before, *rate_after; /* [num_nodes] */
  double *previous_path_heat;                          /* [num_paths] */
  double *path_before, *path_last[2], *path_after, *path_gain[2]; /* [num_paths] W, and J since the start of the step */
  double *block_sum;                                   /* [num_blocks] */
  double *judged, num_judged;                          /* [num_nodes] network_count where the error counts (a node with volume), else 0; and their sum */
  int32_t *block_part;                                 /* [num_blocks] the one part of all nodes judged in it, or MANY_PARTS */
  size_t num_parts;
  double *share;                                       /* [num_parts] so much of a node's error counts in the step at hand */
  double previous_time, previous_next_step, previous_last_error;
  int previous_nodes_ahead;
  stage_weights *weights; /* [STABILISED_MOST_STAGES + 1] */
  size_t steps, rejected, stages;
  size_t own_rates;     /* evaluations beside those of the bdf integrator */
  time_integrator *bdf; /* NULL with the stabilised integrator */
  double previous_open;
  double bdf_first;     /* s, the step to start with, after one that was undone; 0: CVODE's own choice */
  bool bdf_running;     /* its history belongs to the state last handed out */
};

/* ------------------------------------------------------------------------------------------- making */

static status allocate(heat_step *s, message *msg)
{
  double **by_node[] = {&s->previous, &s->spare, &s->rate_before, &s->rate_after, &s->judged};
  double **by_path[] = {&s->previous_path_heat, &s->path_before, &s->path_last[0], &s->path_last[1], &s->path_after, &s->path_gain[0], &s->path_gain[1]};
  s->block_sum = calloc(s->num_blocks + 1, sizeof *s->block_sum);
  s->block_part = calloc(s->num_blocks + 1, sizeof *s->block_part);
  s->share = calloc(s->num_parts + 1, sizeof *s->share);
  s->weights = calloc(STABILISED_MOST_STAGES + 1, sizeof *s->weights);
  bool ok = s->block_sum && s->block_part && s->share && s->weights;
  for (size_t a = 0; a < sizeof by_node / sizeof *by_node; a++)
    ok = (*by_node[a] = calloc(s->num_nodes + 1, sizeof(double))) != NULL && ok;
  for (size_t a = 0; a < sizeof by_path / sizeof *by_path; a++)
    ok = (*by_path[a] = calloc(s->num_paths + 1, sizeof(double))) != NULL && ok;
  return ok ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory: integrator of %zu nodes", s->num_nodes);
}

/* Which nodes the error is judged in. */
static void find_judged(heat_step *s)
{
  const int32_t *part = network_part(s->net);
  for (size_t b = 0; b < s->num_blocks; b++)
    s->block_part[b] = NO_PART;
  for (size_t i = 0; i < s->num_nodes; i++) {
    int32_t *of_block = &s->block_part[i / BLOCK];
    s->judged[i] = network_volume(s->net)[i] > 0.0 ? network_count(s->net, i) : 0.0;
    s->num_judged += s->judged[i];
    if (s->judged[i] > 0.0)
      *of_block = *of_block == NO_PART || *of_block == part[i] ? part[i] : MANY_PARTS;
  }
}

status heat_step_create(heat_step **out, network *net, const heat_step_options *options, message *msg)
{
  if (!(options->latent_scale > 0.0))
    return message_set(msg, STATUS_BAD_INPUT, "the latent heat that errors are measured against is %g J/m3; it must be above 0",
                       options->latent_scale);
  heat_step *s = calloc(1, sizeof *s);
  if (!s)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes", sizeof *s);
  s->net = net;
  s->options = *options;
  s->num_nodes = network_num_nodes(net);
  s->num_paths = network_num_paths(net);
  s->num_parts = network_num_parts(net);
  s->num_blocks = (s->num_nodes + BLOCK - 1) / BLOCK;
  const bool bdf = options->integrator == INTEGRATOR_BDF;
  if (!(options->tolerance > 0.0))
    s->options.tolerance = bdf ? DEFAULT_BDF_TOLERANCE : DEFAULT_TOLERANCE;
  status code = allocate(s, msg);
  if (code == STATUS_OK)
    find_judged(s);
  if (code == STATUS_OK && bdf)
    code = time_integrator_create(&s->bdf, net, s->options.tolerance, options->latent_scale, msg);
  if (code != STATUS_OK) {
    heat_step_destroy(&s);
    return code;
  }
  *out = s;
  return STATUS_OK;
}

void heat_step_destroy(heat_step **s)
{
  if (!*s)
    return;
  heat_step *x = *s;
  time_integrator_destroy(&x->bdf);
  double *owned[] = {x->previous,    x->spare,     x->rate_before, x->rate_after,   x->judged,       x->previous_path_heat,
                     x->path_before, x->path_last[0], x->path_last[1], x->path_after,  x->path_gain[0], x->path_gain[1], x->block_sum, x->share};
  for (size_t i = 0; i < sizeof owned / sizeof *owned; i++)
    free(owned[i]);
  free(x->block_part);
  free(x->weights);
  free(x);
  *s = NULL;
}

/* ------------------------------------------------------------------------------------------- one try of the stabilised step */

static double stable_step(double bound, size_t stages)
{
  return bound > 0.0 ? stabilised_reach(stages) / bound : INFINITY;
}

/* Heat gained by each path since the start of the step: the same stage as the nodes', with Y_0 = 0. */
static void path_stage(const heat_step *s, const stage_weights *w, const double *rate, const double *last, double *next)
{
  for (size_t p = 0; p < s->num_paths; p++)
    next[p] = w->mu * last[p] + w->nu * next[p] + w->start_rate * s->path_before[p] + w->rate * rate[p];
}

/* Stages 2 to `stages` (odd) by s->weights, Y_1 in state->enthalpy and Y_0 in s->spare. */
static status march_stages(heat_step *s, thermal_state *state, size_t stages, message *msg)
{
  for (size_t j = 2; j <= stages; j += 2) {
    const stage_weights *w = &s->weights[j];
    const status code = network_stages(s->net, w, s->previous, s->rate_before, state->enthalpy, s->spare, s->path_last, msg);
    if (code != STATUS_OK)
      return code;
    path_stage(s, &w[0], s->path_last[0], s->path_gain[0], s->path_gain[1]);
    path_stage(s, &w[1], s->path_last[1], s->path_gain[1], s->path_gain[0]);
  }
  return STATUS_OK;
}

/* From s->previous (rates s->rate_before) over `step`; the result lands in state->enthalpy, the heat of the paths in path_gain[0]. */
static status take_stages(heat_step *s, thermal_state *state, double step, size_t stages, message *msg)
{
  const double first = stabilised_second_order(stages, step, s->weights);
  double *last = state->enthalpy, *before = s->spare;
#pragma omp parallel for simd schedule(static) if (s->num_nodes >= HEAT_FLUX_THREADED)
  for (size_t i = 0; i < s->num_nodes; i++) {
    last[i] = s->previous[i] + first * s->rate_before[i];
    before[i] = s->previous[i];
  }
  for (size_t p = 0; p < s->num_paths; p++) {
    s->path_gain[0][p] = first * s->path_before[p];
    s->path_gain[1][p] = 0.0;
  }
  s->stages += stages;
  return march_stages(s, state, stages, msg);
}

/* Ends the step: RKC1 on from state->enthalpy, whose rates are s->rate_after. */
static status take_tail(heat_step *s, thermal_state *state, tail_kind kind, double tail, message *msg)
{
  const double first = stabilised_first_order(kind.stages, kind.left, tail, s->weights);
  double *last = state->enthalpy, *before = s->spare;
#pragma omp parallel for simd schedule(static) if (s->num_nodes >= HEAT_FLUX_THREADED)
  for (size_t i = 0; i < s->num_nodes; i++) {
    before[i] = last[i];
    last[i] += first * s->rate_after[i];
  }
  for (size_t p = 0; p < s->num_paths; p++) {
    s->path_gain[1][p] = s->path_gain[0][p];
    s->path_gain[0][p] += first * s->path_after[p];
  }
  s->stages += kind.stages - 1;
  return march_stages(s, state, kind.stages, msg);
}

/* Error estimate of Sommeijer, Shampine & Verwer 1998 (J. Comput. Appl. Math. 88:315),
 *   0.8 (y_n - y_(n+1)) + 0.4 h (F_n + F_(n+1)). */
static inline double error_at(const heat_step *s, const double *enthalpy, double step, size_t i)
{
  return 0.8 * (s->previous[i] - enthalpy[i]) + 0.4 * step * (s->rate_before[i] + s->rate_after[i]);
}

/* Of all that is judged in a block so much counts. Its squares summed in LANES fixed strands. */
static double error_of_even(const heat_step *s, const double *enthalpy, double step, size_t from, size_t to, double share)
{
  double strand[LANES] = {0};
  size_t i = from;
  for (; i + LANES <= to; i += LANES)
    for (size_t l = 0; l < LANES; l++) {
      const double e = error_at(s, enthalpy, step, i + l);
      strand[l] += share * s->judged[i + l] * e * e;
    }
  for (size_t l = 0; i < to; i++, l++) {
    const double e = error_at(s, enthalpy, step, i);
    strand[l] += share * s->judged[i] * e * e;
  }
  double sum = 0.0;
  for (size_t l = 0; l < LANES; l++)
    sum += strand[l];
  return sum;
}

/* The same of a block with nodes of several parts. */
static double error_of_mixed(const heat_step *s, const double *enthalpy, double step, size_t from, size_t to)
{
  const int32_t *part = network_part(s->net);
  double strand[LANES] = {0}, sum = 0.0;
  for (size_t i = from; i < to; i++)
    if (s->judged[i] > 0.0) {
      const double e = error_at(s, enthalpy, step, i);
      strand[(i - from) % LANES] += s->share[part[i]] * s->judged[i] * e * e;
    }
  for (size_t l = 0; l < LANES; l++)
    sum += strand[l];
  return sum;
}

static void one_block(heat_step *s, const double *enthalpy, double step, size_t b)
{
  const size_t from = b * BLOCK, to = from + BLOCK < s->num_nodes ? from + BLOCK : s->num_nodes;
  const int32_t part = s->block_part[b];
  s->block_sum[b] = part == MANY_PARTS ? error_of_mixed(s, enthalpy, step, from, to)
                                       : error_of_even(s, enthalpy, step, from, to, part == NO_PART ? 0.0 : s->share[part]);
}

/* RMS of the estimate over the tolerance; <= 1 is good. */
static double error_of(heat_step *s, const double *enthalpy, double step)
{
  if (s->num_nodes < HEAT_FLUX_THREADED) {
    for (size_t b = 0; b < s->num_blocks; b++)
      one_block(s, enthalpy, step, b);
  } else {
#pragma omp parallel for schedule(static)
    for (size_t b = 0; b < s->num_blocks; b++)
      one_block(s, enthalpy, step, b);
  }
  double sum = 0.0;
  for (size_t b = 0; b < s->num_blocks; b++)
    sum += s->block_sum[b];
  const double rms = sqrt(sum / (s->num_judged > 0.0 ? s->num_judged : 1.0));
  return rms / (s->options.tolerance * s->options.latent_scale);
}

/* ------------------------------------------------------------------------------------------- the controller */

/* The estimate is of third order in the step. */
static double factor_for(double error)
{
  const double wanted = error > 0.0 ? SAFETY * cbrt(1.0 / error) : LARGEST_GROWTH;
  return wanted > LARGEST_GROWTH ? LARGEST_GROWTH : wanted < LARGEST_CUT ? LARGEST_CUT : wanted;
}

static size_t first_not_finite(const double *enthalpy, size_t num)
{
  size_t i = 0;
  while (i < num && isfinite(enthalpy[i]))
    i++;
  return i;
}

/* Where it began: in the state before the step, else in the one that was tried. */
static size_t worst_node(const heat_step *s, const double *enthalpy)
{
  const size_t before = first_not_finite(s->previous, s->num_nodes), after = first_not_finite(enthalpy, s->num_nodes);
  return before < s->num_nodes ? before : after < s->num_nodes ? after : 0;
}

static status give_up(const heat_step *s, const thermal_state *state, double step, const char *why, message *msg)
{
  const size_t node = worst_node(s, state->enthalpy);
  return message_set(msg, STATUS_FAILED, "step %zu, t = %g s, step %g s: %s (node %zu, %g J/m3); try a smaller tolerance or a shorter longest step",
                     s->steps + 1, state->time, step, why, node, state->enthalpy[node]);
}

static void keep_previous(heat_step *s, const thermal_state *state)
{
#pragma omp parallel for simd schedule(static) if (s->num_nodes >= HEAT_FLUX_THREADED)
  for (size_t i = 0; i < s->num_nodes; i++)
    s->previous[i] = state->enthalpy[i];
  memcpy(s->previous_path_heat, state->path_heat, s->num_paths * sizeof *s->previous_path_heat);
  s->previous_time = state->time;
  s->previous_next_step = state->next_step;
  s->previous_last_error = state->last_error;
  s->previous_open = state->open;
  s->previous_nodes_ahead = state->nodes_ahead;
}

double heat_step_rung_below(double step)
{
  enum { RUNGS = 64 };
  int exponent;
  const double share = frexp(step, &exponent);
  return isfinite(step) ? ldexp(floor(share * RUNGS) / RUNGS, exponent) : step;
}

/* The step to try: what the controller wants, within the caps; two even halves rather than a sliver at the end of `most`. */
static double step_to_try(const heat_step *s, double wanted, double most)
{
  double step = heat_step_rung_below(wanted);
  if (s->options.longest_step > 0.0 && step > s->options.longest_step)
    step = s->options.longest_step;
  if (step >= most)
    return most;
  return step > 0.5 * most ? 0.5 * most : step;
}

typedef struct {
  double error; /* over the tolerance; may be infinite */
  bool stable;  /* the stages taken suffice for the bound at both ends */
  double tail;  /* s, of the step, still to be taken */
  tail_kind kind; /* of that */
  double nodes; /* that the front might have run in the step had it been looked so far ahead */
} verdict;

/* The error in the parts that a front may run through counts so much, that in others whole. */
static void weigh_front(heat_step *s, double share)
{
  for (size_t part = 0; part < s->num_parts; part++)
    s->share[part] = network_front_may_enter(s->net, (int32_t)part) ? share * share : 1.0;
}

/* Nodes that a front so deep may run through in a step. */
static double nodes_for(double depth)
{
  const double nodes = OF_DEPTH * depth;
  return nodes > NODES_PER_STEP ? nodes : NODES_PER_STEP;
}

static int nodes_ahead_for(double nodes)
{
  const double ahead = ceil(nodes - BEYOND_AHEAD);
  return ahead <= 1.0 ? 1 : ahead < FRONT_CELLS_MOST_AHEAD ? (int)ahead : FRONT_CELLS_MOST_AHEAD;
}

/* Its length, s; 0: it does not fit into the step. */
static double tail_length(tail_kind kind, double bound, double step)
{
  const double reach = TAIL_REACH * stabilised_first_order_reach(kind.stages, kind.left);
  return bound * step * LONGEST_TAIL >= reach ? reach / bound : 0.0;
}

static tail_kind tail_for(double nodes, double bound, double step)
{
  const bool wanted = nodes > LONG_STEP || stabilised_stages_for(bound * step) >= MANY_STAGES;
  return wanted && tail_length(LONG_TAIL, bound, step) > 0.0 ? LONG_TAIL : SHORT_TAIL;
}

/* Refresh at the middle of the step, its stages but for the tail, rate and bound at their end. */
static status try_step(heat_step *s, thermal_state *state, double *step, double *known_bound, verdict *v, message *msg)
{
  const int nodes_ahead = state->nodes_ahead > 0 ? state->nodes_ahead : 1;
  double bound = 0.0;
  status code = network_refresh(s->net, s->previous, s->previous_time + 0.5 * *step, nodes_ahead, &bound, msg);
  if (code == STATUS_OK)
    code = network_rate(s->net, s->previous, s->rate_before, s->path_before, msg);
  if (code != STATUS_OK)
    return code;
  bound = bound > *known_bound ? bound : *known_bound;
  const network_front_motion front = network_front_moves(s->net, s->previous, s->rate_before);
  const double pace = front.pace, most_nodes = (double)nodes_ahead + BEYOND_AHEAD;
  v->nodes = nodes_for(front.depth);
  const double nodes = v->nodes < most_nodes ? v->nodes : most_nodes;
  if (pace * *step > nodes)
    *step = heat_step_rung_below(nodes / pace);
  v->kind = tail_for(nodes, bound, *step);
  v->tail = tail_length(v->kind, bound, *step);
  double main_step = *step - v->tail;
  const size_t stages = stabilised_stages_for(bound * main_step);
  const double reach = stable_step(bound, stages);
  if (main_step > reach) {
    main_step = reach;
    *step = main_step + v->tail;
  }
  code = take_stages(s, state, main_step, stages, msg);
  if (code == STATUS_OK)
    code = network_rate(s->net, state->enthalpy, s->rate_after, s->path_after, msg);
  if (code != STATUS_OK)
    return code;
  weigh_front(s, NODES_PER_STEP / nodes);
  v->error = error_of(s, state->enthalpy, main_step);
  v->stable = true;
  if (isfinite(v->error) && v->error <= 1.0) {
    const double bound_after = network_bound(s->net, state->enthalpy);
    v->stable = main_step <= 1.05 * stable_step(bound_after, stages) && v->tail * bound_after <= stabilised_first_order_reach(v->kind.stages, v->kind.left);
    *known_bound = bound_after > bound ? bound_after : bound;
  }
  return code;
}

static status advance_stabilised(heat_step *s, thermal_state *state, double most, message *msg)
{
  keep_previous(s, state);
  const double wanted = state->next_step > 0.0 ? state->next_step : FIRST_STEP;
  double step = step_to_try(s, wanted, most), known_bound = 0.0;
  for (int attempt = 0; attempt < MOST_TRIES; attempt++) {
    verdict v = {0};
    const double asked = step;
    status code = try_step(s, state, &step, &known_bound, &v, msg);
    if (code != STATUS_OK)
      return code;
    if (isfinite(v.error) && v.error <= 1.0 && v.stable) {
      if (v.tail > 0.0)
        code = take_tail(s, state, v.kind, v.tail, msg);
      if (code != STATUS_OK)
        return code;
      const double next = step * factor_for(v.error);
      state->time = step == most ? s->previous_time + most : s->previous_time + step;
      for (size_t p = 0; p < s->num_paths; p++)
        state->path_heat[p] = s->previous_path_heat[p] + s->path_gain[0][p];
      /* a step cut short by `most` says nothing against the longer one that was wanted */
      state->next_step = asked < wanted && attempt == 0 && next < wanted ? wanted : next;
      state->last_error = v.error;
      state->nodes_ahead = nodes_ahead_for(v.nodes);
      s->steps++;
      return STATUS_OK;
    }
    s->rejected++;
    if (isfinite(v.error) && v.error > 1.0)
      step = heat_step_rung_below(step * factor_for(v.error));
    else if (!isfinite(v.error))
      step *= LARGEST_CUT;
    if (step < SHORTEST_STEP)
      break;
  }
  const status code = give_up(s, state, step, "the error stays above the tolerance", msg);
  heat_step_undo(s, state);
  return code;
}

/* ------------------------------------------------------------------------------------------- bdf */

/* Of two lengths of steps, s; 0: none. */
static double shorter_of(double a, double b)
{
  return a > 0.0 && (a < b || !(b > 0.0)) ? a : b;
}

static status advance_bdf(heat_step *s, thermal_state *state, double most, message *msg)
{
  keep_previous(s, state);
  status code = STATUS_OK;
  if (!s->bdf_running)
    code = time_integrator_restart(s->bdf, state->time, s->bdf_first, state->enthalpy, state->path_heat, msg);
  double bound = 0.0, longest = shorter_of(s->options.longest_step, most);
  const double planned = shorter_of(s->bdf_running ? time_integrator_planned_step(s->bdf) : s->bdf_first, longest);
  if (code == STATUS_OK)
    code = network_refresh(s->net, s->previous, state->time + planned, 1, &bound, msg); /* these formulas take their rate at the end of the step */
  if (code == STATUS_OK)
    code = network_rate(s->net, s->previous, s->rate_before, s->path_before, msg);
  if (code == STATUS_OK) {
    const double pace = network_front_moves(s->net, s->previous, s->rate_before).pace;
    longest = shorter_of(longest, pace > 0.0 ? NODES_PER_STEP / pace : 0.0);
    code = time_integrator_step(s->bdf, state->time + most, longest, &state->time, state->enthalpy, state->path_heat, &state->open, msg);
  }
  if (code == STATUS_OK)
    code = network_refresh(s->net, state->enthalpy, state->time, 1, &bound, msg);
  if (code == STATUS_OK)
    code = network_rate(s->net, state->enthalpy, s->rate_after, s->path_after, msg);
  if (code != STATUS_OK)
    return code;
  state->next_step = state->time - s->previous_time;
  s->bdf_running = true;
  s->bdf_first = 0.0;
  s->steps++;
  size_t rates = 0, failures = 0;
  time_integrator_counts(s->bdf, &rates, &failures);
  s->own_rates += 2;
  s->stages = s->own_rates + rates;
  s->rejected = failures;
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------- public */

status heat_step_advance(heat_step *s, thermal_state *state, double most, message *msg)
{
  if (!(most > 0.0))
    return message_set(msg, STATUS_FAILED, "t = %g s: asked for a step of %g s", state->time, most);
  return s->bdf ? advance_bdf(s, state, most, msg) : advance_stabilised(s, state, most, msg);
}

const double *heat_step_previous_enthalpy(const heat_step *s)
{
  return s->previous;
}

double heat_step_previous_time(const heat_step *s)
{
  return s->previous_time;
}

const double *heat_step_rate_before(const heat_step *s)
{
  return s->rate_before;
}

void heat_step_undo(heat_step *s, thermal_state *state)
{
  const double undone = state->time - s->previous_time;
  memcpy(state->enthalpy, s->previous, s->num_nodes * sizeof *s->previous);
  memcpy(state->path_heat, s->previous_path_heat, s->num_paths * sizeof *s->previous_path_heat);
  state->time = s->previous_time;
  state->next_step = s->previous_next_step;
  state->last_error = s->previous_last_error;
  state->open = s->previous_open;
  state->nodes_ahead = s->previous_nodes_ahead;
  s->bdf_first = undone;
  s->bdf_running = false;
}

void heat_step_settle(heat_step *s, thermal_state *state)
{
  if (!s->bdf || state->open == 0.0)
    return;
  time_integrator_give_back(s->bdf, state->enthalpy, &state->open);
  state->open = 0.0; /* what is left is the rounding of the enthalpies */
  heat_step_restart(s);
}

void heat_step_restart(heat_step *s)
{
  s->bdf_running = false;
  s->bdf_first = 0.0;
}

void heat_step_counts(const heat_step *s, size_t *steps, size_t *rejected, size_t *stages)
{
  *steps = s->steps;
  *rejected = s->rejected;
  *stages = s->stages;
}
