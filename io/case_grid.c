/* The grid: from a wanted error of the freeze time, or a spacing, to stretched edges that meet the flat faces of the parts.
 *
 * Fine in and around the water and the coil, growing outward through bath and foam. The error of the freeze time falls about as cells per
 * half thickness of the water to the power -1.5; 11 cells give 1 % (from our own tables of exact checks; judgement for other shapes). */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_build.h"
#include "io/case_mirror.h"

static const double CELLS_AT_ONE_PERCENT = 11.0;
static const double GROWTH = 1.2, COARSE = 4.0; /* outside the fine zone; coarse over fine */
static const double FEWEST_ACROSS = 4.0;        /* cells per half thickness of the water    */
/* Of a cell: the least height of one between two faces, which is also the least node (half a cell) that stays by itself. Where a row between the water
 * and the rim was left out at 0.58 of a cell, the dry wall went with the wet one below and a cone with a wall of 15 mm froze 0.6 % early. */
static const double LEAST_APART = 0.5;
static const double MIRRORED = 0.02;            /* cells by which a surface may differ from its image */
enum { MOST_STOPS = 512, SCAN = 48 };
static const double MOST_CELLS = 6e6;

typedef struct {
  double at;
  int rank; /* higher ones are kept when two lie too close */
  double from_middle; /* m; in (r, z) and upright: its place */
} stop;

typedef struct {
  case_build *b;
  double low[3], high[3];           /* the rig */
  double fine_low[3], fine_high[3]; /* water and coil */
  double half_thickness, spacing;
  case_mirror mirror;
  size_t num_stops[3];
  stop stops[3][MOST_STOPS];
} grid_maker;

/* ------------------------------------------------------------------------------------------------ extents */

static void widen(double low[3], double high[3], const double a[3], const double b[3])
{
  for (int axis = 0; axis < 3; axis++) {
    low[axis] = fmin(low[axis], a[axis]);
    high[axis] = fmax(high[axis], b[axis]);
  }
}

static void find_extents(grid_maker *m)
{
  const case_file *c = m->b->c;
  double a[3], b[3];
  for (int axis = 0; axis < 3; axis++) {
    m->low[axis] = m->fine_low[axis] = INFINITY;
    m->high[axis] = m->fine_high[axis] = -INFINITY;
  }
  for (size_t i = 0; i < c->num_parts; i++) {
    shape_bounds(c->parts[i].outer, a, b);
    widen(m->low, m->high, a, b);
  }
  for (size_t i = 0; i < c->rig.num_bodies; i++) {
    shape_bounds(c->parts[c->bodies[i].vessel].hollow, a, b);
    b[2] = fmin(b[2], c->bodies[i].frozen_level);
    widen(m->fine_low, m->fine_high, a, b);
  }
  for (size_t i = 0; i < c->rig.num_coils; i++) {
    const rig_coil *k = &c->rig.coils[i];
    for (size_t ring = 0; ring < k->num_rings; ring++) {
      const double from[3] = {0.0, 0.0, k->rings[ring][1] - k->tube_outer}, to[3] = {k->rings[ring][0] + k->tube_outer, 0.0, k->rings[ring][1] + k->tube_outer};
      widen(m->fine_low, m->fine_high, from, to);
    }
    for (size_t point = 0; point < k->num_points; point++) {
      const double *p = k->points[point], t = k->tube_outer;
      widen(m->fine_low, m->fine_high, (const double[3]){p[0] - t, p[1] - t, p[2] - t}, (const double[3]){p[0] + t, p[1] + t, p[2] + t});
    }
  }
  if (c->revolved)
    m->low[0] = m->fine_low[0] = 0.0;
}

/* Distance from a place inside a part to its surface or to what is painted over it; below zero outside. */
static double depth_in(const rig *r, size_t part, const double at[3])
{
  double depth = -shape_distance(r->parts[part].region, at);
  for (size_t i = part + 1; i < r->num_parts; i++)
    depth = fmin(depth, shape_distance(r->parts[i].region, at));
  return depth;
}

