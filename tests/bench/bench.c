/* Times the heat balance on model problems against the plain explicit way and the machine's memory.
 *
 *   lastwater_bench [--large] [--only p2|p3|stages|cost] [--bdf HOURS] [--tolerance T]
 *
 * Without arguments, well under a minute on a quiet machine: P2 at 5 and 2.5 mm, P3 with 66 cells a side, the explicit oracle for a share of
 * its steps (scaled), how the stages of P3 grow with its cells, and what one stage costs on growing cubes beside the bandwidth of the memory, with one and two threads.
 * --large: P3 also with 130 (stages: 160) cells a side on one and two threads, and cubes up to 4 million cells. --only: one of these parts.
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

/* What a pair of stages must move per unknown where caches hold nothing: reads of Y_(j-1), Y_(j-2), Y_0, F_0, writes of Y_j and Y_(j+1). What the
 * loops of one read and write, as the triad's are counted, and a stage by itself would move: four reads, a write. */
static const double BYTES_PER_STAGE = 24.0, BYTES_OF_LOOPS = 40.0;
/* Wanted seconds are those of the machine they were set on, a quiet one of two processors with vectors of 64 bytes: the oracle takes P2 at 5 mm in 32 s
 * there. Elsewhere the oracle's time of the same run tells how much slower the processor is. Of that factor P3, which waits for the memory
 * too, follows by 0.8: one program (2aca7b1) took 2.6, 49.2 and, on two threads, 30.3 s there and 6.2, 113.6 and 68.6 s on a machine with vectors of
 * 32 bytes, where the oracle took 92 to 98 s. */
static const double ORACLE_SECONDS = 32.0, P3_FOLLOWS = 0.8;
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

/* Seconds there; of how much slower the machine at hand is, the share that counts. */
typedef struct {
  double seconds, share;
} target;

