/* Times the heat balance on the model problem P2 against the plain explicit way and the machine's memory.
 *
 *   lastwater_bench [--fine] [--bdf HOURS]
 *
 * --fine: also at 2.5 mm. --bdf HOURS: march that long with CVODE too and compare the frozen share. Without arguments: P2 at 5 mm,
 * the explicit oracle for a share of its steps (scaled), the bandwidth. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "solver/heat_step.h"
#include "tests/bench/explicit_oracle.h"
#include "tests/bench/p2.h"

static double now(void)
{
  struct timespec t;
  (void)clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* ------------------------------------------------------------------------------------------- bandwidth */

/* a = b + s c over arrays far larger than the cache, best of several sweeps (McCalpin 1995, the triad). GB/s. */
static double triad(void)
{
  enum { NUM = 1 << 24, SWEEPS = 4 };
  double *memory = malloc(3 * (size_t)NUM * sizeof *memory);
  if (!memory)
    return NAN;
  double *a = memory, *b = memory + NUM, *c = memory + 2 * (size_t)NUM, best = 0.0;
  for (size_t i = 0; i < NUM; i++)
    a[i] = 0.0, b[i] = 1.0, c[i] = 2.0;
  for (int sweep = 0; sweep < SWEEPS; sweep++) {
    const double start = now(), s = 3.0 + sweep;
    for (size_t i = 0; i < NUM; i++)
      a[i] = b[i] + s * c[i];
    const double rate = 24.0 * NUM / (now() - start) * 1e-9;
    best = rate > best ? rate : best;
  }
  const bool kept = a[NUM / 3] > 0.0; /* the sweeps may not be optimised away */
  free(memory);
  return kept ? best : NAN;
}

/* ------------------------------------------------------------------------------------------- one freeze */

typedef struct {
  double hours[3]; /* to 50, 99, 100 % */
  double seconds, residual, frozen;
  size_t steps, rejected, stages, nodes;
} freeze;

/* Ice share of the water; *least_frozen: the largest enthalpy of a water node, J/m3. */
static double frozen_share(const p2 *x, const double *enthalpy, double *least_frozen)
{
  double ice = 0.0, all = 0.0;
  *least_frozen = -INFINITY;
  for (size_t node = 0; node < x->m->num_nodes; node++)
    if (x->m->part[node] == P2_WATER && x->m->volume[node] > 0.0) {
      all += x->m->volume[node];
      ice += x->m->volume[node] * (1.0 - phase_curve_liquid_fraction(&x->stuff[P2_WATER].curve, enthalpy[node]));
      *least_frozen = enthalpy[node] > *least_frozen ? enthalpy[node] : *least_frozen;
    }
  return ice / all;
}

static status march(const p2 *x, network *net, heat_step *step, thermal_state *state, double limit, freeze *out, message *msg)
{
  const double solid = x->stuff[P2_WATER].curve.solid_enthalpy;
  double least = 0.0, share = frozen_share(x, state->enthalpy, &least);
  for (int mark = 0; mark < 3; mark++)
    out->hours[mark] = NAN;
  while (least > solid && state->time < limit) {
    const double share_before = share, least_before = least, before = state->time;
    const double most = share > 0.985 ? 60.0 : limit - state->time;
    const status code = heat_step_advance(step, state, most < limit - before ? most : limit - before, msg);
    if (code != STATUS_OK)
      return code;
    share = frozen_share(x, state->enthalpy, &least);
    const double wanted[2] = {0.5, 0.99};
    for (int mark = 0; mark < 2; mark++)
      if (share_before < wanted[mark] && share >= wanted[mark])
        out->hours[mark] = (before + (state->time - before) * (wanted[mark] - share_before) / (share - share_before)) / 3600.0;
    if (least <= solid)
      out->hours[2] = (before + (state->time - before) * (least_before - solid) / (least_before - least)) / 3600.0;
  }
  out->frozen = share;
  (void)net;
  return STATUS_OK;
}

static status freeze_p2(const p2 *x, integrator_kind integrator, double tolerance, double limit, freeze *out, message *msg)
{
  network *net = NULL;
  heat_step *step = NULL;
  thermal_state state = {0};
  const heat_step_options options = {.integrator = integrator, .tolerance = tolerance, .latent_scale = 3.06e8};
  const double start = now();
  status code = network_create(&net, x->m, &x->r, msg);
  if (code == STATUS_OK)
    code = heat_step_create(&step, net, &options, msg);
  if (code == STATUS_OK) {
    state.enthalpy = calloc(network_num_nodes(net) + 1, sizeof(double));
    state.path_heat = calloc(network_num_paths(net) + 1, sizeof(double));
    if (!state.enthalpy || !state.path_heat)
      code = message_set(msg, STATUS_NO_MEMORY, "out of memory");
  }
  if (code == STATUS_OK) {
    network_initial(net, state.enthalpy);
    const double stored = network_stored_heat(net, state.enthalpy);
    code = march(x, net, step, &state, limit, out, msg);
    double in = 0.0, moved = 0.0;
    for (size_t path = 0; path < network_num_paths(net); path++) {
      in += state.path_heat[path];
      moved += fabs(state.path_heat[path]);
    }
    out->residual = (in - (network_stored_heat(net, state.enthalpy) - stored)) / moved;
    out->nodes = network_num_nodes(net);
    heat_step_counts(step, &out->steps, &out->rejected, &out->stages);
  }
  out->seconds = now() - start;
  free(state.enthalpy);
  free(state.path_heat);
  heat_step_destroy(&step);
  network_destroy(&net);
  return code;
}

