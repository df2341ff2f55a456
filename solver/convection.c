#include "solver/convection.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/heat_flux.h"

static const double SLAB_MODE = 0.405284734569351;     /* 4 / pi^2                 */
static const double CYLINDER_MODE = 0.691660276122580; /* 4 / 2.404825557695773^2  */
static const double THINNEST = 0.005;                  /* m, V / A below which motion fades */
static const double LEAST_DIFFERENCE = 1e-6;           /* kg/m3                    */

/* One connected pocket. */
typedef struct {
  double heat, volume;         /* sum of V f T and of V f: the mean temperature          */
  double side_area, side_heat; /* upright surfaces: m2, and m2 times degC                 */
  double area[2], warmth[2];   /* the same of those colder and of those warmer than the mean */
  double phase;                /* m3: sum of V f strength                                */
  bool on_axis;                /* (r, z): reaches r = 0                                   */
  bool across[4];              /* (x, y, z): reaches a mirror plane: low x, high x, low y, high y */
  double moment[2], spread[2]; /* (x, y, z): sums of V f x, and of V f x^2, from the low edge of the grid; y */
  double low, high;            /* m, z span of unstable pairs                             */
  double lightest, densest;    /* kg/m3 among the nodes of unstable pairs                 */
  double sideways, upwards;    /* the factors in clear liquid                             */
} body_of_liquid;

struct convection {
  const mesh *m;
  const adjacency *a;
  pockets_labels labels;
  double *density;             /* [num_nodes] kg/m3 of the liquid in labelled nodes */
  body_of_liquid *regions;
  size_t capacity;
};

status convection_create(convection **out, const mesh *m, const adjacency *a, message *msg)
{
  convection *c = calloc(1, sizeof *c);
  if (!c) {
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for motion in liquids", sizeof *c);
  }
  c->m = m;
  c->a = a;
  status code = pockets_labels_create(&c->labels, m->num_nodes, msg);
  c->density = malloc((m->num_nodes + 1) * sizeof *c->density);
  if (code == STATUS_OK && !c->density) {
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory for the densities of %zu nodes", m->num_nodes);
  }
  if (code != STATUS_OK) {
    convection_destroy(&c);
    return code;
  }
  *out = c;
  return STATUS_OK;
}

void convection_destroy(convection **c)
{
  if (c && *c) {
    pockets_labels_release(&(*c)->labels);
    free((*c)->density);
    free((*c)->regions);
    free(*c);
    *c = NULL;
  }
}

static status make_room(convection *c, message *msg)
{
  if (c->labels.num > c->capacity) {
    const size_t capacity = 2 * c->labels.num;
    body_of_liquid *larger = realloc(c->regions, capacity * sizeof *larger);
    if (!larger) {
      return message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu regions of liquid", capacity);
    }
    c->regions = larger;
    c->capacity = capacity;
  }
  for (size_t i = 0; i < c->labels.num; i++) {
    c->regions[i] = (body_of_liquid){.low = INFINITY, .high = -INFINITY, .lightest = INFINITY, .densest = -INFINITY};
  }
  return STATUS_OK;
}

/* Strength of the liquid in a node: in `closed` brine all its salt is in the liquid that is left, up to the eutectic. */
static double strength_at(const convection_request *q, size_t node)
{
  if (!q->brine || q->mode == SALT_MIXED) {
    return q->mass_fraction;
  }
  return fmin(q->mass_fraction / q->liquid_fraction[node], brine_eutectic(q->salt).mass_fraction);
}

static double density_at(const convection_request *q, size_t node)
{
  return q->brine ? brine_density(q->salt, strength_at(q, node), q->temperature[node]) : film_water_density(q->temperature[node]);
}

static void fill_density(convection *c, const convection_request *q)
{
#pragma omp parallel for schedule(static) if (c->m->num_nodes >= HEAT_FLUX_THREADED)
  for (size_t n = 0; n < c->m->num_nodes; n++) {
    if (c->labels.label[n] >= 0) {
      c->density[n] = density_at(q, n);
    }
  }
}