/* Largest distance from a place in a part to its surface. */
static double half_thickness_of(const case_build *b, size_t part)
{
  const rig_part *water = &b->c->rig.parts[part];
  double low[3], high[3], most = 0.0;
  shape_bounds(water->region, low, high);
  const int rows = b->c->revolved ? 1 : SCAN / 2;
  for (int k = 0; k < SCAN; k++)
    for (int j = 0; j < rows; j++)
      for (int i = 0; i < SCAN; i++) {
        const double x = b->c->revolved ? high[0] * i / (SCAN - 1) : low[0] + (high[0] - low[0]) * (i + 0.5) / SCAN;
        const double y = b->c->revolved ? 0.0 : low[1] + (high[1] - low[1]) * (j + 0.5) / rows;
        const double at[3] = {x, y, low[2] + (high[2] - low[2]) * (k + 0.5) / SCAN};
        most = fmax(most, depth_in(&b->c->rig, part, at));
      }
  return most;
}

/* ------------------------------------------------------------------------------------------------ spacing */

/* A coil near the mould needs cells between them, within reason. */
static double spacing_for_coils(const case_build *b, double wanted)
{
  double found = wanted;
  for (size_t i = 0; i < b->c->rig.num_coils; i++) {
    const double way = b->c->coils[i].clearance + 0.5 * b->c->rig.coils[i].tube_outer;
    if (isfinite(way))
      found = fmin(found, fmax(way / 2.5, 0.5 * wanted));
  }
  return found;
}

/* Round a thin rod that is held cold the heat flows in narrow rings: a cell is at most two thirds of its half thickness, within reason. */
static double spacing_for_rods(const case_build *b, double wanted)
{
  double found = wanted;
  for (size_t i = 0; i < b->c->num_parts; i++) {
    const case_part *p = &b->c->parts[i];
    if (!p->hollow && b->c->rig.parts[p->rig_part].kind == PART_HELD)
      found = fmin(found, fmax(half_thickness_of(b, (size_t)p->rig_part) / 1.5, 0.25 * wanted));
  }
  return found;
}

/* A vessel so wide for its water that none of the places looked at lies in it: as good as always a drawing read in the wrong unit. */
static void tell_puddles(const case_build *b)
{
  for (size_t i = 0; i < b->c->rig.num_bodies; i++) {
    const case_liquid *w = &b->c->bodies[i];
    const case_part *v = &b->c->parts[w->vessel];
    double low[3], high[3];
    if (half_thickness_of(b, (size_t)b->c->rig.bodies[i].part) > 0.0)
      continue;
    shape_bounds(v->hollow, low, high);
    case_build_fault(b, w->item, "in", "bodies.%s: %.4g L are lost in \"%s\", which is %.4g m wide and %.4g m high inside; look at its size%s, or pour more",
                     w->name, 1e3 * w->volume, v->name, b->c->revolved ? 2.0 * high[0] : fmax(high[0] - low[0], high[1] - low[1]), high[2] - low[2],
                     v->file ? " and unit" : "");
  }
}

