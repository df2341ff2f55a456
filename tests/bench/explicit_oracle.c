#include "tests/bench/explicit_oracle.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <time.h>

static double now(void)
{
  struct timespec t;
  (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

typedef struct { size_t a, b; double area, to_face_a, to_face_b; } contact; /* a face between two parts, m2 and m            */
typedef struct { size_t cell; double area, to_face; } outer_face;             /* a face to the room                            */
typedef struct { size_t begin, end; } run;                                      /* cells of one part, one after the other        */

typedef struct {
  const p2 *x;
  size_t nr, nz;
  double *enthalpy, *potential, *inverse_volume, *volume, *film; /* [cells]; film: W/K of coil in the cell                */
  double *flux_r, *flux_z;     /* [cells + 1], [cells + nr] W through the face below each cell                                 */
  double *g_r, *g_z;           /* [cells] area / distance of the face above each cell within its part, else 0                 */
  double *area_r, *area_z;     /* [cells] m2 of the faces above each cell                                                     */
  run *runs;                   /* all of them over [0, cells)                                                                 */
  contact *contacts;
  outer_face *outer;
  size_t *coil_cell;
  size_t num_runs, num_contacts, num_outer, num_coil_cells;
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

/* ------------------------------------------------------------------------------------------- one step */

static void potentials_of_run(const phase_curve *c, const double *restrict enthalpy, double *restrict potential, size_t num)
{
  if (c->three_lines) {
    const double solid = c->solid_potential_slope, liquid = c->liquid_potential_slope;
    for (size_t i = 0; i < num; i++) {
      const double below = enthalpy[i] - c->solid_enthalpy, above = enthalpy[i] - c->liquid_enthalpy;
      potential[i] = solid * (below < 0.0 ? below : 0.0) + liquid * (above > 0.0 ? above : 0.0);
    }
    return;
  }
  const double per_width = 1.0 / c->width, last = (double)(c->num_bins - 1);
  for (size_t i = 0; i < num; i++) {
    const double place = (enthalpy[i] - c->origin) * per_width, held = place < 0.0 ? 0.0 : place > last ? last : place;
    const int bin = (int)held;
    potential[i] = c->potential[bin] + (place - bin) * (c->potential[bin + 1] - c->potential[bin]);
  }
}

/* Faces within a part: along rows, then between rows. */
static void fluxes(const double *restrict u, const double *restrict g_r, const double *restrict g_z, double *restrict flux_r,
                   double *restrict flux_z, size_t num, size_t nr)
{
  for (size_t i = 0; i + 1 < num; i++)
    flux_r[i + 1] = g_r[i] * (u[i] - u[i + 1]);
  for (size_t i = 0; i + nr < num; i++)
    flux_z[i + nr] = g_z[i] * (u[i] - u[i + nr]);
}

static void balance(double *restrict enthalpy, const double *restrict flux_r, const double *restrict flux_z,
                    const double *restrict inverse_volume, double step, size_t num, size_t nr)
{
  for (size_t i = 0; i < num; i++)
    enthalpy[i] += step * inverse_volume[i] * (flux_r[i] - flux_r[i + 1] + flux_z[i] - flux_z[i + nr]);
}

/* Temperature and conductivity of a cell, looked up where its part meets something else. */
static double temperature_of(const oracle *o, size_t cell, const double *enthalpy)
{
  return phase_curve_temperature(curve_of(o, cell), enthalpy[cell]);
}

static double conductivity_of(const oracle *o, size_t cell, const double *enthalpy)
{
  const phase_curve *c = curve_of(o, cell);
  if (c->three_lines)
    return enthalpy[cell] > c->liquid_enthalpy ? c->liquid_potential_slope / c->liquid_temperature_slope
                                               : c->solid_potential_slope / c->solid_temperature_slope;
  double share;
  const size_t bin = phase_curve_bin(c, enthalpy[cell], &share);
  const double rise = c->temperature[bin + 1] - c->temperature[bin];
  return rise > 0.0 ? (c->potential[bin + 1] - c->potential[bin]) / rise : 1.5;
}

/* Two half cells in series, the room's film, the coil: few, so as they come. Their heat is put into the balance by way of the
 * fluxes of faces (contacts have a face of their own), or straight into the cell. */
static void add_boundaries(oracle *o, double step)
{
  const double *H = o->enthalpy;
  for (size_t n = 0; n < o->num_contacts; n++) {
    const contact *c = &o->contacts[n];
    const double q = c->area * (temperature_of(o, c->a, H) - temperature_of(o, c->b, H)) /
                     (c->to_face_a / conductivity_of(o, c->a, H) + c->to_face_b / conductivity_of(o, c->b, H));
    if (c->b == c->a + 1)
      o->flux_r[c->b] = q;
    else
      o->flux_z[c->b] = q;
  }
  double *target = o->potential; /* no longer needed in this step: the other heat, J/m3 */
  for (size_t n = 0; n < o->num_outer; n++)
    target[o->outer[n].cell] = 0.0;
  for (size_t n = 0; n < o->num_coil_cells; n++)
    target[o->coil_cell[n]] = 0.0;
  for (size_t n = 0; n < o->num_outer; n++) {
    const outer_face *f = &o->outer[n];
    const double q = f->area * (o->x->room - temperature_of(o, f->cell, H)) / (1.0 / o->x->r.room.film + f->to_face / conductivity_of(o, f->cell, H));
    target[f->cell] += step * q * o->inverse_volume[f->cell];
  }
  for (size_t n = 0; n < o->num_coil_cells; n++) {
    const size_t cell = o->coil_cell[n];
    target[cell] += step * o->film[cell] * (o->x->coolant - temperature_of(o, cell, H)) * o->inverse_volume[cell];
  }
}

static void add_kept(oracle *o)
{
  for (size_t n = 0; n < o->num_outer; n++) {
    const size_t cell = o->outer[n].cell;
    o->enthalpy[cell] += o->potential[cell];
    o->potential[cell] = 0.0; /* a corner has two faces to the room */
  }
  for (size_t n = 0; n < o->num_coil_cells; n++) {
    const size_t cell = o->coil_cell[n];
    o->enthalpy[cell] += o->potential[cell];
    o->potential[cell] = 0.0;
  }
}

static void take_step(oracle *o, double step)
{
  const size_t num = o->nr * o->nz;
  for (size_t r = 0; r < o->num_runs; r++) {
    const size_t begin = o->runs[r].begin;
    potentials_of_run(curve_of(o, begin), o->enthalpy + begin, o->potential + begin, o->runs[r].end - begin);
  }
  fluxes(o->potential, o->g_r, o->g_z, o->flux_r, o->flux_z, num, o->nr);
  add_boundaries(o, step);
  balance(o->enthalpy, o->flux_r, o->flux_z, o->inverse_volume, step, num, o->nr);
  add_kept(o);
}

/* ------------------------------------------------------------------------------------------- lists, once */

static void join(oracle *o, size_t a, size_t b, double area, double to_face_a, double to_face_b, double *within)
{
  if (o->x->m->part[a] == o->x->m->part[b])
    *within = area / (to_face_a + to_face_b);
  else
    o->contacts[o->num_contacts++] = (contact){a, b, area, to_face_a, to_face_b};
}

static void make_lists(oracle *o)
{
  for (size_t k = 0; k < o->nz; k++)
    for (size_t i = 0; i < o->nr; i++) {
      const size_t cell = k * o->nr + i;
      if (i + 1 < o->nr)
        join(o, cell, cell + 1, o->area_r[cell], half_r(o, i), half_r(o, i + 1), &o->g_r[cell]);
      else
        o->outer[o->num_outer++] = (outer_face){cell, o->area_r[cell], half_r(o, i)};
      if (k + 1 < o->nz)
        join(o, cell, cell + o->nr, o->area_z[cell], half_z(o, k), half_z(o, k + 1), &o->g_z[cell]);
      else
        o->outer[o->num_outer++] = (outer_face){cell, o->area_z[cell], half_z(o, k)};
      if (k == 0)
        o->outer[o->num_outer++] = (outer_face){cell, o->area_z[cell], half_z(o, k)};
      if (o->film[cell] > 0.0)
        o->coil_cell[o->num_coil_cells++] = cell;
      if (cell == 0 || o->x->m->part[cell] != o->x->m->part[cell - 1])
        o->runs[o->num_runs++].begin = cell;
      o->runs[o->num_runs - 1].end = cell + 1;
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

static bool allocate(oracle *o, size_t num)
{
  double **array[] = {&o->enthalpy, &o->potential, &o->inverse_volume, &o->volume, &o->film, &o->g_r, &o->g_z, &o->area_r, &o->area_z};
  bool ok = true;
  for (size_t a = 0; a < sizeof array / sizeof *array; a++)
    ok = (*array[a] = calloc(num, sizeof(double))) != NULL && ok;
  ok = (o->flux_r = calloc(num + 1, sizeof(double))) != NULL && ok;
  ok = (o->flux_z = calloc(num + o->nr, sizeof(double))) != NULL && ok;
  ok = (o->runs = calloc(num, sizeof *o->runs)) != NULL && ok;
  ok = (o->contacts = calloc(2 * num, sizeof *o->contacts)) != NULL && ok;
  ok = (o->outer = calloc(2 * (o->nr + o->nz) + 2, sizeof *o->outer)) != NULL && ok;
  ok = (o->coil_cell = calloc(num, sizeof *o->coil_cell)) != NULL && ok;
  return ok;
}

static void release(oracle *o)
{
  void *owned[] = {o->enthalpy, o->potential, o->inverse_volume, o->volume, o->film,  o->g_r,      o->g_z,      o->area_r,
                   o->area_z,   o->flux_r,    o->flux_z,         o->runs,   o->contacts, o->outer, o->coil_cell};
  for (size_t n = 0; n < sizeof owned / sizeof *owned; n++)
    free(owned[n]);
}

static void start(oracle *o, size_t num)
{
  const p2 *x = o->x;
  for (size_t cell = 0; cell < num; cell++) {
    o->volume[cell] = x->m->volume[cell];
    o->inverse_volume[cell] = 1.0 / o->volume[cell];
    o->area_r[cell] = grid_face_area(x->g, 0, 1, cell % o->nr, 0, cell / o->nr);
    o->area_z[cell] = grid_face_area(x->g, 2, 1, cell % o->nr, 0, cell / o->nr);
    o->enthalpy[cell] = phase_curve_enthalpy(curve_of(o, cell), x->parts[x->m->part[cell]].initial_temperature);
  }
  place_coil(o);
  make_lists(o);
}

status explicit_oracle_run(const p2 *x, size_t steps, oracle_result *out, message *msg)
{
  const size_t num = grid_num_cells(x->g);
  oracle o = {.x = x, .nr = x->g->num[0], .nz = x->g->num[2]};
  status code = allocate(&o, num) ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for the explicit oracle");
  if (code == STATUS_OK) {
    start(&o, num);
    *out = (oracle_result){.step = stable_step(&o), .steps = steps, .heat = -stored(&o)};
    const double begin = now();
    for (size_t n = 0; n < steps; n++)
      take_step(&o, out->step);
    out->seconds = now() - begin;
    out->heat += stored(&o);
    out->time = out->step * (double)steps;
  }
  release(&o);
  return code;
}