/* How far it spreads along the level axes; a width is counted by w^2 / 12, so that a cell has a spread of its own. */
static void add_spread(body_of_liquid *r, const mesh *m, size_t n, double liquid)
{
  size_t ijk[3];
  grid_cell_indices(m->grid, (size_t)m->cell[n], ijk);
  for (int axis = 0; axis < 2; axis++) {
    const double *edges = m->grid->edges[axis], width = edges[ijk[axis] + 1] - edges[ijk[axis]], x = m->centroid[n][axis] - edges[0];
    r->moment[axis] += liquid * x;
    r->spread[axis] += liquid * (x * x + width * width / 12.0);
    r->across[2 * axis] = r->across[2 * axis] || (m->grid->mirror[2 * axis] && ijk[axis] == 0);
    r->across[2 * axis + 1] = r->across[2 * axis + 1] || (m->grid->mirror[2 * axis + 1] && ijk[axis] + 1 == m->grid->num[axis]);
  }
}

static void add_contents(convection *c, const convection_request *q)
{
  const mesh *m = c->m;
  for (size_t n = 0; n < m->num_nodes; n++) {
    if (c->labels.label[n] < 0) {
      continue;
    }
    body_of_liquid *r = &c->regions[c->labels.label[n]];
    const double liquid = m->volume[n] * q->liquid_fraction[n];
    r->volume += liquid;
    r->heat += liquid * q->temperature[n];
    r->phase += liquid * strength_at(q, n);
    if (m->grid->kind == GRID_RZ && m->grid->edges[0][0] == 0.0) {
      size_t ijk[3];
      grid_cell_indices(m->grid, (size_t)m->cell[n], ijk);
      r->on_axis = r->on_axis || ijk[0] == 0;
    }
    if (m->grid->kind == GRID_XYZ)
      add_spread(r, m, n, liquid);
  }
}

/* An upright surface, by whether it is colder or warmer than the pocket's mean. */
static void add_surface(body_of_liquid *r, double area, double temperature)
{
  const int warmer = temperature > r->heat / r->volume;
  r->side_area += area;
  r->side_heat += area * temperature;
  r->area[warmer] += area;
  r->warmth[warmer] += area * temperature;
}

/* The ice front: sum over nodes of | sum over faces of (f_neighbour - f) / 2 * area | along the level axes, which is the area of the
 * surface between liquid and ice whatever way it runs through the cells. It faces the region that the node, or a neighbour, is in. */
static void add_front(convection *c, const convection_request *q)
{
  const mesh *m = c->m;
  const adjacency *a = c->a;
  for (size_t n = 0; n < m->num_nodes; n++) {
    if (m->part[n] != q->part || !(m->volume[n] > 0.0)) {
      continue;
    }
    double slope[3] = {0.0, 0.0, 0.0};
    int32_t label = c->labels.label[n];
    for (size_t e = a->start[n]; e < a->start[n + 1]; e++) {
      const int32_t beside = a->neighbour[e];
      const double step = 0.5 * (q->liquid_fraction[beside] - q->liquid_fraction[n]) * a->area[e];
      slope[a->direction[e] / 2] += a->direction[e] % 2 ? step : -step;
      label = label < 0 ? c->labels.label[beside] : label;
    }
    const double area = hypot(slope[0], slope[1]);
    if (label >= 0 && area > 0.0) {
      add_surface(&c->regions[label], area, q->freezing_temperature);
    }
  }
}

static void add_walls(convection *c, const convection_request *q)
{
  for (size_t i = 0; i < c->m->num_interfaces; i++) {
    const mesh_interface *f = &c->m->interfaces[i];
    for (int side = 0; side < 2; side++) {
      if (f->node[side] < 0 || f->part[side] != q->part || c->labels.label[f->node[side]] < 0) {
        continue;
      }
      const size_t n = (size_t)f->node[side];
      const double area = f->area[side] * hypot(f->normal[0], f->normal[1]) * q->liquid_fraction[n];
      add_surface(&c->regions[c->labels.label[n]], area, q->temperature[n]);
    }
  }
}

/* True when the liquid above `node` (across entry e) is denser, by more than rounding of temperatures can do. */
static bool is_unstable(const convection *c, size_t node, size_t e)
{
  const size_t above = (size_t)c->a->neighbour[e];
  return c->a->direction[e] == 5 && c->labels.label[above] >= 0 && c->density[above] > c->density[node] + LEAST_DIFFERENCE;
}