static bool choose_spacing(grid_maker *m)
{
  const yaml_node *map = yaml_tree_value(m->b->c->tree, "grid");
  case_file *c = m->b->c;
  double error = 0.0;
  m->half_thickness = INFINITY;
  for (size_t i = 0; i < c->rig.num_bodies; i++)
    m->half_thickness = fmin(m->half_thickness, half_thickness_of(m->b, (size_t)c->rig.bodies[i].part));
  c->wanted_error = NAN;
  if (case_build_has(map, "spacing") && case_build_has(map, "error")) {
    case_build_fault(m->b, map, "spacing", "grid: \"error\" and \"spacing\" are both given; give one");
    return false;
  }
  if (!(m->half_thickness > 0.0)) {
    tell_puddles(m->b);
    return false;
  }
  if (case_build_quantity(m->b, map, SECTION_GRID, "spacing", &m->spacing)) {
    if (m->half_thickness / m->spacing < FEWEST_ACROSS)
      case_build_fault(m->b, map, "spacing", "grid.spacing: %.4g mm leaves fewer than %g cells from the surface to the middle of the water "
                                             "(%.4g mm); at most %.3g mm is accepted", 1e3 * m->spacing, FEWEST_ACROSS, 1e3 * m->half_thickness,
                       1e3 * m->half_thickness / FEWEST_ACROSS);
    return m->half_thickness / m->spacing >= FEWEST_ACROSS;
  }
  (void)case_build_quantity(m->b, map, SECTION_GRID, "error", &error);
  if (error < 0.0005 || error > 0.1) {
    case_build_fault(m->b, map, "error", "grid.error: %.3g %% of the freeze time; between 0.05 and 10 %% is accepted", 100.0 * error);
    return false;
  }
  c->wanted_error = error;
  for (size_t i = 0; i < c->rig.num_baths; i++)
    if (c->rig.baths[i].flow.kind != MOTION_STIRRED && c->rig.num_coils)
      fault_note(m->b->faults, c->baths[i].item->at,
                 "%s: the wanted error is judged by the water alone; in a still bath the layers between and above the turns of a coil add to it (some 3 %% "
                 "between 5 and 20 mm, measured on small rigs), so run it once more with half the spacing and see what moves", c->baths[i].name);
  const double cells = fmax(FEWEST_ACROSS, CELLS_AT_ONE_PERCENT * pow(0.01 / error, 2.0 / 3.0));
  m->spacing = spacing_for_rods(m->b, spacing_for_coils(m->b, m->half_thickness / cells));
  return true;
}

/* ------------------------------------------------------------------------------------------------ stops */

static void add_stop(grid_maker *m, int axis, double at, int rank)
{
  if (m->num_stops[axis] < MOST_STOPS && isfinite(at))
    m->stops[axis][m->num_stops[axis]++] = (stop){.at = at, .rank = rank};
}

static int rank_of(const case_build *b, size_t part)
{
  for (size_t i = 0; i < b->c->rig.num_bodies; i++)
    if (b->c->bodies[i].vessel == part)
      return 3;
  for (size_t i = 0; i < b->c->rig.num_baths; i++)
    if (b->c->baths[i].vessel == part)
      return 2;
  return b->c->rig.parts[b->c->parts[part].rig_part].kind == PART_HELD ? 3 : 1;
}

static void stops_of_part(grid_maker *m, size_t index)
{
  const case_part *p = &m->b->c->parts[index];
  /* Turned by quarters its flat faces lie along the axes as a box's do; otherwise none does. */
  const char *kind = p->posture == SHAPE_PLACED_UPRIGHT ? p->kind : p->posture == SHAPE_PLACED_SQUARE ? "box" : "tipped";
  const bool flat_ends = case_keys_is_choice("cylinder|tube|frustum|disc|box|prism", kind);
  const bool upright = case_keys_is_choice("cylinder|tube|disc|box", kind);
  const int rank = rank_of(m->b, index);
  double low[3], high[3];
  shape_bounds(p->hollow ? p->hollow : p->region, low, high);
  /* A wall thinner than two cells is no layer of cells: only its inner face is met. */
  const double faces[2] = {p->around.side - p->wall, p->around.side}, upright_floors[2] = {p->around.floor - p->wall_floor, p->around.floor};
  const double *floors = p->posture == SHAPE_PLACED_UPRIGHT ? upright_floors : faces;
  const int num_faces = p->hollow && fmin(p->wall, p->wall_floor) >= 2.0 * m->spacing ? 2 : 1;
  for (int face = 0; face < num_faces; face++) {
    if (flat_ends)
      add_stop(m, 2, low[2] - floors[face], rank);
    if (flat_ends)
      add_stop(m, 2, p->open_top || !p->hollow ? high[2] : high[2] + faces[face], rank);
    for (int axis = 0; upright && axis < 2; axis++) {
      if (m->b->c->revolved && axis == 1)
        continue;
      add_stop(m, axis, high[axis] + faces[face], rank);
      if (!m->b->c->revolved)
        add_stop(m, axis, low[axis] - faces[face], rank);
    }
  }
  for (int face = 0; face < num_faces; face++)
    for (int axis = 0; axis < 3; axis++)
      for (size_t i = 0; i < p->num_flats[axis]; i++) {
        const triangle_flat *f = &p->flats[axis][i];
        const bool mouth = axis == 2 && f->outward > 0 && p->open_top;
        add_stop(m, axis, mouth ? f->at : f->at + f->outward * faces[face], rank);
      }
  double inner = 0.0;
  if (strcmp(kind, "tube") == 0 && m->b->c->revolved) {
    if (case_build_quantity(m->b, p->item, SECTION_PART, "inner_radius", &inner))
      add_stop(m, 0, inner, rank);
    else if (case_build_quantity(m->b, p->item, SECTION_PART, "inner_diameter", &inner))
      add_stop(m, 0, 0.5 * inner, rank);
  }
}

