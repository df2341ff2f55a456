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
  double *enthalpy, *temperature, *potential, *conductivity, *rate, *volume, *film; /* [cells]; film: W/K of coil in the cell */
  double *area_r, *area_z; /* m2 of the faces above each cell */
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

/* Temperature, potential and conductivity of a cell. */
static void properties_of(oracle *o, size_t cell)
{
  const phase_curve *c = curve_of(o, cell);
  const double H = o->enthalpy[cell];
  if (c->three_lines) {
    const bool liquid = H > c->liquid_enthalpy, solid = H < c->solid_enthalpy;
    const double beyond = liquid ? H - c->liquid_enthalpy : solid ? H - c->solid_enthalpy : 0.0;
    const double u_slope = liquid ? c->liquid_potential_slope : c->solid_potential_slope;
    const double T_slope = liquid ? c->liquid_temperature_slope : c->solid_temperature_slope;
    o->temperature[cell] = c->freezing_temperature + T_slope * beyond;
    o->potential[cell] = u_slope * beyond;
    o->conductivity[cell] = u_slope / T_slope;
    return;
  }
  const double place = (H - c->origin) / c->width;
  const size_t bin = place <= 0.0 ? 0 : place >= (double)c->num_bins ? c->num_bins - 1 : (size_t)place;
  const double share = place - (double)bin;
  const double T_rise = c->temperature[bin + 1] - c->temperature[bin], u_rise = c->potential[bin + 1] - c->potential[bin];
  o->temperature[cell] = c->temperature[bin] + share * T_rise;
  o->potential[cell] = c->potential[bin] + share * u_rise;
  o->conductivity[cell] = T_rise > 0.0 ? u_rise / T_rise : 1.5;
}

/* Heat through the face between two cells: within a material from the potential, else two half cells in series. */
static double between(const oracle *o, size_t a, size_t b, double area, double to_face_a, double to_face_b)
{
  if (o->x->m->part[a] == o->x->m->part[b])
    return area * (o->potential[a] - o->potential[b]) / (to_face_a + to_face_b);
  return area * (o->temperature[a] - o->temperature[b]) / (to_face_a / o->conductivity[a] + to_face_b / o->conductivity[b]);
}

static void outside(oracle *o, size_t cell, double area, double to_face)
{
  o->rate[cell] += area * (o->x->room - o->temperature[cell]) / (1.0 / o->x->r.room.film + to_face / o->conductivity[cell]);
}

static void rates(oracle *o)
{
  for (size_t cell = 0; cell < o->nr * o->nz; cell++) {
    properties_of(o, cell);
    o->rate[cell] = -o->film[cell] * (o->temperature[cell] - o->x->coolant);
  }
  for (size_t k = 0; k < o->nz; k++)
    for (size_t i = 0; i < o->nr; i++) {
      const size_t cell = k * o->nr + i;
      if (i + 1 < o->nr) {
        const double q = between(o, cell, cell + 1, o->area_r[cell], half_r(o, i), half_r(o, i + 1));
        o->rate[cell] -= q;
        o->rate[cell + 1] += q;
      } else {
        outside(o, cell, o->area_r[cell], half_r(o, i));
      }
      if (k + 1 < o->nz) {
        const double q = between(o, cell, cell + o->nr, o->area_z[cell], half_z(o, k), half_z(o, k + 1));
        o->rate[cell] -= q;
        o->rate[cell + o->nr] += q;
      } else {
        outside(o, cell, o->area_z[cell], half_z(o, k));
      }
      if (k == 0)
        outside(o, cell, o->area_z[cell], half_z(o, k));
    }
}

/* Largest conductivity a part can have in this problem, W/(m K). */
static double most_conductivity(int32_t part)
{
  static const double k[P2_PARTS] = {[P2_FOAM] = 0.03, [P2_BRINE] = 5.0, [P2_WALL] = 200.0, [P2_WATER] = 2.2};
  return k[part];
}

/* What one face can let through, W/K. */
static double most_conductance(const oracle *o, size_t a, size_t b, double area, double to_face_a, double to_face_b)
{
  return area / (to_face_a / most_conductivity(o->x->m->part[a]) + to_face_b / most_conductivity(o->x->m->part[b]));
}

/* dt <= 1 / (sum of conductances dT/dH / V), the cell that asks for the shortest; a cell of ice or of water, not of mush. */
static double stable_step(const oracle *o)
{
  static const double heat_capacity[P2_PARTS] = {[P2_FOAM] = 4.2e4, [P2_BRINE] = 3.3e6, [P2_WALL] = 2.43e6, [P2_WATER] = 2.05e6};
  double shortest = INFINITY;
  for (size_t k = 0; k < o->nz; k++)
    for (size_t i = 0; i < o->nr; i++) {
      const size_t cell = k * o->nr + i;
      double sum = o->film[cell];
      if (i > 0)
        sum += most_conductance(o, cell, cell - 1, o->area_r[cell - 1], half_r(o, i), half_r(o, i - 1));
      if (i + 1 < o->nr)
        sum += most_conductance(o, cell, cell + 1, o->area_r[cell], half_r(o, i), half_r(o, i + 1));
      if (k > 0)
        sum += most_conductance(o, cell, cell - o->nr, o->area_z[cell], half_z(o, k), half_z(o, k - 1));
      if (k + 1 < o->nz)
        sum += most_conductance(o, cell, cell + o->nr, o->area_z[cell], half_z(o, k), half_z(o, k + 1));
      const double step = o->volume[cell] * heat_capacity[o->x->m->part[cell]] / sum;
      shortest = step < shortest ? step : shortest;
    }
  return 0.98 * shortest;
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
  double *memory = calloc(9 * num, sizeof *memory);
  if (!memory)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the explicit oracle");
  o.enthalpy = memory, o.temperature = memory + num, o.conductivity = memory + 2 * num, o.rate = memory + 3 * num;
  o.volume = memory + 4 * num, o.film = memory + 5 * num, o.potential = memory + 6 * num;
  o.area_r = memory + 7 * num, o.area_z = memory + 8 * num;
  for (size_t cell = 0; cell < num; cell++) {
    o.volume[cell] = x->m->volume[cell];
    o.area_r[cell] = grid_face_area(x->g, 0, 1, cell % o.nr, 0, cell / o.nr);
    o.area_z[cell] = grid_face_area(x->g, 2, 1, cell % o.nr, 0, cell / o.nr);
    o.enthalpy[cell] = phase_curve_enthalpy(curve_of(&o, cell), x->parts[x->m->part[cell]].initial_temperature);
  }
  place_coil(&o);
  *out = (oracle_result){.step = stable_step(&o), .steps = steps, .heat = -stored(&o)};
  const double start = now();
  for (size_t n = 0; n < steps; n++) {
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
