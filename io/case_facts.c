#include "io/case_facts.h"

#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_build.h"
#include "io/run_cost.h"
#include "solver/ground.h"

static const double PI = 3.14159265358979323846, GRAVITY = 9.80665; /* m/s2, standard */

/* ------------------------------------------------------------------------------------------------ parts */

static double volume_of(const case_file *c, const shape *s, double level)
{
  return shape_volume_below(s, c->revolved, level, c->revolved ? 1e-6 : 1e-4);
}

/* What a layer lies round: the part that it names. */
static const case_part *inside_of(const case_file *c, const case_part *layer)
{
  const yaml_node *around = yaml_tree_value(layer->item, "around");
  for (size_t i = 0; around && i < c->num_parts; i++)
    if (strcmp(c->parts[i].name, around->text) == 0)
      return &c->parts[i];
  return NULL;
}

/* A wall is the outside less the inside: both are full shapes, whose volumes are exact however thin the wall. */
static double volume_of_part(const case_file *c, const case_part *p)
{
  const case_part *inside = inside_of(c, p);
  if (p->is_vessel && p->wall == 0.0) /* drawn with its walls */
    return volume_of(c, p->region, INFINITY);
  double volume = volume_of(c, p->outer, INFINITY);
  if (inside)
    volume -= volume_of(c, inside->outer, INFINITY);
  else if (p->is_vessel)
    volume -= volume_of(c, p->hollow, INFINITY);
  return volume;
}

static void fill_parts(case_facts *f, const case_file *c)
{
  for (size_t i = 0; i < c->num_parts; i++) {
    const rig_part *p = &c->rig.parts[c->parts[i].rig_part];
    f->parts[i].volume = volume_of_part(c, &c->parts[i]);
    f->parts[i].mass = p->stuff ? f->parts[i].volume * p->stuff->density : NAN;
  }
}

/* ------------------------------------------------------------------------------------------------ water and brine */

/* The bath whose vessel holds the foot of this part: the last listed one before it. */
static int bath_around(const case_file *c, size_t part)
{
  int found = -1;
  const case_part *p = &c->parts[part];
  double low[3], high[3];
  shape_bounds(p->outer, low, high);
  const double middle[3] = {c->revolved ? 0.0 : 0.5 * (low[0] + high[0]), c->revolved ? 0.0 : 0.5 * (low[1] + high[1]), p->floor};
  for (size_t i = 0; i < c->rig.num_baths; i++) {
    const case_part *tub = &c->parts[c->baths[i].vessel];
    if (c->baths[i].vessel < part && shape_distance(tub->hollow, middle) < 0.0 && c->baths[i].level > low[2])
      found = (int)i;
  }
  return found;
}

static double hold(double value, double otherwise)
{
  return isnan(value) ? otherwise : value;
}

static void fill_bodies(case_facts *f, const case_file *c)
{
  for (size_t i = 0; i < c->rig.num_bodies; i++) {
    const case_liquid *q = &c->bodies[i];
    const case_part *mould = &c->parts[q->vessel];
    case_body_facts *b = &f->bodies[i];
    b->headspace_liquid = mould->rim - q->level;
    b->headspace_frozen = mould->rim - q->frozen_level;
    b->frozen_volume = q->mass / c->rig.parts[q->rig_part].stuff->density;
    b->mould_mass = f->parts[q->vessel].mass;
    b->bath = bath_around(c, q->vessel);
    b->displaced = b->up_force = NAN;
    if (b->bath >= 0) {
      const case_liquid *bath = &c->baths[b->bath];
      b->displaced = volume_of(c, mould->outer, bath->level);
      b->up_force = GRAVITY * (b->displaced * bath->mass / bath->volume - q->mass - hold(b->mould_mass, 0.0));
    }
  }
}

/* Bare surface: what a thin slice just below the level holds, over its height. */
static double surface_at(const case_file *c, const case_liquid *q)
{
  const double slice = 5e-3; /* m */
  const shape *region = c->rig.parts[q->rig_part].region;
  double area = (volume_of(c, region, q->level) - volume_of(c, region, q->level - slice)) / slice;
  return area > 0.0 ? area : 0.0;
}