static bool is_in_still_bath(const case_build *b, size_t coil)
{
  const int part = case_build_find_rig_part(b, case_build_text(b->c->coils[coil].item, SECTION_COIL, "in"));
  for (size_t i = 0; i < b->c->rig.num_baths; i++)
    if (b->c->rig.baths[i].part == part && b->c->rig.baths[i].flow.kind == MOTION_STILL)
      return true;
  return false;
}

/* In a still bath the cold layers end at the top of the upper turn, and liquid above it stays warm: a row of cells ends there too, or the layer is
 * up to half a cell too deep or too flat, and the freezing time with it (two small rigs, 5 to 20 mm: scatter of 5 and 6 % without, 4 and 3 % with). */
static void stops_of_coils(grid_maker *m)
{
  const rig *r = &m->b->c->rig;
  for (size_t i = 0; i < r->num_coils; i++) {
    const rig_coil *k = &r->coils[i];
    double top = -INFINITY;
    if (!is_in_still_bath(m->b, i))
      continue;
    for (size_t ring = 0; ring < k->num_rings; ring++)
      top = fmax(top, k->rings[ring][1] + 0.5 * k->tube_outer);
    for (size_t point = 0; point < k->num_points; point++)
      top = fmax(top, k->points[point][2] + 0.5 * k->tube_outer);
    add_stop(m, 2, top, 2);
  }
}

/* Of one rank those nearer to the middle first, so that a symmetric rig has the same lines on both sides, and half of it too. */
static int by_rank(const void *a, const void *b)
{
  const stop *x = a, *y = b;
  if (x->rank != y->rank)
    return x->rank > y->rank ? -1 : 1;
  if (x->from_middle != y->from_middle)
    return x->from_middle < y->from_middle ? -1 : 1;
  return x->at < y->at ? -1 : x->at > y->at;
}

static void measure_from_middle(grid_maker *m, int axis)
{
  const bool level = !m->b->c->revolved && axis < 2;
  const double middle = level && m->mirror.plane[axis] ? m->mirror.at[axis] : 0.5 * (m->low[axis] + m->high[axis]);
  for (size_t i = 0; i < m->num_stops[axis]; i++)
    m->stops[axis][i].from_middle = level ? fabs(m->stops[axis][i].at - middle) : m->stops[axis][i].at;
}

static int by_value(const void *a, const void *b)
{
  const double x = *(const double *)a, y = *(const double *)b;
  return x < y ? -1 : x > y;
}

/* Keeps the stops that lie far enough from the ends and from each other; out[] rises. */
static size_t choose_stops(grid_maker *m, int axis, double out[MOST_STOPS])
{
  size_t num = 0;
  measure_from_middle(m, axis);
  qsort(m->stops[axis], m->num_stops[axis], sizeof m->stops[axis][0], by_rank);
  for (size_t i = 0; i < m->num_stops[axis]; i++) {
    const double at = m->stops[axis][i].at;
    const double apart = LEAST_APART * m->spacing;
    bool room = at - m->low[axis] >= apart && m->high[axis] - at >= apart;
    for (size_t j = 0; room && j < num; j++)
      room = fabs(out[j] - at) > apart;
    if (room)
      out[num++] = at;
  }
  qsort(out, num, sizeof *out, by_value);
  return num;
}

/* Where the lines of an axis lie the same on both sides of the middle, it is one of them: half of such a rig behind a mirror plane is then divided
 * as the whole is, which an odd number of cells across the middle would not allow. */
