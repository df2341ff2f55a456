#include "tests/bench/stage_cost.h"

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

typedef struct {
  network *net;
  heat_step *step;
  thermal_state state;
  double *spare, *path[2], *seconds;
} march;

static status open_march(march *x, const freeze_problem *problem, size_t steps, size_t pairs, message *msg)
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
  x->seconds = calloc(pairs + 1, sizeof(double));
  if (!x->state.enthalpy || !x->state.path_heat || !x->spare || !x->seconds)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory");
  for (size_t p = 0; p < 2; p++)
    x->path[p] = x->state.path_heat + (p + 1) * network_num_paths(x->net);
  network_initial(x->net, x->state.enthalpy);
  for (size_t n = 0; code == STATUS_OK && n < steps; n++)
    code = heat_step_advance(x->step, &x->state, 3600.0, msg);
  return code;
}

/* Weights of no consequence, that keep the state where it is. */
static status time_pairs(march *x, size_t pairs, message *msg)
{
  const stage_weights w[2] = {{0.5, 0.3, 0.2, 1e-3, 1e-3}, {0.4, 0.3, 0.3, 1e-3, 1e-3}};
  const double *start = heat_step_previous_enthalpy(x->step), *rate = heat_step_rate_before(x->step);
  status code = STATUS_OK;
  memcpy(x->spare, x->state.enthalpy, network_num_nodes(x->net) * sizeof *x->spare);
  for (size_t n = 0; code == STATUS_OK && n < pairs; n++) {
    const double begin = stopwatch_wall();
    code = network_stages(x->net, w, start, rate, x->state.enthalpy, x->spare, x->path, msg);
    x->seconds[n] = 0.5 * (stopwatch_wall() - begin);
  }
  qsort(x->seconds, pairs, sizeof *x->seconds, by_size);
  return code;
}

status stage_cost_measure(const freeze_problem *problem, size_t steps, size_t pairs, int threads, stage_cost *out, message *msg)
{
  march x = {0};
  const int before = omp_get_max_threads();
  const double held = resident();
  omp_set_num_threads(threads);
  status code = open_march(&x, problem, steps, pairs, msg);
  if (code == STATUS_OK) {
    out->nodes = network_num_nodes(x.net);
    out->bytes = (resident() - held) / (double)out->nodes;
    code = time_pairs(&x, pairs, msg);
    out->best = x.seconds[0];
    out->median = x.seconds[pairs / 2];
  }
  omp_set_num_threads(before);
  free(x.state.enthalpy);
  free(x.state.path_heat);
  free(x.spare);
  free(x.seconds);
  heat_step_destroy(&x.step);
  network_destroy(&x.net);
  return code;
}