static void add_unstable(convection *c)
{
  const mesh *m = c->m;
  for (size_t n = 0; n < m->num_nodes; n++) {
    for (size_t e = c->a->start[n]; e < c->a->start[n + 1] && c->labels.label[n] >= 0; e++) {
      if (is_unstable(c, n, e)) {
        const size_t above = (size_t)c->a->neighbour[e];
        body_of_liquid *r = &c->regions[c->labels.label[n]];
        r->low = fmin(r->low, m->centroid[n][2]);
        r->high = fmax(r->high, m->centroid[above][2]);
        r->lightest = fmin(r->lightest, c->density[n]);
        r->densest = fmax(r->densest, c->density[above]);
      }
    }
  }
}

/* Limits to [1, ceiling], with the excess scaled by `share`. NAN: properties unknown. */
static double bounded(double factor, double share, convection_report *report)
{
  if (isnan(factor)) {
    report->num_unknown++;
    return 1.0;
  }
  const double excess = fmax(factor - 1.0, 0.0) * share;
  if (excess > CONVECTION_CEILING - 1.0) {
    report->num_capped++;
    return CONVECTION_CEILING;
  }
  return 1.0 + excess;
}

static double scale_of(const convection_request *q) { return q->flow->film_scale > 0.0 ? q->flow->film_scale : 1.0; }

static double film_of(const convection_request *q, const film_fluid *f, double mean, double surface, double strength, double height)
{
  if (!isnan(q->flow->film_coefficient)) {
    return q->flow->film_coefficient;
  }
  if (!q->brine) {
    return scale_of(q) * film_water_natural(surface, mean, height);
  }
  const double difference = fabs(brine_density(q->salt, strength, mean) - brine_density(q->salt, strength, surface));
  return scale_of(q) * film_vertical(f, difference, height);
}

typedef struct { const convection_request *ask; const film_fluid *fluid; double mean, strength, height; } film_place;

static double film_at(const film_place *p, double area, double warmth)
{
  return film_of(p->ask, p->fluid, p->mean, area > 0.0 ? warmth / area : p->mean, p->strength, p->height);
}

/* How round it is: 0 for a slab, 1 for a cylinder. In (x, y, z) by (V / A)^2 over the mean square of the way from its middle, which is 1/2 for a
 * cylinder, 3/8 for a square bar, next to nothing for a slab or a thin ring. */
static double roundness(const body_of_liquid *r, const grid *g, double deep)
{
  double square = 0.0;
  if (g->kind == GRID_RZ)
    return r->on_axis ? 1.0 : 0.0;
  for (int axis = 0; axis < 2; axis++) {
    const bool low = r->across[2 * axis], high = r->across[2 * axis + 1];
    const double mean = r->moment[axis] / r->volume, middle = low ? 0.0 : high ? g->edges[axis][g->num[axis]] - g->edges[axis][0] : mean;
    square += low && high ? INFINITY : r->spread[axis] / r->volume - middle * (2.0 * mean - middle); /* without end between two planes */
  }
  return square > 0.0 ? fmin(1.0, 2.0 * deep * deep / square) : 0.0;
}

/* W/(m K) with which the pocket, between a slab and a cylinder, cools as behind its film. */
static double cooling(const film_place *p, const grid *g, const body_of_liquid *r)
{
  const double deep = r->side_area > 0.0 ? r->volume / r->side_area : 0.0; /* m; no upright surface: nothing drives it sideways */
  const double mode = SLAB_MODE + (CYLINDER_MODE - SLAB_MODE) * roundness(r, g, deep);
  return mode * film_at(p, r->side_area, r->side_heat) * deep;
}

/* W/(m K) with which a slab of the pocket's volume, faces A / 2, carries what its two films in series do from the warm side to the cold. */
static double passage(const film_place *p, const body_of_liquid *r)
{
  const double half = 0.5 * r->side_area;
  const double cold = r->area[0] * film_at(p, r->area[0], r->warmth[0]), warm = r->area[1] * film_at(p, r->area[1], r->warmth[1]);
  return cold > 0.0 && warm > 0.0 ? cold * warm / (cold + warm) * r->volume / (half * half) : 0.0;
}

