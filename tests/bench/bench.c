/* Times the heat balance on model problems against the plain explicit way and the machine's memory.
 *
 *   lastwater_bench [--fine] [--cube] [--bdf HOURS] [--tolerance T]
 *
 * --fine: P2 also at 2.5 mm. --cube: P3 with 34 and 66 cells a side. --bdf HOURS: march P2 that long with CVODE too and compare the
 * frozen share. Without arguments: P2 at 5 mm, the explicit oracle for a share of its steps (scaled), the bandwidth. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "solver/heat_step.h"
#include "tests/bench/explicit_oracle.h"
#include "tests/bench/p2.h"
#include "tests/bench/p3.h"

static double now(void)
{
  struct timespec t;
  (void)clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Of all threads of this program; on a busy machine with one thread this is the time to compare. */
static double processor_seconds(void)
{
  struct timespec t;
  (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
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
  const rig *r;
  const mesh *m;
  int water; /* part */
} problem;

typedef struct {
  double hours[3]; /* to 50, 99, 100 % */
  double made, seconds, processor, residual, frozen; /* s to make the network; s and processor s of the march */
  size_t steps, rejected, stages, nodes;
} freeze;

typedef struct {
  const phase_curve *curve;
  const double *volume;
  int32_t *node; /* [num] of the water */
  size_t num;
} water_nodes;

static status find_water(const problem *x, water_nodes *w, message *msg)
{
  *w = (water_nodes){.curve = &x->r->parts[x->water].stuff->curve, .volume = x->m->volume};
  w->node = malloc((x->m->num_nodes + 1) * sizeof *w->node);
  if (!w->node)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory");
  for (size_t node = 0; node < x->m->num_nodes; node++)
    if (x->m->part[node] == x->water && x->m->volume[node] > 0.0)
      w->node[w->num++] = (int32_t)node;
  return STATUS_OK;
}

/* Ice share of the water; *least_frozen: the largest enthalpy of a water node, J/m3. */
static double frozen_share(const water_nodes *w, const double *enthalpy, double *least_frozen)
{
  double ice = 0.0, all = 0.0, least = -INFINITY;
  for (size_t n = 0; n < w->num; n++) {
    const int32_t node = w->node[n];
    all += w->volume[node];
    ice += w->volume[node] * (1.0 - phase_curve_liquid_fraction(w->curve, enthalpy[node]));
    least = enthalpy[node] > least ? enthalpy[node] : least;
  }
  *least_frozen = least;
  return ice / all;
}

static status march(const water_nodes *w, heat_step *step, thermal_state *state, double limit, freeze *out, message *msg)
{
  const double solid = w->curve->solid_enthalpy;
  double least = 0.0, share = frozen_share(w, state->enthalpy, &least);
  for (int mark = 0; mark < 3; mark++)
    out->hours[mark] = NAN;
  while (least > solid && state->time < limit) {
    const double share_before = share, least_before = least, before = state->time;
    const double most = share > 0.985 ? 60.0 : limit - state->time;
    const status code = heat_step_advance(step, state, most < limit - before ? most : limit - before, msg);
    if (code != STATUS_OK)
      return code;
    share = frozen_share(w, state->enthalpy, &least);
    const double wanted[2] = {0.5, 0.99};
    for (int mark = 0; mark < 2; mark++)
      if (share_before < wanted[mark] && share >= wanted[mark])
        out->hours[mark] = (before + (state->time - before) * (wanted[mark] - share_before) / (share - share_before)) / 3600.0;
    if (least <= solid)
      out->hours[2] = (before + (state->time - before) * (least_before - solid) / (least_before - least)) / 3600.0;
  }
  out->frozen = share;
  return STATUS_OK;
}

/* Heat of all paths less what is stored more, over the heat moved. */
static double ledger_residual(const network *net, const thermal_state *state, double stored_before)
{
  double in = 0.0, moved = 0.0;
  for (size_t path = 0; path < network_num_paths(net); path++) {
    in += state->path_heat[path];
    moved += fabs(state->path_heat[path]);
  }
  return (in - (network_stored_heat(net, state->enthalpy) - stored_before)) / moved;
}

static status freeze_all(const problem *x, integrator_kind integrator, double tolerance, double limit, freeze *out, message *msg)
{
  network *net = NULL;
  heat_step *step = NULL;
  thermal_state state = {0};
  water_nodes water = {0};
  const heat_step_options options = {.integrator = integrator, .tolerance = tolerance, .latent_scale = 3.06e8};
  const double start = now();
  status code = network_create(&net, x->m, x->r, msg);
  if (code == STATUS_OK)
    code = heat_step_create(&step, net, &options, msg);
  if (code == STATUS_OK)
    code = find_water(x, &water, msg);
  if (code == STATUS_OK) {
    state.enthalpy = calloc(network_num_nodes(net) + 1, sizeof(double));
    state.path_heat = calloc(network_num_paths(net) + 1, sizeof(double));
    if (!state.enthalpy || !state.path_heat)
      code = message_set(msg, STATUS_NO_MEMORY, "out of memory");
  }
  if (code == STATUS_OK) {
    network_initial(net, state.enthalpy);
    const double stored = network_stored_heat(net, state.enthalpy), begin = now(), begin_processor = processor_seconds();
    out->made = begin - start;
    code = march(&water, step, &state, limit, out, msg);
    out->seconds = now() - begin;
    out->processor = processor_seconds() - begin_processor;
    out->residual = ledger_residual(net, &state, stored);
    out->nodes = network_num_nodes(net);
    heat_step_counts(step, &out->steps, &out->rejected, &out->stages);
  }
  free(water.node);
  free(state.enthalpy);
  free(state.path_heat);
  heat_step_destroy(&step);
  network_destroy(&net);
  return code;
}

/* ------------------------------------------------------------------------------------------- lines */

/* What a stage must move per unknown where caches hold nothing: reads of Y_(j-1), Y_(j-2), Y_0, F_0 and a write of Y_j. */
static const double BYTES_PER_UPDATE = 40.0;

static void print_freeze(const char *what, const freeze *f, const double reference[3], double triad_GB_per_s)
{
  const double updates = (double)f->nodes * (double)f->stages / f->processor;
  printf("%s: %zu unknowns, %zu steps (%zu rejected), %zu stages, %.3f s, %.3f processor s (network made in %.3f s)\n", what, f->nodes,
         f->steps, f->rejected, f->stages, f->seconds, f->processor, f->made);
  printf("  by processor time: %.2f us per stage, %.3f G node updates/s, %.0f bytes per update: %.1f GB/s, %.0f %% of the triad\n",
         1e6 * f->processor / (double)f->stages, 1e-9 * updates, BYTES_PER_UPDATE, 1e-9 * updates * BYTES_PER_UPDATE,
         100.0 * 1e-9 * updates * BYTES_PER_UPDATE / triad_GB_per_s);
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
    printf("plain explicit oracle, 5 mm, wall as cells: step %.4f s, %zu steps in %.2f processor s; the whole freeze needs %.3g steps, %.0f s (scaled)\n",
           o.step, o.steps, o.seconds, needed, scaled);
    printf("  ratio oracle / lastwater: %.0f (wanted: 150)\n", scaled / seconds);
  }
  p2_release(&x);
  return code;
}

