#include "tests/bench/stage_cost.h"

#include <math.h>
#include <omp.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "tests/bench/stopwatch.h"

/* Resident memory of this program, bytes. */
static double resident(void)
{
  FILE *f = fopen("/proc/self/statm", "r");
  long all = 0, pages = 0;
  const int got = f ? fscanf(f, "%ld %ld", &all, &pages) : 0;
  if (f)
    (void)fclose(f);
  return got == 2 ? (double)pages * (double)sysconf(_SC_PAGESIZE) : 0.0;
}

static int by_size(const void *a, const void *b)
{
  const double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* What every round found. */
enum { STAGE, OF_TRIAD, SPEEDUP, TRIAD_SPEEDUP, OF_SPEEDUP, FIGURES };

typedef struct {
  network *net;
  heat_step *step;
  thermal_state state;
  double *spare, *path[2], *figure[FIGURES];
} march;

static status open_march(march *x, const freeze_problem *problem, double moment, size_t rounds, message *msg)
{
  const heat_step_options options = {.integrator = INTEGRATOR_STABILISED, .latent_scale = 3.06e8};
  status code = network_create(&x->net, problem->m, problem->r, msg);
  if (code == STATUS_OK)
    code = heat_step_create(&x->step, x->net, &options, msg);
  if (code != STATUS_OK)
    return code;
  x->state.enthalpy = calloc(network_num_nodes(x->net) + 1, sizeof(double));
  x->state.path_heat = calloc(3 * network_num_paths(x->net) + 1, sizeof(double));
  x->spare = calloc(network_num_nodes(x->net) + 1, sizeof(double));
  x->figure[0] = calloc(FIGURES * rounds + 1, sizeof(double));
  if (!x->state.enthalpy || !x->state.path_heat || !x->spare || !x->figure[0])
    return message_set(msg, STATUS_NO_MEMORY, "out of memory");
  for (size_t f = 1; f < FIGURES; f++)
    x->figure[f] = x->figure[0] + f * rounds;
  for (size_t p = 0; p < 2; p++)
    x->path[p] = x->state.path_heat + (p + 1) * network_num_paths(x->net);
  network_initial(x->net, x->state.enthalpy);
  while (code == STATUS_OK && x->state.time < moment)
    code = heat_step_advance(x->step, &x->state, moment - x->state.time, msg);
  memcpy(x->spare, x->state.enthalpy, network_num_nodes(x->net) * sizeof *x->spare);
  return code;
}

/* s per stage with so many threads, pairs of stages being repeated for some milliseconds once the caches hold what they can. Weights of no
 * consequence, that keep the state where it is. */
static status time_stage(march *x, int threads, double *seconds, message *msg)
{
  static const double LONG_ENOUGH = 0.01;
  const stage_weights w[2] = {{0.5, 0.3, 0.2, 1e-3, 1e-3}, {0.4, 0.3, 0.3, 1e-3, 1e-3}};
  const double *start = heat_step_previous_enthalpy(x->step), *rate = heat_step_rate_before(x->step);
  omp_set_num_threads(threads);
  status code = network_stages(x->net, w, start, rate, x->state.enthalpy, x->spare, x->path, msg);
  *seconds = INFINITY;
  for (double spent = 0.0; code == STATUS_OK && spent < LONG_ENOUGH;) {
    const double begin = stopwatch_wall();
    code = network_stages(x->net, w, start, rate, x->state.enthalpy, x->spare, x->path, msg);
    const double took = stopwatch_wall() - begin;
    *seconds = 0.5 * took < *seconds ? 0.5 * took : *seconds;
    spent += took;
  }
  return code;
}

/* One and two threads in turn, the triad beside each. */
static status one_round(march *x, size_t round, double bytes, triad *t, message *msg)
{
  double stage[2], rate[2];
  for (int n = 0; n < 2; n++) {
    const int threads = n == (int)(round % 2) ? 1 : 2;
    rate[threads - 1] = triad_sweep(t, threads);
    const status code = time_stage(x, threads, &stage[threads - 1], msg);
    if (code != STATUS_OK)
      return code;
  }
  x->figure[STAGE][round] = stage[0];
  x->figure[OF_TRIAD][round] = 1e-9 * bytes / stage[0] / rate[0];
  x->figure[SPEEDUP][round] = stage[0] / stage[1];
  x->figure[TRIAD_SPEEDUP][round] = rate[1] / rate[0];
  x->figure[OF_SPEEDUP][round] = x->figure[SPEEDUP][round] / x->figure[TRIAD_SPEEDUP][round];
  return STATUS_OK;
}

status stage_cost_measure(const freeze_problem *problem, double moment, size_t rounds, double bytes_per_stage, triad *t, stage_cost *out, message *msg)
{
  march x = {0};
  const int before = omp_get_max_threads();
  const double held = resident();
  status code = open_march(&x, problem, moment, rounds, msg);
  if (code == STATUS_OK) {
    out->nodes = network_num_nodes(x.net);
    out->bytes = (resident() - held) / (double)out->nodes;
    out->front = (double)network_front_num(x.net) / (double)out->nodes;
  }
  for (size_t round = 0; code == STATUS_OK && round < rounds; round++)
    code = one_round(&x, round, bytes_per_stage * (double)out->nodes, t, msg);
  if (code == STATUS_OK) {
    for (size_t f = 0; f < FIGURES; f++)
      qsort(x.figure[f], rounds, sizeof(double), by_size);
    out->best = x.figure[STAGE][0];
    out->median = x.figure[STAGE][rounds / 2];
    out->of_triad = x.figure[OF_TRIAD][rounds / 2];
    out->speedup = x.figure[SPEEDUP][rounds / 2];
    out->triad_speedup = x.figure[TRIAD_SPEEDUP][rounds / 2];
    out->of_speedup = x.figure[OF_SPEEDUP][rounds / 2];
  }
  omp_set_num_threads(before);
  free(x.state.enthalpy);
  free(x.state.path_heat);
  free(x.spare);
  free(x.figure[0]);
  heat_step_destroy(&x.step);
  network_destroy(&x.net);
  return code;
}