/* Share of the heat at the surfaces that the pocket itself gives or takes; the rest passes through it. All of it in water: there what is warmer than the
 * mean is a mould's idle wall beside warmer layers, not a source of heat. */
static double one_sidedness(const convection_request *q, const body_of_liquid *r)
{
  if (!q->brine)
    return 1.0;
  const double mean = r->heat / r->volume, colder = r->area[0] * mean - r->warmth[0], warmer = r->warmth[1] - r->area[1] * mean;
  return colder + warmer > 0.0 ? fabs(colder - warmer) / (colder + warmer) : 1.0;
}

static void settle_region(const convection_request *q, const grid *g, body_of_liquid *r, const pockets_region *where, convection_report *report)
{
  const double mean = r->heat / r->volume, strength = r->phase / r->volume;
  const film_fluid f = q->brine ? film_brine(q->salt, strength, mean) : film_water(mean);
  const film_place place = {.ask = q, .fluid = &f, .mean = mean, .strength = strength, .height = where->high - where->low};
  const double share = r->side_area > 0.0 ? fmin(1.0, r->volume / r->side_area / THINNEST) : 0.0, own = one_sidedness(q, r);
  const double conductivity = own < 1.0 ? own * cooling(&place, g, r) + (1.0 - own) * passage(&place, r) : cooling(&place, g, r);
  r->sideways = bounded(conductivity / f.conductivity, share, report);
  if (r->densest > r->lightest) {
    const double rayleigh = film_rayleigh(&f, r->densest - r->lightest, r->high - r->low);
    r->upwards = bounded(scale_of(q) * film_nusselt_layer(rayleigh, film_prandtl(&f)), share, report);
  } else {
    r->upwards = 1.0;
  }
}

static void write_factors(const convection *c, const convection_request *q, double *horizontal, double *vertical)
{
  const motion *flow = q->flow;
  for (size_t n = 0; n < c->m->num_nodes; n++) {
    if (c->m->part[n] != q->part || !(c->m->volume[n] > 0.0)) {
      continue;
    }
    horizontal[n] = vertical[n] = 1.0;
    const int32_t label = c->labels.label[n];
    const double ice = 1.0 - q->liquid_fraction[n];
    if (label < 0 || flow->kind == MOTION_NONE || !(ice < flow->coherency)) {
      continue;
    }
    const double free = (1.0 - ice / flow->coherency) * (1.0 - ice / flow->coherency);
    bool overturns = !isnan(flow->vertical_factor);
    for (size_t e = c->a->start[n]; e < c->a->start[n + 1]; e++) {
      overturns = overturns || is_unstable(c, n, e);
    }
    const double sideways = isnan(flow->horizontal_factor) ? c->regions[label].sideways : flow->horizontal_factor;
    const double upwards = isnan(flow->vertical_factor) ? c->regions[label].upwards : flow->vertical_factor;
    horizontal[n] = 1.0 + fmax(sideways - 1.0, 0.0) * free;
    vertical[n] = overturns ? 1.0 + fmax(upwards - 1.0, 0.0) * free : 1.0;
  }
}

status convection_factors(convection *c, const convection_request *request, double *horizontal, double *vertical,
                          convection_report *report, message *msg)
{
  const convection_request *q = request;
  *report = (convection_report){0};
  status code = pockets_label(&c->labels, c->m, c->a, q->part, q->liquid_fraction, NULL, msg);
  if (code == STATUS_OK) {
    code = make_room(c, msg);
  }
  if (code != STATUS_OK) {
    return code;
  }
  report->num_regions = c->labels.num;
  if (q->flow->kind != MOTION_NONE) {
    fill_density(c, q);
    add_contents(c, q);
    add_front(c, q);
    add_walls(c, q);
    add_unstable(c);
    for (size_t i = 0; i < c->labels.num; i++) {
      settle_region(q, c->m->grid, &c->regions[i], &c->labels.region[i], report);
    }
  }
  write_factors(c, q, horizontal, vertical);
  return STATUS_OK;
}