/* Hours to 50, 99, 100 % frozen of small-step runs on the same grids. */
static const double REFERENCE_5[3] = {5.664, 25.242, 28.089}, REFERENCE_2_5[3] = {5.659, 25.241, 28.099};
static const double REFERENCE_34[3] = {3.065, 12.372, 13.833}, REFERENCE_66[3] = {3.024, 12.348, 13.832};

typedef struct {
  bool fine, cube;
  double bdf_hours, tolerance, triad;
} options;

static status bench_bdf(double hours, message *msg)
{
  p2 x;
  status code = p2_create(&x, 0.005, false, msg);
  if (code != STATUS_OK)
    return code;
  const problem what = {&x.r, x.m, P2_WATER};
  freeze rkl = {0}, bdf = {0};
  code = freeze_all(&what, INTEGRATOR_STABILISED, 0.01, 3600.0 * hours, &rkl, msg);
  if (code == STATUS_OK)
    code = freeze_all(&what, INTEGRATOR_BDF, 0.0, 3600.0 * hours, &bdf, msg);
  if (code == STATUS_OK)
    printf("after %g h: frozen %.6f stabilised (tolerance 0.01, %.2f s), %.6f bdf (%zu steps, %zu rates, %.2f s, ledger %.1e)\n", hours,
           rkl.frozen, rkl.seconds, bdf.frozen, bdf.steps, bdf.stages, bdf.seconds, bdf.residual);
  p2_release(&x);
  return code;
}