/* ------------------------------------------------------------------------------------------- lines */

static void print_freeze(const char *what, const freeze *f, const double reference[3])
{
  printf("%s: %zu unknowns, %zu steps (%zu rejected), %zu stages, %.3f s, %.2f us per stage, %.3f G updates/s\n", what, f->nodes, f->steps,
         f->rejected, f->stages, f->seconds, 1e6 * f->seconds / (double)f->stages,
         1e-9 * (double)f->nodes * (double)f->stages / f->seconds);
  static const char *const mark[3] = {"50", "99", "100"};
  for (int i = 0; i < 3; i++)
    printf("  %3s %% frozen after %.4f h, reference %.3f h: %+.3f %%\n", mark[i], f->hours[i], reference[i],
           100.0 * (f->hours[i] / reference[i] - 1.0));
  printf("  heat ledger residual %.2e\n", f->residual);
}

static status compare_with_oracle(double seconds, double seconds_of_freeze, message *msg)
{
  p2 x;
  status code = p2_create(&x, 0.005, true, msg);
  if (code != STATUS_OK)
    return code;
  oracle_result o;
  code = explicit_oracle_run(&x, 4000, &o, msg);
  if (code == STATUS_OK) {
    const double needed = seconds_of_freeze / o.step, scaled = o.seconds / (double)o.steps * needed;
    printf("plain explicit oracle, 5 mm, wall as cells: step %.4f s, %zu steps in %.2f s; the whole freeze needs %.3g steps, %.0f s (scaled)\n",
           o.step, o.steps, o.seconds, needed, scaled);
    printf("  ratio oracle / lastwater: %.0f (wanted: 150)\n", scaled / seconds);
  }
  p2_release(&x);
  return code;
}

static const double REFERENCE_5[3] = {5.664, 25.242, 28.089}, REFERENCE_2_5[3] = {5.659, 25.241, 28.099};

static status bench_bdf(const p2 *x, double hours, message *msg)
{
  freeze rkl = {0}, bdf = {0};
  status code = freeze_p2(x, INTEGRATOR_STABILISED, 0.01, 3600.0 * hours, &rkl, msg);
  if (code == STATUS_OK)
    code = freeze_p2(x, INTEGRATOR_BDF, 0.0, 3600.0 * hours, &bdf, msg);
  if (code == STATUS_OK)
    printf("after %g h: frozen %.6f stabilised (tolerance 0.01, %.2f s), %.6f bdf (%zu steps, %zu rates, %.2f s, ledger %.1e)\n", hours,
           rkl.frozen, rkl.seconds, bdf.frozen, bdf.steps, bdf.stages, bdf.seconds, bdf.residual);
  return code;
}

static status bench_p2(double spacing, const char *what, const double reference[3], double tolerance, freeze *f, message *msg)
{
  p2 x;
  status code = p2_create(&x, spacing, false, msg);
  if (code != STATUS_OK)
    return code;
  *f = (freeze){0};
  code = freeze_p2(&x, INTEGRATOR_STABILISED, tolerance, 40.0 * 3600.0, f, msg);
  if (code == STATUS_OK)
    print_freeze(what, f, reference);
  p2_release(&x);
  return code;
}

int main(int argc, char **argv)
{
  message msg = {""};
  freeze coarse, fine;
  bool with_fine = false;
  double bdf_hours = 0.0, tolerance = 0.0;
  for (int a = 1; a < argc; a++) {
    if (strcmp(argv[a], "--fine") == 0)
      with_fine = true;
    else if (strcmp(argv[a], "--bdf") == 0 && a + 1 < argc)
      bdf_hours = strtod(argv[++a], NULL);
    else if (strcmp(argv[a], "--tolerance") == 0 && a + 1 < argc)
      tolerance = strtod(argv[++a], NULL);
    else
      return fprintf(stderr, "usage: lastwater_bench [--fine] [--bdf HOURS] [--tolerance T]\n"), 2;
  }
  printf("memory triad, one thread: %.1f GB/s\n", triad());
  status code = bench_p2(0.005, "P2, 5 mm", REFERENCE_5, tolerance, &coarse, &msg);
  if (code == STATUS_OK)
    code = compare_with_oracle(coarse.seconds, 3600.0 * coarse.hours[2], &msg);
  if (code == STATUS_OK && with_fine)
    code = bench_p2(0.0025, "P2, 2.5 mm", REFERENCE_2_5, tolerance, &fine, &msg);
  if (code == STATUS_OK && bdf_hours > 0.0) {
    p2 x;
    code = p2_create(&x, 0.005, false, &msg);
    if (code == STATUS_OK) {
      code = bench_bdf(&x, bdf_hours, &msg);
      p2_release(&x);
    }
  }
  if (code != STATUS_OK)
    fprintf(stderr, "bench: %s\n", msg.text);
  return code == STATUS_OK ? 0 : 1;
}