static size_t divide_in_the_middle(const grid_maker *m, int axis, double stops[MOST_STOPS], size_t num)
{
  const double low = m->low[axis], high = m->high[axis], middle = 0.5 * (low + high), same = 1e-9 * (high - low);
  if (m->b->c->revolved || axis == 2 || m->mirror.plane[axis] || num == MOST_STOPS)
    return num;
  for (size_t i = 0; i < num; i++)
    if (fabs(stops[i] + stops[num - 1 - i] - 2.0 * middle) > same || fabs(stops[i] - middle) <= 0.6 * m->spacing)
      return num;
  stops[num] = middle;
  qsort(stops, num + 1, sizeof *stops, by_value);
  return num + 1;
}

/* A thin wall at the end of the grid: air beyond it makes room for whole cells that meet the wall's inner face. */
static void make_room_for_thin_walls(grid_maker *m)
{
  for (int axis = 0; axis < 3; axis++)
    for (size_t i = 0; i < m->num_stops[axis]; i++) {
      const double at = m->stops[axis][i].at, apart = 0.7 * m->spacing;
      if (m->stops[axis][i].rank < 2)
        continue;
      if (at > m->low[axis] && at - m->low[axis] < LEAST_APART * m->spacing && !(m->b->c->revolved && axis == 0) && !(axis < 2 && m->mirror.plane[axis]))
        m->low[axis] = at - apart;
      if (at < m->high[axis] && m->high[axis] - at < LEAST_APART * m->spacing)
        m->high[axis] = at + apart;
    }
}

/* ------------------------------------------------------------------------------------------------ edges */

static status build_axis(grid_maker *m, int axis, double **edges, size_t *num)
{
  double stops[MOST_STOPS];
  message why = {""};
  const size_t num_stops = divide_in_the_middle(m, axis, stops, choose_stops(m, axis, stops));
  const grid_axis_request q = {.low = m->low[axis],
                               .high = m->high[axis],
                               .stops = stops,
                               .num_stops = num_stops,
                               .fine = m->spacing,
                               .coarse = COARSE * m->spacing,
                               .fine_low = m->fine_low[axis] - 2.0 * m->spacing,
                               .fine_high = m->fine_high[axis] + 2.0 * m->spacing,
                               .growth = GROWTH};
  const status code = grid_axis_build(&q, edges, num, &why);
  if (code == STATUS_BAD_INPUT)
    case_build_fault(m->b, yaml_tree_value(m->b->c->tree, "grid"), NULL, "grid: %s", why.text);
  else if (code != STATUS_OK)
    (void)message_set(m->b->msg, code, "%s", why.text);
  return code;
}

run_cost_rig case_grid_cost(const case_file *c)
{
  run_cost_rig r = {.revolved = c->revolved, .bath = c->rig.num_baths > 0};
  for (size_t i = 0; i < c->num_parts; i++)
    r.thin_walls = r.thin_walls || (c->parts[i].wall > 0.0 && fmin(c->parts[i].wall, c->parts[i].wall_floor) < 2.0 * c->spacing);
  return r;
}

/* m: cells so wide that there are at most so many; a little more, since layers and stops take theirs. */
static double spacing_for(const grid_maker *m, double cells, double most)
{
  return 1.03 * m->spacing * pow(cells / fmax(most, 1.0), m->b->c->revolved ? 0.5 : 1.0 / 3.0);
}

/* A fault, with what would fit, when cells are too many for us, or for the machine's memory. */
static bool fits(const grid_maker *m, double cells)
{
  const run_cost_rig r = case_grid_cost(m->b->c);
  const yaml_node *where = yaml_tree_value(m->b->c->tree, "grid");
  const double have = run_cost_have();
  double most = 0.0;
  const bool fits_memory = run_cost_fits(&r, cells, have, &most);
  if (fits_memory && cells <= MOST_CELLS)
    return true;
  most = fmin(most, MOST_CELLS);
  if (fits_memory)
    case_build_fault(m->b, where, NULL, "grid: cells of %.3g mm make %.1f million; at most %.3g million are accepted; cells of about %.3g mm would fit",
                     1e3 * m->spacing, cells / 1e6, MOST_CELLS / 1e6, 1e3 * spacing_for(m, cells, most));
  else
    case_build_fault(m->b, where, NULL,
                     "grid: cells of %.3g mm make %.1f million, which take about %.1f GB, and this machine has %.1f GB; cells of about %.3g mm (%.3g "
                     "million) would fit", 1e3 * m->spacing, cells / 1e6, 1e-9 * run_cost_memory(&r, cells), 1e-9 * have,
                     1e3 * spacing_for(m, cells, most), most / 1e6);
  return false;
}

