/* Times the heat balance on model problems against the plain explicit way and the machine's memory.
 *
 *   lastwater_bench [--large] [--only p2|p3|cost] [--bdf HOURS] [--tolerance T]
 *
 * Without arguments, well under a minute on a quiet machine: P2 at 5 and 2.5 mm, P3 with 66 cells a side, the explicit oracle for a share of
 * its steps (scaled), and what one stage costs on growing cubes beside the bandwidth of the memory, with one and two threads.
 * --large: P3 also with 130 cells a side on one and two threads, and cubes up to 4 million cells. --only: one of these parts.
 * --bdf HOURS: march P2 that long with CVODE too and compare the frozen share. */
#include <math.h>
#include <omp.h>
#include <stdlib.h>
#include <string.h>

#include "tests/bench/explicit_oracle.h"
#include "tests/bench/freeze.h"
#include "tests/bench/handover.h"
#include "tests/bench/p2.h"
#include "tests/bench/p3.h"
#include "tests/bench/stage_cost.h"
#include "tests/bench/triad.h"

/* What a pair of stages must move per unknown where caches hold nothing: reads of Y_(j-1), Y_(j-2), Y_0, F_0, writes of Y_j and Y_(j+1). */
static const double BYTES_PER_STAGE = 24.0;
/* Hours to 50, 99, 100 % frozen of small-step runs on the same grids, without the sensible heat of nodes in the front. */
static const double REFERENCE_5[3] = {5.664, 25.242, 28.089}, REFERENCE_2_5[3] = {5.659, 25.241, 28.099};
static const double REFERENCE_66[3] = {3.024, 12.348, 13.832}, REFERENCE_130[3] = {NAN, NAN, 13.83};

typedef struct {
  bool large;
  const char *only; /* NULL: all */
  double bdf_hours, tolerance;
} options;

static bool wants(const options *o, const char *what)
{
  return !o->only || strcmp(o->only, what) == 0;
}

/* ------------------------------------------------------------------------------------------- whole freezes */

