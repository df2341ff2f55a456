/* Small rigs for the exact checks: filled by hand, marched, compared.
 *
 * A bench_rig owns everything it is given (shapes, materials, grid). Parts, rules and a coil are added one by one; then
 * either bench_rig_run marches the whole freeze through solver/run.h and keeps its history, or bench_rig_open makes mesh,
 * network and integrator for tests that look at fluxes. Whatever fails ends the test with the message of the solver.
 * SI units, degC. */
#ifndef LASTWATER_BENCH_RIG_H
#define LASTWATER_BENCH_RIG_H

#include <check.h>

#include "solver/heat_step.h"
#include "solver/results.h"
#include "solver/rig.h"

enum { BENCH_PARTS = 8, BENCH_SHAPES = 48, BENCH_RULES = 16, BENCH_VALUES = 64 };

typedef struct {
  rig r;
  rig_part parts[BENCH_PARTS];
  material stuff[BENCH_PARTS];
  shape *shapes[BENCH_SHAPES];
  size_t num_shapes;
  surface_rule rules[BENCH_RULES];
  double times[BENCH_VALUES], values[BENCH_VALUES]; /* rows of the schedules */
  size_t num_values;
  rig_body bodies[BENCH_PARTS];
  rig_bath baths[BENCH_PARTS];
  rig_coil coils[1];
  double ring[1][2];
  rig_stage stages[1];
  /* after bench_rig_open */
  mesh *m;
  network *net;
  heat_step *step;
  thermal_state state;
} bench_rig;

/* Property set of the exact checks (constant in each phase, one density): rho 1000, ice 2.2 W/mK and 2050 J/kgK, water
 * 0.58 W/mK and 4200 J/kgK, 334 kJ/kg, freezing at `freezing_temperature`. Inputs of the checks, not recommended data. */
constant_phases bench_rig_set_w(double freezing_temperature);
/* The same with equal properties in both phases and the latent heat that gives Ste = c (T_f - T_ref) / L at 20 K. */
constant_phases bench_rig_set_ste(double stefan_number);

/* An empty rig: room at 0 degC without film. */
void bench_rig_init(bench_rig *b);
void bench_rig_release(bench_rig *b); /* frees all that was made */

/* Evenly divided grid; mirror as in grid.h, NULL: none. */
void bench_rig_grid(bench_rig *b, grid_kind kind, const size_t num[3], const double low[3], const double high[3],
                    const bool mirror[6]);
/* The same from edges; edges[1] NULL in GRID_RZ. */
void bench_rig_grid_edges(bench_rig *b, grid_kind kind, const size_t num[3], const double *const edges[3], const bool mirror[6]);
/* Axis 0 from given edges; axes 1 and 2 one cell thick, mirrored on both sides. mirror_low, mirror_high: of axis 0. */
void bench_rig_line(bench_rig *b, grid_kind kind, size_t num, const double *edges, bool mirror_low, bool mirror_high);

/* Keeps a shape for the rig and hands it back: bench_rig_keep(b, s) after shape_...(&s, ..., NULL). */
const shape *bench_rig_keep(bench_rig *b, shape *s);
/* A box that covers everything. */
const shape *bench_rig_everywhere(bench_rig *b);

const shape *bench_rig_box(bench_rig *b, double x0, double x1, double y0, double y1, double z0, double z1);

/* Parts, in painting order; the material is taken over. Returned: the part's index. */
int bench_rig_part(bench_rig *b, part_kind kind, const shape *region, const material *stuff, double temperature);
int bench_rig_wall(bench_rig *b, const shape *solid, const shape *cavity, double thickness, const material *stuff,
                   double temperature);
int bench_rig_held(bench_rig *b, const shape *region, double temperature, double film);
int bench_rig_water(bench_rig *b, const shape *region, const constant_phases *p, double temperature); /* still, no motion */

/* A rule for the surfaces of a part, constant in time. temperature NAN: the room's. */
void bench_rig_rule(bench_rig *b, surface_kind kind, int part, int other, face_choice faces, double coefficient,
                    double temperature);
schedule bench_rig_constant(bench_rig *b, double value);

/* ------------------------------------------------------------------------------- the whole freeze, through solver/run.h */

typedef struct {
  size_t num;              /* accepted steps, plus the start */
  double *time, *liquid;   /* [num] s, liquid share of the first body (1 at the start) */
  double complete;         /* s, the last water froze; NAN: not within the limit */
  double ledger_residual;  /* relative */
  size_t steps, stages;
} bench_history;

typedef struct {
  double tolerance;    /* 0: the default */
  double longest_step; /* s; 0: none */
  double limit;        /* s */
} bench_march;
/* March settings whose own error is far below the limits of the exact checks; `duration`: about the time to be measured. */
bench_march bench_rig_exact(double duration);
bench_march bench_rig_default(double duration);

/* Runs one freeze of the first body until it is solid or `limit` has passed. Frees nothing of the rig. */
void bench_rig_run(bench_rig *b, bench_march how, bench_history *out);
/* The same with the run kept, for what else it found: run_destroy it. */
struct run *bench_rig_run_kept(bench_rig *b, bench_march how, bench_history *out);
void bench_rig_forget(bench_history *h);
/* When the liquid share first fell to `share`, s, linear within the step; NAN if it never did. */
double bench_rig_time_to(const bench_history *h, double share);
/* Liquid share at a time, linear within the step; NAN after the end. */
double bench_rig_liquid_at(const bench_history *h, double time);

/* ------------------------------------------------------------------------------- step by step */

void bench_rig_open(bench_rig *b, bench_march how, double latent_scale);
/* Marches to `time`. */
void bench_rig_march(bench_rig *b, double time);
/* Liquid share by volume of a part. */
double bench_rig_liquid(const bench_rig *b, int part);
/* Temperature of the node of a part at a point, degC. */
double bench_rig_temperature(const bench_rig *b, const double point[3]);
/* Surface temperature, degC, on the interface between two parts whose centroid is nearest to a point. */
double bench_rig_surface_temperature(const bench_rig *b, int part, int other, const double point[3]);
/* Sum of heat rates, W, through all interfaces between two parts, from `part` to `other` (MESH_VOID: the room). */
double bench_rig_flow(const bench_rig *b, int part, int other, face_choice faces);

/* ------------------------------------------------------------------------------- tables that are printed and judged */

/* True when LASTWATER_BRIEF is set: coarse grids only. */
bool bench_rig_brief(void);
/* True when LASTWATER_LONG is set: grids too costly for every run of the tests, too. */
bool bench_rig_long(void);
void bench_rig_title(const char *format, ...);
/* One line: got against want, error in percent, limit in percent; counts a miss. */
void bench_rig_judge(double got, double want, double limit_percent, const char *format, ...);
/* The same for an absolute difference. */
void bench_rig_judge_difference(double got, double want, double limit, const char *format, ...);
/* The heat ledger of a run closes to 1e-9 of the heat moved; a line is printed only when it does not. */
void bench_rig_judge_ledger(const bench_history *h);
/* A bare condition. */
void bench_rig_judge_that(bool holds, const char *format, ...);
/* Runs a suite (taken over) and gives the exit code of its program. */
int bench_rig_run_suite(Suite *suite);
/* Fails the test when any line since the last title missed. */
void bench_rig_verdict(void);

#endif