static status build_edges(grid_maker *m)
{
  const bool mirror[6] = {m->mirror.plane[0], false, m->mirror.plane[1], false, false, false};
  double *edges[3] = {NULL, NULL, NULL};
  size_t num[3] = {1, 1, 1};
  message why = {""};
  status code = STATUS_OK;
  for (int axis = 0; code == STATUS_OK && axis < 3; axis++)
    if (!(m->b->c->revolved && axis == 1))
      code = build_axis(m, axis, &edges[axis], &num[axis]);
  const double cells = (double)num[0] * (double)num[1] * (double)num[2];
  if (code == STATUS_OK && !fits(m, cells))
    code = STATUS_BAD_INPUT;
  if (code == STATUS_OK)
    m->b->c->rig.counts_images = mirror[0] || mirror[2];
  if (code == STATUS_OK)
    code = grid_create(&m->b->c->rig.mesh_grid, m->b->c->revolved ? GRID_RZ : GRID_XYZ, num, (const double *const *)edges, mirror, &why);
  if (code != STATUS_OK && code != STATUS_BAD_INPUT && why.text[0])
    (void)message_set(m->b->msg, code, "%s", why.text);
  for (int axis = 0; axis < 3; axis++)
    free(edges[axis]);
  return code == STATUS_BAD_INPUT ? STATUS_OK : code;
}

/* A wall that is drawn, and not as thick everywhere, is cut into the cells it lies in; with less than two of them across it, what it resists is
 * not well known. */
static void note_thin_drawn_walls(const case_build *b)
{
  for (size_t i = 0; i < b->c->num_parts; i++) {
    const case_part *p = &b->c->parts[i];
    if (p->drawn_wall == 0.0 && p->mean_wall > 0.0 && p->mean_wall < 2.0 * b->c->spacing)
      fault_note(b->faults, p->item->at, "parts.%s: its walls as drawn are some %.2g mm thick on the average and differ; that is less than two cells of %.3g mm, so "
                 "that what they resist is known roughly; take cells of %.2g mm, or give its hollow with a \"wall\"", p->name, 1e3 * p->mean_wall,
                 1e3 * b->c->spacing, 0.49e3 * p->mean_wall);
  }
}

status case_grid_build(case_build *b)
{
  grid_maker *m = case_store_array(b->c->store, 1, sizeof *m, b->msg);
  if (!m)
    return STATUS_NO_MEMORY;
  m->b = b;
  find_extents(m);
  if (!choose_spacing(m))
    return STATUS_OK;
  b->c->spacing = m->spacing;
  note_thin_drawn_walls(b);
  m->mirror = case_mirror_read(b, MIRRORED * m->spacing);
  if (fault_count(b->faults) > 0)
    return STATUS_OK;
  for (int axis = 0; axis < 2; axis++)
    if (m->mirror.plane[axis]) {
      m->low[axis] = m->mirror.at[axis];
      m->fine_low[axis] = fmax(m->fine_low[axis], m->low[axis]);
    }
  for (size_t i = 0; i < b->c->num_parts; i++)
    stops_of_part(m, i);
  for (size_t i = 0; i < b->c->rig.num_bodies; i++)
    add_stop(m, 2, b->c->bodies[i].frozen_level, 4);
  for (size_t i = 0; i < b->c->rig.num_baths; i++)
    add_stop(m, 2, b->c->baths[i].level, 3);
  stops_of_coils(m);
  make_room_for_thin_walls(m);
  return build_edges(m);
}
