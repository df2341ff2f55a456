#include "tests/bench/explicit_oracle.h"

#include <math.h>
#include <stdlib.h>
#include <time.h>

static double now(void)
{
  struct timespec t;
  (void)clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

typedef struct {
  const p2 *x;
  size_t nr, nz;
  double *enthalpy, *temperature, *conductivity, *rate, *volume, *film; /* [cells]; film: W/K of coil in the cell */
} oracle;

static const phase_curve *curve_of(const oracle *o, size_t cell)
{
  return &o->x->stuff[o->x->m->part[cell]].curve;
}

static double half_r(const oracle *o, size_t i)
{
  return 0.5 * (o->x->g->edges[0][i + 1] - o->x->g->edges[0][i]);
}

static double half_z(const oracle *o, size_t k)
{
  return 0.5 * (o->x->g->edges[2][k + 1] - o->x->g->edges[2][k]);
}

/* Heat through the face between two cells: within a material from the potential, else two half cells in series. */
static double between(const oracle *o, size_t a, size_t b, double area, double to_face_a, double to_face_b)
{
  if (o->x->m->part[a] == o->x->m->part[b])
    return area * (phase_curve_potential(curve_of(o, a), o->enthalpy[a]) - phase_curve_potential(curve_of(o, b), o->enthalpy[b])) /
           (to_face_a + to_face_b);
  return area * (o->temperature[a] - o->temperature[b]) / (to_face_a / o->conductivity[a] + to_face_b / o->conductivity[b]);
}

static void properties(oracle *o)
{
  for (size_t cell = 0; cell < o->nr * o->nz; cell++) {
    o->temperature[cell] = phase_curve_temperature(curve_of(o, cell), o->enthalpy[cell]);
    o->conductivity[cell] = phase_curve_conductivity_at(curve_of(o, cell), o->temperature[cell], -1);
  }
}

static void outside(oracle *o, size_t cell, double area, double to_face)
{
  o->rate[cell] += area * (25.0 - o->temperature[cell]) / (1.0 / 8.0 + to_face / o->conductivity[cell]);
}

static void rates(oracle *o)
{
  const grid *g = o->x->g;
  for (size_t cell = 0; cell < o->nr * o->nz; cell++)
    o->rate[cell] = -o->film[cell] * (o->temperature[cell] + 25.0);
  for (size_t k = 0; k < o->nz; k++)
    for (size_t i = 0; i < o->nr; i++) {
      const size_t cell = k * o->nr + i;
      if (i + 1 < o->nr) {
        const double q = between(o, cell, cell + 1, grid_face_area(g, 0, 1, i, 0, k), half_r(o, i), half_r(o, i + 1));
        o->rate[cell] -= q;
        o->rate[cell + 1] += q;
      } else {
        outside(o, cell, grid_face_area(g, 0, 1, i, 0, k), half_r(o, i));
      }
      if (k + 1 < o->nz) {
        const double q = between(o, cell, cell + o->nr, grid_face_area(g, 2, 1, i, 0, k), half_z(o, k), half_z(o, k + 1));
        o->rate[cell] -= q;
        o->rate[cell + o->nr] += q;
      } else {
        outside(o, cell, grid_face_area(g, 2, 1, i, 0, k), half_z(o, k));
      }
      if (k == 0)
        outside(o, cell, grid_face_area(g, 2, 0, i, 0, k), half_z(o, k));
    }
}

/* The steepest material in the smallest cell decides: for every cell, dt <= V / sum of conductance times dT/dH. */
static double stable_step(const oracle *o)
{
  const grid *g = o->x->g;
  double shortest = INFINITY;
  for (size_t k = 0; k < o->nz; k++)
    for (size_t i = 0; i < o->nr; i++) {
      const phase_curve *c = curve_of(o, k * o->nr + i);
      const double u_slope = phase_curve_steepest(c, -30.0, 30.0);
      double sum = 0.0;
      for (int side = 0; side < 2; side++) {
        const size_t other_i = side == 0 ? i - 1 : i + 1, other_k = side == 0 ? k - 1 : k + 1;
        const bool r_inside = other_i < o->nr, z_inside = other_k < o->nz;
        const bool r_same = r_inside && o->x->m->part[k * o->nr + other_i] == o->x->m->part[k * o->nr + i];
        const bool z_same = z_inside && o->x->m->part[other_k * o->nr + i] == o->x->m->part[k * o->nr + i];
        sum += grid_face_area(g, 0, side, i, 0, k) / (half_r(o, i) + (r_same ? half_r(o, other_i) : 0.0));
        sum += grid_face_area(g, 2, side, i, 0, k) / (half_z(o, k) + (z_same ? half_z(o, other_k) : 0.0));
      }
      const double step = grid_cell_volume(g, i, 0, k) / (sum * u_slope);
      shortest = step < shortest ? step : shortest;
    }
  return 0.95 * shortest;
}

/* The coil's film, shared over the cells by the share of each tube's cross-section (16 x 16 samples per cell). */
static void place_coil(oracle *o)
{
  const rig_coil *coil = &o->x->coil;
  const double radius = 0.5 * coil->tube_outer, pi = 3.14159265358979323846;
  for (size_t ring = 0; ring < coil->num_rings; ring++) {
    const double r0 = coil->rings[ring][0], z0 = coil->rings[ring][1];
    const double whole = coil->outer_film * 2.0 * pi * r0 * 2.0 * pi * radius;
    for (size_t k = 0; k < o->nz; k++)
      for (size_t i = 0; i < o->nr; i++) {
        size_t inside = 0;
        for (size_t a = 0; a < 256; a++) {
          const double r = o->x->g->edges[0][i] + 2.0 * half_r(o, i) * ((double)(a % 16) + 0.5) / 16.0;
          const double z = o->x->g->edges[2][k] + 2.0 * half_z(o, k) * ((double)(a / 16) + 0.5) / 16.0;
          inside += (r - r0) * (r - r0) + (z - z0) * (z - z0) < radius * radius;
        }
        const double section = 4.0 * half_r(o, i) * half_z(o, k) * (double)inside / 256.0;
        o->film[k * o->nr + i] += whole * section / (pi * radius * radius);
      }
  }
}

static double stored(const oracle *o)
{
  double sum = 0.0;
  for (size_t cell = 0; cell < o->nr * o->nz; cell++)
    sum += o->volume[cell] * o->enthalpy[cell];
  return sum;
}

status explicit_oracle_run(const p2 *x, size_t steps, oracle_result *out, message *msg)
{
  const size_t num = grid_num_cells(x->g);
  oracle o = {.x = x, .nr = x->g->num[0], .nz = x->g->num[2]};
  double *memory = calloc(6 * num, sizeof *memory);
  if (!memory)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the explicit oracle");
  o.enthalpy = memory, o.temperature = memory + num, o.conductivity = memory + 2 * num, o.rate = memory + 3 * num;
  o.volume = memory + 4 * num, o.film = memory + 5 * num;
  for (size_t cell = 0; cell < num; cell++) {
    o.volume[cell] = x->m->volume[cell];
    o.enthalpy[cell] = phase_curve_enthalpy(curve_of(&o, cell), x->parts[x->m->part[cell]].initial_temperature);
  }
  place_coil(&o);
  *out = (oracle_result){.step = stable_step(&o), .steps = steps, .heat = -stored(&o)};
  const double start = now();
  for (size_t n = 0; n < steps; n++) {
    properties(&o);
    rates(&o);
    for (size_t cell = 0; cell < num; cell++)
      o.enthalpy[cell] += out->step * o.rate[cell] / o.volume[cell];
  }
  out->seconds = now() - start;
  out->heat += stored(&o);
  out->time = out->step * (double)steps;
  free(memory);
  return STATUS_OK;
}
