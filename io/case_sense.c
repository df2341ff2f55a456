/* What cannot work, told by name before anything is computed: water without room or without cold, a coil that is not in its bath or leaves
 * no room for ice, probes beside the rig. The parts are looked at on the cells of the grid, each cell at its centre. */
#include <math.h>
#include <string.h>

#include "io/case_coil_line.h"

static const double ICE_GAP = 0.025;  /* m, less free space than this between coil and mould soon bridges (judgement) */
enum { PATH = 96, MOST_SAMPLES = 400000, MOST_STEPS = 200 };

typedef struct {
  case_build *b;
  size_t num[3], stride[3];
  int16_t *label; /* rig part per sampled cell, MESH_VOID */
  bool *touch;    /* [n * n], n = num_parts + 1; the last is the room */
  bool *cold;     /* [n] reached by cold */
  double step;    /* m, shorter than the thinnest wall */
  size_t n;
} senses;

/* ------------------------------------------------------------------------------------------------ who touches whom */

static int16_t part_at(const rig *r, const double at[3])
{
  for (size_t i = r->num_parts; i > 0; i--)
    if (shape_distance(r->parts[i - 1].region, at) < 0.0)
      return (int16_t)(i - 1);
  return MESH_VOID;
}

static size_t side(const senses *s, int16_t label)
{
  return label < 0 ? s->n - 1 : (size_t)label;
}

static void note_touch(senses *s, int16_t a, int16_t b)
{
  s->touch[side(s, a) * s->n + side(s, b)] = s->touch[side(s, b) * s->n + side(s, a)] = true;
}

/* Walks from one cell's centre to the next in steps shorter than the thinnest wall, so that a wall between them is met. */
static void walk(senses *s, const double from[3], int16_t start, const double to[3], int16_t end)
{
  int16_t before = start;
  if (start == end)
    return;
  const double way = sqrt(pow(to[0] - from[0], 2) + pow(to[1] - from[1], 2) + pow(to[2] - from[2], 2));
  const int steps = (int)fmin(MOST_STEPS, ceil(way / s->step));
  for (int i = 1; i < steps; i++) {
    const double share = (double)i / steps;
    const double at[3] = {from[0] + share * (to[0] - from[0]), from[1] + share * (to[1] - from[1]), from[2] + share * (to[2] - from[2])};
    const int16_t now = part_at(&s->b->c->rig, at);
    note_touch(s, before, now);
    before = now;
  }
  note_touch(s, before, end);
}

static double thinnest_wall(const case_file *c)
{
  double thin = c->spacing;
  for (size_t i = 0; i < c->num_parts; i++)
    if (c->parts[i].wall > 0.0)
      thin = fmin(thin, fmin(c->parts[i].wall, c->parts[i].wall_floor));
  return thin;
}

static void centre_of(const senses *s, size_t i, size_t j, size_t k, double centre[3])
{
  grid_cell_centre(s->b->c->rig.mesh_grid, i * s->stride[0], j * s->stride[1], k * s->stride[2], centre);
}