static void fill_baths(case_facts *f, const case_file *c)
{
  for (size_t i = 0; i < c->rig.num_baths; i++) {
    const case_liquid *q = &c->baths[i];
    const rig_bath *bath = &c->rig.baths[i];
    f->baths[i].onset = brine_onset(bath->salt, bath->liquidus, bath->mass_fraction);
    f->baths[i].freeboard = c->parts[q->vessel].rim - q->level;
    f->baths[i].surface = surface_at(c, q);
    f->baths[i].litres_to_rim = q->capacity - q->volume;
    f->baths[i].salt = q->mass * bath->mass_fraction;
  }
}

static void fill_coils(case_facts *f, const case_file *c)
{
  for (size_t i = 0; i < c->rig.num_coils; i++) {
    const rig_coil *k = &c->rig.coils[i];
    f->coils[i].volume_inside = k->length * PI * pow(0.5 * k->tube_outer - k->tube_wall, 2.0);
    f->coils[i].area = k->length * PI * k->tube_outer;
  }
}

/* ------------------------------------------------------------------------------------------------ the floor, the cost */

static void fill_floor(case_facts *f, const case_file *c)
{
  static const double GROUND = 2.0; /* W/(m K): concrete, moist earth */
  double lowest = INFINITY, low[3], high[3], perimeter = 0.0;
  f->mass = 0.0;
  for (size_t i = 0; i < c->num_parts; i++)
    f->mass += hold(f->parts[i].mass, 0.0);
  for (size_t i = 0; i < c->rig.num_bodies; i++)
    f->mass += c->bodies[i].mass;
  for (size_t i = 0; i < c->rig.num_baths; i++)
    f->mass += c->baths[i].mass;
  for (size_t i = 0; i < c->num_parts; i++) {
    shape_bounds(c->parts[i].outer, low, high);
    if (low[2] < lowest - 1e-9) {
      lowest = low[2];
      f->floor_area = c->revolved ? PI * high[0] * high[0] : (high[0] - low[0]) * (high[1] - low[1]);
      perimeter = c->revolved ? 2.0 * PI * high[0] : 2.0 * (high[0] - low[0] + high[1] - low[1]);
    }
  }
  f->floor_touching = ground_disc(f->floor_area, GROUND);
  f->floor_aired = ground_slab_transmittance(&(ground_slab){.area = f->floor_area, .perimeter = perimeter, .conductivity = GROUND});
  f->floor_load = f->mass / f->floor_area;
}

static void fill_cost(case_facts *f, const case_file *c)
{
  f->num_cells = grid_num_cells(c->rig.mesh_grid);
  const run_cost_rig kind = case_grid_cost(c);
  f->memory = run_cost_memory(&kind, (double)f->num_cells);
  f->duration = run_cost_duration(&kind, (double)f->num_cells);
}

/* ------------------------------------------------------------------------------------------------ cautions */

#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
static void caution(case_facts *f, const char *format, ...)
{
  va_list args;
  if (f->num_cautions == CASE_FACTS_MOST_CAUTIONS)
    return;
  va_start(args, format);
  (void)vsnprintf(f->cautions[f->num_cautions++], CASE_FACTS_CAUTION, format, args);
  va_end(args);
}

static void cautions_on_metals(case_facts *f, const case_file *c)
{
  for (size_t i = 0; i < c->rig.num_baths; i++) {
    const case_liquid *q = &c->baths[i];
    if (!brine_is_chloride(c->rig.baths[i].salt))
      continue;
    for (size_t j = q->vessel; j < c->num_parts; j++) {
      const case_part *p = &c->parts[j];
      const bool wetted = j == q->vessel || bath_around(c, j) == (int)i;
      if (wetted && p->solid && material_solid_attacked_by_chloride(p->solid))
        caution(f, "%s is %s, which chloride brine attacks: use inhibited brine at pH 7.5 to 9, coat it, or take plastic (stainless steel "
                   "lasts longest of the metals, and pits as well); look for pits before each use", p->name, p->solid);
    }
    for (size_t j = 0; j < c->rig.num_coils; j++)
      if (c->coils[j].solid && material_solid_attacked_by_chloride(c->coils[j].solid))
        caution(f, "%s is %s, which chloride brine attacks: a leak lets refrigerant into the bath", c->coils[j].name, c->coils[j].solid);
  }
}