static void print_freeze(const char *what, const freeze *f, const double reference[3], target wanted, double oracle)
{
  printf("%s: %.3f s, %.3f processor s (wanted: %g s, %.2f s where the oracle takes %.0f s and not %.0f); %zu unknowns, %zu steps (%zu rejected), %zu stages (network made in %.3f s)\n", what,
         f->seconds, f->processor, wanted.seconds, wanted.seconds * wanted.share * oracle / ORACLE_SECONDS, oracle, ORACLE_SECONDS, f->nodes, f->steps, f->rejected, f->stages, f->made);
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

/* Processor seconds that the plain explicit oracle, the wall as cells, needs for P2 at 5 mm: from a share of its steps. */
static status time_oracle(double *seconds, message *msg)
{
  p2 x;
  status code = p2_create(&x, 0.005, true, msg);
  if (code != STATUS_OK)
    return code;
  oracle_result o;
  code = explicit_oracle_run(&x, 4000, &o, msg);
  if (code == STATUS_OK)
    *seconds = o.seconds / (double)o.steps * 3600.0 * REFERENCE_5[2] / o.step;
  p2_release(&x);
  return code;
}

/* A freeze between two goes of the oracle, whose mean says how fast the machine was meanwhile. */
static status time_freeze(const freeze_problem *problem, double tolerance, double hours, freeze *f, double *oracle, message *msg)
{
  double before, after;
  status code = time_oracle(&before, msg);
  if (code == STATUS_OK)
    code = freeze_run(problem, INTEGRATOR_STABILISED, tolerance, 3600.0 * hours, f, msg);
  if (code == STATUS_OK)
    code = time_oracle(&after, msg);
  if (code == STATUS_OK)
    *oracle = 0.5 * (before + after);
  return code;
}

static status bench_bdf(double hours, message *msg)
{
  p2 x;
  status code = p2_create(&x, 0.005, false, msg);
  if (code != STATUS_OK)
    return code;
  const freeze_problem what = {&x.r, x.m, P2_WATER};
  freeze own = {0}, bdf = {0};
  code = freeze_run(&what, INTEGRATOR_STABILISED, 0.01, 3600.0 * hours, &own, msg);
  if (code == STATUS_OK)
    code = freeze_run(&what, INTEGRATOR_BDF, 0.0, 3600.0 * hours, &bdf, msg);
  if (code == STATUS_OK)
    printf("after %g h: frozen %.6f stabilised (tolerance 0.01, %.2f s), %.6f bdf (%zu steps, %zu rates, %.2f s, ledger %.1e)\n", hours,
           own.frozen, own.seconds, bdf.frozen, bdf.steps, bdf.stages, bdf.seconds, bdf.residual);
  p2_release(&x);
  return code;
}

static status bench_p2(const options *o, double spacing, const char *what, const double reference[3], target wanted, message *msg)
{
  p2 x;
  status code = p2_create(&x, spacing, false, msg);
  if (code != STATUS_OK)
    return code;
  freeze f = {0};
  double oracle = 0.0;
  code = time_freeze(&(freeze_problem){&x.r, x.m, P2_WATER}, o->tolerance, 40.0, &f, &oracle, msg);
  if (code == STATUS_OK)
    print_freeze(what, &f, reference, wanted, oracle);
  if (code == STATUS_OK && spacing == 0.005)
    printf("  ratio oracle / lastwater: %.0f (wanted: 150)\n", oracle / f.processor);
  p2_release(&x);
  return code;
}

static status bench_p3(const options *o, size_t num_cells, const char *what, const double reference[3], target wanted, int threads, message *msg)
{
  p3 x;
  freeze f = {0};
  status code = p3_create(&x, num_cells, msg);
  if (code != STATUS_OK)
    return code;
  double oracle = 0.0;
  omp_set_num_threads(threads);
  code = time_freeze(&(freeze_problem){&x.r, x.m, P3_WATER}, o->tolerance, 20.0, &f, &oracle, msg);
  omp_set_num_threads(1);
  if (code == STATUS_OK)
    print_freeze(what, &f, reference, wanted, oracle);
  p3_release(&x);
  return code;
}

/* ------------------------------------------------------------------------------------------- how the stages grow */

static status count_stages(const options *o, size_t num_cells, freeze *out, message *msg)
{
  p3 x;
  status code = p3_create(&x, num_cells, msg);
  if (code != STATUS_OK)
    return code;
  *out = (freeze){0};
  code = freeze_run(&(freeze_problem){&x.r, x.m, P3_WATER}, INTEGRATOR_STABILISED, o->tolerance, 72000.0, out, msg);
  if (code == STATUS_OK)
    printf("P3, %zu cells a side: %zu unknowns, %zu steps, %zu stages\n", num_cells, out->nodes, out->steps, out->stages);
  p3_release(&x);
  return code;
}

/* The power of the number of unknowns with which stages grow. */
static double growth(const freeze *from, const freeze *to)
{
  return log((double)to->stages / (double)from->stages) / log((double)to->nodes / (double)from->nodes);
}

static status bench_stages(const options *o, message *msg)
{
  static const size_t sizes[] = {46, 66, 130, 160};
  freeze f[sizeof sizes / sizeof *sizes];
  const size_t num = o->large ? sizeof sizes / sizeof *sizes : 2;
  status code = STATUS_OK;
  omp_set_num_threads(2); /* they are the same for any number */
  for (size_t n = 0; code == STATUS_OK && n < num; n++)
    code = count_stages(o, sizes[n], &f[n], msg);
  omp_set_num_threads(1);
  if (code != STATUS_OK)
    return code;
  printf("  stages grow as N^%.3f over them, by pairs as", growth(&f[0], &f[num - 1]));
  for (size_t n = 1; n < num; n++)
    printf(" N^%.3f", growth(&f[n - 1], &f[n]));
  printf(" (wanted: at most N^0.4)\n");
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------- the cost of a stage */

/* ns per unknown and stage, the best. */
static status bench_cost_of(size_t num_cells, triad *t, double *best, message *msg)
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
    *best = 1e9 * c.best / nodes;
    printf("  %3zu a side, %7zu unknowns, %2.0f %% of them front: %.3f ns per unknown and stage (middle %.3f), %.0f bytes held per unknown;"
           " %.0f %% of the triad, %.0f %% by what the loops read and write; two threads %.2f times as fast, the triad %.2f times: %.2f of it (a word"
           " goes to the other processor and back in %.0f ns)\n",
           num_cells, c.nodes, 100.0 * c.front, *best, 1e9 * c.median / nodes, c.bytes, 100.0 * c.of_triad,
           100.0 * c.of_triad * BYTES_OF_LOOPS / BYTES_PER_STAGE, c.speedup, c.triad_speedup, c.of_speedup, 1e9 * handover_seconds());
    (void)fflush(stdout);
  }
  p3_release(&x);
  return code;
}