static status look(senses *s)
{
  const rig *r = &s->b->c->rig;
  const grid *g = r->mesh_grid;
  double cells = (double)grid_num_cells(g), thin = 1.0;
  while (cells / (thin * thin * thin) > MOST_SAMPLES)
    thin += 1.0;
  for (int axis = 0; axis < 3; axis++) {
    s->stride[axis] = g->num[axis] > 40 ? (size_t)thin : 1;
    s->num[axis] = (g->num[axis] + s->stride[axis] - 1) / s->stride[axis];
  }
  s->n = r->num_parts + 1;
  s->label = case_store_array(s->b->c->store, s->num[0] * s->num[1] * s->num[2], sizeof *s->label, s->b->msg);
  s->touch = case_store_array(s->b->c->store, s->n * s->n, sizeof *s->touch, s->b->msg);
  s->cold = case_store_array(s->b->c->store, s->n, sizeof *s->cold, s->b->msg);
  if (!s->label || !s->touch || !s->cold)
    return STATUS_NO_MEMORY;
  s->step = 0.45 * thinnest_wall(s->b->c);
  for (size_t k = 0, at = 0; k < s->num[2]; k++)
    for (size_t j = 0; j < s->num[1]; j++)
      for (size_t i = 0; i < s->num[0]; i++, at++) {
        const size_t ijk[3] = {i, j, k}, back[3] = {1, s->num[0], s->num[0] * s->num[1]};
        double centre[3], other[3];
        centre_of(s, i, j, k, centre);
        s->label[at] = part_at(r, centre);
        for (int axis = 0; axis < 3; axis++)
          if (ijk[axis] > 0) {
            centre_of(s, i - (axis == 0), j - (axis == 1), k - (axis == 2), other);
            walk(s, other, s->label[at - back[axis]], centre, s->label[at]);
          }
        for (int axis = 0; axis < 3; axis++) {
          if (g->kind == GRID_RZ && axis == 1)
            continue;
          for (int up = 0; up < 2; up++)
            if (!g->mirror[2 * axis + up] && ijk[axis] == (up ? s->num[axis] - 1 : 0)) {
              const bool to_axis = g->kind == GRID_RZ && axis == 0 && !up; /* a thin rod may stand there */
              memcpy(other, centre, sizeof other);
              other[axis] = to_axis ? 0.0 : g->edges[axis][up ? g->num[axis] : 0] + (up ? s->step : -s->step);
              walk(s, centre, s->label[at], other, to_axis ? part_at(r, other) : MESH_VOID);
            }
        }
      }
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ cold */

static double lowest(const schedule *t)
{
  double low = INFINITY;
  for (size_t i = 0; i < t->num; i++)
    low = fmin(low, t->value[i]);
  return low - t->swing;
}

static bool insulated(const rig *r, int a, int b)
{
  bool cut = false;
  for (size_t i = 0; i < r->num_rules; i++) {
    const surface_rule *q = &r->rules[i];
    if (((q->part == a && q->other == b) || (q->part == b && q->other == a)) && q->faces == FACES_ALL)
      cut = q->kind == SURFACE_INSULATED;
  }
  return cut;
}

/* Is there anything below `freezing` on the outside of a part that touches the room? */
static bool cold_outside(const rig *r, int part, double freezing)
{
  bool cold = lowest(&r->room.temperature) < freezing && r->room.film > 0.0 && !insulated(r, part, MESH_VOID);
  for (size_t i = 0; i < r->num_rules; i++) {
    const surface_rule *q = &r->rules[i];
    if (q->part != part || q->other != MESH_VOID || q->kind == SURFACE_INSULATED)
      continue;
    const schedule *t = q->temperature.num                                          ? &q->temperature
                        : q->kind == SURFACE_FLOOR && r->room.floor_temperature.num ? &r->room.floor_temperature
                                                                                    : &r->room.temperature;
    cold = cold || lowest(t) < freezing;
  }
  return cold;
}

static void mark_sources(senses *s, double freezing)
{
  const case_file *c = s->b->c;
  const rig *r = &c->rig;
  memset(s->cold, 0, s->n * sizeof *s->cold);
  for (size_t i = 0; i < r->num_parts; i++) {
    const rig_part *p = &r->parts[i];
    if (p->kind == PART_HELD)
      s->cold[i] = lowest(&p->held) < freezing;
    else
      s->cold[i] = (p->kind != PART_WATER && p->initial_temperature < freezing) ||
                   (s->touch[i * s->n + s->n - 1] && cold_outside(r, (int)i, freezing));
  }
  for (size_t i = 0; i < r->num_coils; i++) {
    const int in = case_build_find_rig_part(s->b, case_build_text(c->coils[i].item, SECTION_COIL, "in"));
    if (in >= 0 && (r->coils[i].coolant == COOLANT_PLANT || lowest(&r->coils[i].temperature) < freezing))
      s->cold[in] = true;
  }
}

/* Cold spreads to whatever touches; the room carries none. */
static void spread_cold(senses *s)
{
  const rig *r = &s->b->c->rig;
  for (bool more = true; more;) {
    more = false;
    for (size_t a = 0; a + 1 < s->n; a++)
      for (size_t b = 0; s->cold[a] && b + 1 < s->n; b++)
        if (!s->cold[b] && s->touch[a * s->n + b] && !insulated(r, (int)a, (int)b))
          s->cold[b] = more = true;
  }
}

static void check_water(senses *s)
{
  const case_file *c = s->b->c;
  const size_t num = s->num[0] * s->num[1] * s->num[2];
  for (size_t i = 0; i < c->rig.num_bodies; i++) {
    const rig_body *body = &c->rig.bodies[i];
    size_t cells = 0;
    for (size_t k = 0; k < num; k++)
      cells += s->label[k] == body->part;
    if (cells == 0) {
      case_build_fault(s->b, c->bodies[i].item, NULL, "bodies.%s: other parts cover all of it, no water is left; list them before \"%s\" or move them",
                       body->name, c->parts[c->bodies[i].vessel].name);
      continue;
    }
    const double freezing = c->rig.parts[body->part].stuff->curve.freezing_temperature;
    mark_sources(s, freezing - 0.01);
    spread_cold(s);
    if (!s->cold[body->part])
      case_build_fault(s->b, c->bodies[i].item, NULL,
                       "bodies.%s: this water touches nothing cold: no coil, held part, surface, room or part that it reaches is below its freezing "
                       "point (%.3g degC); give a coil with a refrigerant_temperature, a part \"held\" cold, or a colder room",
                       body->name, freezing);
  }
  for (size_t i = 0; i < c->rig.num_baths; i++) {
    size_t cells = 0;
    for (size_t k = 0; k < num; k++)
      cells += s->label[k] == c->rig.baths[i].part;
    if (cells == 0)
      case_build_fault(s->b, c->baths[i].item, NULL, "baths.%s: other parts cover all of it; move them or make \"%s\" larger", c->rig.baths[i].name,
                       c->parts[c->baths[i].vessel].name);
  }
}

/* ------------------------------------------------------------------------------------------------ coils and probes */

static void check_coil_place(const case_build *b, size_t index)
{
  const case_file *c = b->c;
  const case_coil *k = &c->coils[index];
  const rig_coil *out = &c->rig.coils[index];
  const double half = 0.5 * out->tube_outer;
  const int in = case_build_find_rig_part(b, case_build_text(k->item, SECTION_COIL, "in"));
  if (in < 0)
    return;
  double top = INFINITY;
  for (size_t i = 0; i < c->rig.num_baths; i++)
    if (c->rig.baths[i].part == in)
      top = c->baths[i].level;
  for (size_t i = 0; i < c->rig.num_bodies; i++)
    if (c->rig.bodies[i].part == in)
      top = c->bodies[i].frozen_level;
  for (size_t i = 0; i < out->num_rings; i++) {
    const double at[3] = {out->rings[i][0], 0.0, out->rings[i][1]};
    if (at[2] + half > top) {
      case_build_fault(b, k->item, NULL, "coils.%s: turn %zu of %zu (z %.4g mm) rises out of \"%s\", whose surface is at z %.4g mm; lower the coil, "
                                         "or fill higher", k->name, i + 1, out->num_rings, 1e3 * at[2], c->rig.parts[in].name, 1e3 * top);
      return;
    }
    if (shape_distance(c->rig.parts[in].region, at) > -half * (1.0 - 1e-6)) {
      case_build_fault(b, k->item, NULL, "coils.%s: turn %zu of %zu (radius %.4g mm, z %.4g mm) does not lie within \"%s\"; change radius, z or height",
                       k->name, i + 1, out->num_rings, 1e3 * at[0], 1e3 * at[2], c->rig.parts[in].name);
      return;
    }
  }
}

/* The same for a line. */
static void check_line_place(const case_build *b, size_t index)
{
  const case_file *c = b->c;
  const case_coil *k = &c->coils[index];
  const rig_coil *out = &c->rig.coils[index];
  const double half = 0.5 * out->tube_outer;
  const int in = case_build_find_rig_part(b, case_build_text(k->item, SECTION_COIL, "in"));
  for (size_t i = 0; in >= 0 && i < out->num_points; i++)
    if (shape_distance(c->rig.parts[in].region, out->points[i]) > -half * (1.0 - 1e-6)) {
      const double *p = out->points[i];
      case_build_fault(b, k->item, NULL, "coils.%s: at x %.4g, y %.4g, z %.4g mm it does not lie within \"%s\" with all of its tube; move the coil, or fill "
                                         "higher", k->name, 1e3 * p[0], 1e3 * p[1], 1e3 * p[2], c->rig.parts[in].name);
      return;
    }
}

/* Ice grows on the tube and on the mould towards each other. */
/* A coil in a solid jacket or rod gathers no ice. */
static bool lies_in_a_bath(const case_build *b, const case_coil *k)
{
  const char *in = case_build_text(k->item, SECTION_COIL, "in");
  for (size_t i = 0; in && i < b->c->rig.num_baths; i++)
    if (strcmp(b->c->baths[i].name, in) == 0)
      return true;
  return false;
}

static void check_ice_gap(const case_build *b, size_t index)
{
  const case_coil *k = &b->c->coils[index];
  if (!lies_in_a_bath(b, k))
    return;
  const rig_coil *out = &b->c->rig.coils[index];
  for (size_t i = 0; i < b->c->rig.num_bodies; i++) {
    const case_part *mould = &b->c->parts[b->c->bodies[i].vessel];
    double gap = INFINITY;
    for (size_t ring = 0; ring < out->num_rings; ring++)
      gap = fmin(gap, shape_distance(mould->outer, (const double[3]){out->rings[ring][0], 0.0, out->rings[ring][1]}) - 0.5 * out->tube_outer);
    if (out->num_points > 0)
      gap = case_coil_line_gap(out, mould->outer, NULL);
    if (gap <= 0.0)
      continue; /* lies in the water itself, or was told */
    if (gap < 0.5 * out->tube_outer)
      case_build_fault(b, k->item, NULL, "coils.%s: only %.3g mm between tube and \"%s\": no room for the ice that grows there; leave at least half a tube "
                                         "(%.3g mm), better %.3g mm", k->name, 1e3 * gap, mould->name, 500.0 * out->tube_outer, 1e3 * ICE_GAP);
    else if (gap < ICE_GAP)
      fault_note(b->faults, k->item->at, "%s: %.3g mm between tube and %s; ice on both will soon meet and lock the mould (judgement: leave %.3g mm)",
                 k->name, 1e3 * gap, mould->name, 1e3 * ICE_GAP);
  }
}

static void check_probes(const case_build *b)
{
  const yaml_node *list = yaml_tree_value(b->c->tree, "probes");
  const grid *g = b->c->rig.mesh_grid;
  for (size_t i = 0; list && i < b->c->rig.num_probes; i++) {
    const rig_probe *p = &b->c->rig.probes[i];
    size_t cell = 0;
    if (!grid_find(g, p->point, &cell))
      case_build_fault(b, list->items[i], "at", "probes.%s: it lies outside the rig", p->name);
    else {
      const int16_t part = part_at(&b->c->rig, p->point);
      if (part == MESH_VOID || b->c->rig.parts[part].kind == PART_HELD)
        case_build_fault(b, list->items[i], "at", "probes.%s: it lies in %s%s, where no temperature is computed", p->name,
                         part == MESH_VOID ? "the room's air" : "the held part ", part == MESH_VOID ? "" : b->c->rig.parts[part].name);
    }
  }
}

status case_sense_check(case_build *b)
{
  senses s = {.b = b};
  const status code = look(&s);
  if (code != STATUS_OK)
    return code;
  check_water(&s);
  for (size_t i = 0; i < b->c->rig.num_coils; i++) {
    check_coil_place(b, i);
    check_line_place(b, i);
    check_ice_gap(b, i);
  }
  check_probes(b);
  return STATUS_OK;
}