static void cautions_on_weight(case_facts *f, const case_file *c)
{
  for (size_t i = 0; i < c->rig.num_bodies; i++) {
    if (c->bodies[i].mass > CASE_FACTS_LIFT_LIMIT)
      caution(f, "lifting: the block of %s weighs %.0f kg, more than one person may lift (%.0f kg under ideal conditions, NIOSH): hoist and tongs, nobody "
                 "beneath; ice slips and shatters", c->bodies[i].name, c->bodies[i].mass, CASE_FACTS_LIFT_LIMIT);
    if (!c->parts[c->bodies[i].vessel].open_top)
      caution(f, "closed vessel: %s freezes in \"%s\", which is closed all round; ice needs 9 %% more room and can burst it", c->bodies[i].name,
              c->parts[c->bodies[i].vessel].name);
  }
  /* A small foot loads its own square centimetres, not the floor: below about two persons' weight it is nothing to a floor (common practice, no
   * source). */
  if (f->floor_load > 250.0 && f->mass > 150.0)
    caution(f, "floor: %.0f kg/m2 is more than floors of dwellings are made for (150 to 200 kg/m2; EN 1991-1-1, category A, from memory): have it checked",
            f->floor_load);
}

static void cautions_on_bath(case_facts *f, const case_file *c)
{
  if (!c->rig.num_baths)
    return;
  for (size_t i = 0; i < c->rig.num_baths; i++) {
    if (c->rig.baths[i].salt == BRINE_CACL2)
      caution(f, "calcium chloride heats up strongly when it is dissolved: add salt to cold water, slowly, with goggles and gloves");
    if (c->rig.baths[i].salt == BRINE_ETHANOL)
      caution(f, "ethanol burns, and its vapour with air can explode: no sparks, ventilate");
    if (c->rig.baths[i].salt == BRINE_ETHYLENE_GLYCOL)
      caution(f, "ethylene glycol is poisonous: not where ice is eaten, and not where animals drink");
  }
  caution(f, "electricity beside brine: residual-current device of 30 mA, bond tub, coil and stirrer to earth, unplug before reaching in");
  caution(f, "cold: brine below -10 degC freezes wet skin in minutes and metal at -20 degC in seconds; insulated waterproof gloves");
  caution(f, "a tub of brine is a place to fall into: lid and lock, a rim 0.9 m high, a tray that holds 110 %% of the brine");
}

static bool is_propane(const case_file *c)
{
  return c->rig.plant.present && c->rig.plant.refrigerant == REFRIGERANT_R290;
}

static void cautions_on_plant(case_facts *f, const case_file *c)
{
  if (!c->rig.num_coils)
    return;
  if (is_propane(c))
    caution(f, "propane (R290) burns and is heavier than air: ventilate, no sparks near the floor, leak detector; charge limits and room sizes are set by "
               "EN 378, ISO 5149 or ASHRAE 15");
  caution(f, "refrigerant is under pressure, and venting it is unlawful in many places: brazing, charging and opening the circuit are for licensed people");
}

static void cautions_general(case_facts *f)
{
  caution(f, "forecasts, not permission: local codes, makers' instructions and licensed practice come first");
}

/* ------------------------------------------------------------------------------------------------ life */

status case_facts_create(case_facts **out, const case_file *c, message *msg)
{
  case_facts *f = calloc(1, sizeof *f);
  if (!f)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for facts of the case", sizeof *f);
  f->parts = calloc(c->num_parts + 1, sizeof *f->parts);
  f->bodies = calloc(c->rig.num_bodies + 1, sizeof *f->bodies);
  f->baths = calloc(c->rig.num_baths + 1, sizeof *f->baths);
  f->coils = calloc(c->rig.num_coils + 1, sizeof *f->coils);
  f->cautions = calloc(CASE_FACTS_MOST_CAUTIONS, sizeof *f->cautions);
  if (!f->parts || !f->bodies || !f->baths || !f->coils || !f->cautions) {
    case_facts_destroy(&f);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for facts of the case");
  }
  fill_parts(f, c);
  fill_bodies(f, c);
  fill_baths(f, c);
  fill_coils(f, c);
  fill_floor(f, c);
  fill_cost(f, c);
  cautions_on_weight(f, c);
  cautions_on_metals(f, c);
  cautions_on_plant(f, c);
  cautions_on_bath(f, c);
  cautions_general(f);
  *out = f;
  return STATUS_OK;
}

void case_facts_destroy(case_facts **f)
{
  if (!*f)
    return;
  free((*f)->parts);
  free((*f)->bodies);
  free((*f)->baths);
  free((*f)->coils);
  free((*f)->cautions);
  free(*f);
  *f = NULL;
}