static void print_evenness(const double *best, size_t num)
{
  double least = INFINITY, most = 0.0, sum = 0.0;
  for (size_t n = 0; n < num; n++) {
    least = best[n] < least ? best[n] : least;
    most = best[n] > most ? best[n] : most;
    sum += best[n];
  }
  const double mean = sum / (double)num;
  printf("  over the sizes %+.1f to %+.1f %% of their mean, %.3f ns\n", 100.0 * (least / mean - 1.0), 100.0 * (most / mean - 1.0), mean);
}

static status bench_cost(const options *o, message *msg)
{
  static const size_t sizes[] = {46, 66, 100, 130, 160};
  const size_t num = o->large ? 5 : 3;
  double best[5];
  triad *t = triad_create();
  if (!t)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the triad");
  const double rate[2] = {triad_rate(t, 1), triad_rate(t, 2)};
  printf("memory triad: %.1f GB/s with one thread, %.1f with two (%.2f times), the best of some sweeps\n", rate[0], rate[1], rate[1] / rate[0]);
  printf("one stage on the cube, best of many rounds, and the middle ones of ratios to the triad in the same round; per unknown and stage %.0f bytes"
         " cross the memory, %.0f are read and written\n", BYTES_PER_STAGE, BYTES_OF_LOOPS);
  status code = STATUS_OK;
  for (size_t n = 0; code == STATUS_OK && n < num; n++)
    code = bench_cost_of(sizes[n], t, &best[n], msg);
  if (code == STATUS_OK)
    print_evenness(best, num);
  triad_destroy(&t);
  return code;
}

static status bench_freezes(const options *o, message *msg)
{
  status code = STATUS_OK;
  if (wants(o, "p2"))
    code = bench_p2(o, 0.005, "P2, 5 mm", REFERENCE_5, (target){0.15, 1.0}, msg);
  if (code == STATUS_OK && wants(o, "p2"))
    code = bench_p2(o, 0.0025, "P2, 2.5 mm", REFERENCE_2_5, (target){0.8, 1.0}, msg);
  if (code == STATUS_OK && wants(o, "p3"))
    code = bench_p3(o, 66, "P3, 66 cells a side", REFERENCE_66, (target){2.5, P3_FOLLOWS}, 1, msg);
  if (code == STATUS_OK && wants(o, "p3") && o->large)
    code = bench_p3(o, 130, "P3, 130 cells a side", REFERENCE_130, (target){50.0, P3_FOLLOWS}, 1, msg);
  if (code == STATUS_OK && wants(o, "p3") && o->large)
    code = bench_p3(o, 130, "P3, 130 cells a side, two threads", REFERENCE_130, (target){30.0, P3_FOLLOWS}, 2, msg);
  return code;
}

static status bench_all(const options *o, message *msg)
{
  status code = bench_freezes(o, msg);
  if (code == STATUS_OK && wants(o, "stages"))
    code = bench_stages(o, msg);
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
      return fprintf(stderr, "usage: lastwater_bench [--large] [--only p2|p3|stages|cost] [--bdf HOURS] [--tolerance T]\n"), 2;
  }
  omp_set_num_threads(1);
  const status code = bench_all(&o, &msg);
  if (code != STATUS_OK)
    fprintf(stderr, "bench: %s\n", msg.text);
  return code == STATUS_OK ? 0 : 1;
}