static status bench_p2(const options *o, double spacing, const char *what, const double reference[3], freeze *f, message *msg)
{
  p2 x;
  status code = p2_create(&x, spacing, false, msg);
  if (code != STATUS_OK)
    return code;
  *f = (freeze){0};
  code = freeze_all(&(problem){&x.r, x.m, P2_WATER}, INTEGRATOR_STABILISED, o->tolerance, 40.0 * 3600.0, f, msg);
  if (code == STATUS_OK)
    print_freeze(what, f, reference, o->triad);
  p2_release(&x);
  return code;
}

static status bench_p3(const options *o, size_t num_cells, const char *what, const double reference[3], message *msg)
{
  p3 x;
  freeze f = {0};
  status code = p3_create(&x, num_cells, msg);
  if (code != STATUS_OK)
    return code;
  code = freeze_all(&(problem){&x.r, x.m, P3_WATER}, INTEGRATOR_STABILISED, o->tolerance, 20.0 * 3600.0, &f, msg);
  if (code == STATUS_OK)
    print_freeze(what, &f, reference, o->triad);
  p3_release(&x);
  return code;
}

static status bench_all(const options *o, message *msg)
{
  freeze coarse, fine;
  if (getenv("ONLY")) { int k = atoi(getenv("ONLY")); o = &(options){.triad = 20.0, .tolerance = o->tolerance};
    if (k == 5) return bench_p2(o, 0.005, "P2, 5 mm", REFERENCE_5, &coarse, msg);
    if (k == 2) return bench_p2(o, 0.0025, "P2, 2.5 mm", REFERENCE_2_5, &coarse, msg);
    return bench_p3(o, (size_t)k, "P3", REFERENCE_66, msg); }
  status code = bench_p2(o, 0.005, "P2, 5 mm", REFERENCE_5, &coarse, msg);
  if (code == STATUS_OK)
    code = compare_with_oracle(coarse.processor, 3600.0 * coarse.hours[2], msg);
  if (code == STATUS_OK && o->fine)
    code = bench_p2(o, 0.0025, "P2, 2.5 mm", REFERENCE_2_5, &fine, msg);
  if (code == STATUS_OK && o->cube)
    code = bench_p3(o, 34, "P3, 34 cells a side", REFERENCE_34, msg);
  if (code == STATUS_OK && o->cube)
    code = bench_p3(o, 66, "P3, 66 cells a side", REFERENCE_66, msg);
  return code == STATUS_OK && o->bdf_hours > 0.0 ? bench_bdf(o->bdf_hours, msg) : code;
}

int main(int argc, char **argv)
{
  message msg = {""};
  options o = {0};
  for (int a = 1; a < argc; a++) {
    if (strcmp(argv[a], "--fine") == 0)
      o.fine = true;
    else if (strcmp(argv[a], "--cube") == 0)
      o.cube = true;
    else if (strcmp(argv[a], "--bdf") == 0 && a + 1 < argc)
      o.bdf_hours = strtod(argv[++a], NULL);
    else if (strcmp(argv[a], "--tolerance") == 0 && a + 1 < argc)
      o.tolerance = strtod(argv[++a], NULL);
    else
      return fprintf(stderr, "usage: lastwater_bench [--fine] [--cube] [--bdf HOURS] [--tolerance T]\n"), 2;
  }
  o.triad = getenv("ONLY") ? 20.0 : triad();
  printf("memory triad, one thread: %.1f GB/s\n", o.triad);
  const status code = bench_all(&o, &msg);
  if (code != STATUS_OK)
    fprintf(stderr, "bench: %s\n", msg.text);
  return code == STATUS_OK ? 0 : 1;
}