static void print_freeze(const char *what, const freeze *f, const double reference[3], double target)
{
  printf("%s: %.3f s, %.3f processor s (wanted: %g s); %zu unknowns, %zu steps (%zu rejected), %zu stages (network made in %.3f s)\n", what,
         f->seconds, f->processor, target, f->nodes, f->steps, f->rejected, f->stages, f->made);
  printf("  %.2f us and %.2f ns per unknown for each stage, all else of the march included\n", 1e6 * f->processor / (double)f->stages,
         1e9 * f->processor / (double)f->stages / (double)f->nodes);
  static const char *const mark[3] = {"50", "99", "100"};
  for (int i = 0; i < 3; i++)
    if (!isnan(reference[i]))
      printf("  %3s %% frozen after %.4f h, reference %.3f h: %+.3f %%\n", mark[i], f->hours[i], reference[i],
             100.0 * (f->hours[i] / reference[i] - 1.0));
  printf("  heat ledger residual %.2e\n", f->residual);
  (void)fflush(stdout);
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

static status bench_bdf(double hours, message *msg)
{
  p2 x;
  status code = p2_create(&x, 0.005, false, msg);
  if (code != STATUS_OK)
    return code;
  const freeze_problem what = {&x.r, x.m, P2_WATER};
  freeze rkl = {0}, bdf = {0};
  code = freeze_run(&what, INTEGRATOR_STABILISED, 0.01, 3600.0 * hours, &rkl, msg);
  if (code == STATUS_OK)
    code = freeze_run(&what, INTEGRATOR_BDF, 0.0, 3600.0 * hours, &bdf, msg);
  if (code == STATUS_OK)
    printf("after %g h: frozen %.6f stabilised (tolerance 0.01, %.2f s), %.6f bdf (%zu steps, %zu rates, %.2f s, ledger %.1e)\n", hours,
           rkl.frozen, rkl.seconds, bdf.frozen, bdf.steps, bdf.stages, bdf.seconds, bdf.residual);
  p2_release(&x);
  return code;
}

static status bench_p2(const options *o, double spacing, const char *what, const double reference[3], double target, freeze *f, message *msg)
{
  p2 x;
  status code = p2_create(&x, spacing, false, msg);
  if (code != STATUS_OK)
    return code;
  *f = (freeze){0};
  code = freeze_run(&(freeze_problem){&x.r, x.m, P2_WATER}, INTEGRATOR_STABILISED, o->tolerance, 40.0 * 3600.0, f, msg);
  if (code == STATUS_OK)
    print_freeze(what, f, reference, target);
  p2_release(&x);
  return code;
}

static status bench_p3(const options *o, size_t num_cells, const char *what, const double reference[3], double target, int threads, message *msg)
{
  p3 x;
  freeze f = {0};
  status code = p3_create(&x, num_cells, msg);
  if (code != STATUS_OK)
    return code;
  omp_set_num_threads(threads);
  code = freeze_run(&(freeze_problem){&x.r, x.m, P3_WATER}, INTEGRATOR_STABILISED, o->tolerance, 20.0 * 3600.0, &f, msg);
  omp_set_num_threads(1);
  if (code == STATUS_OK)
    print_freeze(what, &f, reference, target);
  p3_release(&x);
  return code;
}

/* ------------------------------------------------------------------------------------------- the cost of a stage */

static status bench_cost_of(size_t num_cells, triad *t, message *msg)
{
  enum { ROUNDS = 41 };
  static const double MOMENT = 900.0; /* s: the front stands off the walls, at the same place in every cube */
  p3 x;
  status code = p3_create(&x, num_cells, msg);
  if (code != STATUS_OK)
    return code;
  stage_cost c = {0};
  code = stage_cost_measure(&(freeze_problem){&x.r, x.m, P3_WATER}, MOMENT, ROUNDS, BYTES_PER_STAGE, t, &c, msg);
  if (code == STATUS_OK) {
    const double nodes = (double)c.nodes;
    printf("  %3zu a side, %7zu unknowns, %2.0f %% of them front: %.3f ns per unknown and stage (middle %.3f), %.0f bytes held per unknown;"
           " %.0f %% of the triad; two threads %.2f times as fast, the triad %.2f times: %.2f of it (a word"
           " goes to the other processor and back in %.0f ns)\n",
           num_cells, c.nodes, 100.0 * c.front, 1e9 * c.best / nodes, 1e9 * c.median / nodes, c.bytes, 100.0 * c.of_triad, c.speedup,
           c.triad_speedup, c.of_speedup, 1e9 * handover_seconds());
    (void)fflush(stdout);
  }
  p3_release(&x);
  return code;
}

static status bench_cost(const options *o, message *msg)
{
  static const size_t sizes[] = {46, 66, 100, 130, 160};
  const size_t num = o->large ? 5 : 3;
  triad *t = triad_create();
  if (!t)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the triad");
  const double rate[2] = {triad_rate(t, 1), triad_rate(t, 2)};
  printf("memory triad: %.1f GB/s with one thread, %.1f with two (%.2f times), the best of some sweeps\n", rate[0], rate[1], rate[1] / rate[0]);
  printf("one stage on the cube, best of many rounds, and the middle ones of ratios to the triad in the same round; %.0f bytes per unknown"
         " and stage counted\n", BYTES_PER_STAGE);
  status code = STATUS_OK;
  for (size_t n = 0; code == STATUS_OK && n < num; n++)
    code = bench_cost_of(sizes[n], t, msg);
  triad_destroy(&t);
  return code;
}

static status bench_all(const options *o, message *msg)
{
  freeze f = {0};
  status code = STATUS_OK;
  if (wants(o, "p2")) {
    code = bench_p2(o, 0.005, "P2, 5 mm", REFERENCE_5, 0.15, &f, msg);
    if (code == STATUS_OK)
      code = compare_with_oracle(f.processor, 3600.0 * f.hours[2], msg);
    if (code == STATUS_OK)
      code = bench_p2(o, 0.0025, "P2, 2.5 mm", REFERENCE_2_5, 0.8, &f, msg);
  }
  if (code == STATUS_OK && wants(o, "p3"))
    code = bench_p3(o, 66, "P3, 66 cells a side", REFERENCE_66, 2.5, 1, msg);
  if (code == STATUS_OK && wants(o, "p3") && o->large)
    code = bench_p3(o, 130, "P3, 130 cells a side", REFERENCE_130, 50.0, 1, msg);
  if (code == STATUS_OK && wants(o, "p3") && o->large)
    code = bench_p3(o, 130, "P3, 130 cells a side, two threads", REFERENCE_130, 30.0, 2, msg);
  if (code == STATUS_OK && wants(o, "cost"))
    code = bench_cost(o, msg);
  return code == STATUS_OK && o->bdf_hours > 0.0 ? bench_bdf(o->bdf_hours, msg) : code;
}

int main(int argc, char **argv)
{
  message msg = {""};
  options o = {0};
  for (int a = 1; a < argc; a++) {
    if (strcmp(argv[a], "--large") == 0)
      o.large = true;
    else if (strcmp(argv[a], "--only") == 0 && a + 1 < argc)
      o.only = argv[++a];
    else if (strcmp(argv[a], "--bdf") == 0 && a + 1 < argc)
      o.bdf_hours = strtod(argv[++a], NULL);
    else if (strcmp(argv[a], "--tolerance") == 0 && a + 1 < argc)
      o.tolerance = strtod(argv[++a], NULL);
    else
      return fprintf(stderr, "usage: lastwater_bench [--large] [--only p2|p3|cost] [--bdf HOURS] [--tolerance T]\n"), 2;
  }
  omp_set_num_threads(1);
  const status code = bench_all(&o, &msg);
  if (code != STATUS_OK)
    fprintf(stderr, "bench: %s\n", msg.text);
  return code == STATUS_OK ? 0 : 1;
}
