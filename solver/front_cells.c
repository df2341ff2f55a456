#include "solver/front_cells.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/front_ramps.h"

/* Slopes beside the plateau are secants over this share of the latent heat. */
static const double SECANT = 0.02;
/* A node of which this share more is liquid stands ahead: it is half between the least that the next node of a front has, a half, and that
 * of a node beside, none. */
static const double AHEAD = 0.25;
/* Hemmed in: of the cold that comes from one side only, this share comes along other axes than the one of most. None of it does before a
 * plane front along the grid, half in a corner. */
static const double HEMMED = 0.25;
/* Nodes beyond the middle at which the last water is gone (front_cells.h). */
static const double ONTO_PLANE = 0.5, ONTO_AXIS = 1.0, INTO_CORNER = 1.5;

typedef struct {
  bool sharp;                        /* it freezes at one temperature */
  double solid, liquid, at_freezing; /* J/m3, J/m3, W/m               */
  double solid_slope, liquid_slope;  /* du/dH beside the plateau, m2/s */
} sharp_stuff;

typedef struct { size_t begin, end; int32_t part; } run;

enum { WORD = 8 }; /* marks are looked through so many at a time */
enum { DRY, WET, NEVER }; /* holds no liquid, holds some; does not freeze sharply */

struct front_cells {
  const conductance_rows *rows;
  size_t num_nodes, num_parts;
  const int32_t *part;
  const phase_curve *const *curve;
  const bool *excluded;
  double *clear;                        /* [num_parts] J/m3 of stirred water; NAN: none        */
  sharp_stuff *stuff;                   /* [num_parts]                                 */
  uint32_t *face_start, *surface_start; /* [num_nodes + 1] lists per node              */
  uint32_t *face_of, *surface_of;
  int32_t *face_other;
  front_cells_face *face;               /* [num_faces]                                 */
  size_t num_faces;
  int32_t *surface_node;                /* nodes with a surface, each once, rising     */
  size_t num_surface_nodes;
  size_t num_runs;
  run *runs;                            /* consecutive nodes of one part               */
  unsigned char *wet, *mark;            /* [num_nodes + WORD]; mark is clear between refreshes */
  unsigned char *followed;              /* [num_nodes] 1: found by the last refresh    */
  int32_t *marked;                      /* [num_nodes] the marked nodes, rising        */
  size_t num_marked;
  int32_t *place;                       /* [num_nodes] index in found; -1: none        */
  heat_potential_ramp *found;           /* [2 num_nodes] in the order of the levels, behind them room to look at the marked nodes */
  front_ramps ramps;                    /* the same by rising node                     */
  size_t num_found;
  bool round_axis;
};

/* ------------------------------------------------------------------------------------------- making */

static void count_up(uint32_t *start, size_t num_nodes)
{
  for (size_t n = 0; n < num_nodes; n++)
    start[n + 1] += start[n];
}

static void list_faces(front_cells *f, const front_cells_network *n, uint32_t *next)
{
  for (size_t i = 0; i < n->num_faces; i++) {
    f->face_start[n->faces[i].left + 1]++;
    if (n->faces[i].right != n->faces[i].left)
      f->face_start[n->faces[i].right + 1]++;
  }
  count_up(f->face_start, f->num_nodes);
  memcpy(next, f->face_start, f->num_nodes * sizeof *next);
  for (size_t i = 0; i < n->num_faces; i++)
    for (int s = 0; s < (n->faces[i].right != n->faces[i].left ? 2 : 1); s++) {
      const uint32_t at = next[s ? n->faces[i].right : n->faces[i].left]++;
      f->face_of[at] = (uint32_t)i;
      f->face_other[at] = s ? n->faces[i].left : n->faces[i].right;
    }
}

static void list_surfaces(front_cells *f, const front_cells_network *n, uint32_t *next)
{
  for (size_t i = 0; i < n->num_surfaces; i++)
    if (n->surface_node[i] >= 0)
      f->surface_start[n->surface_node[i] + 1]++;
  for (size_t node = 0; node < f->num_nodes; node++)
    if (f->surface_start[node + 1] > 0)
      f->surface_node[f->num_surface_nodes++] = (int32_t)node;
  count_up(f->surface_start, f->num_nodes);
  memcpy(next, f->surface_start, f->num_nodes * sizeof *next);
  for (size_t i = 0; i < n->num_surfaces; i++)
    if (n->surface_node[i] >= 0)
      f->surface_of[next[n->surface_node[i]]++] = (uint32_t)i;
}

static bool list_runs(front_cells *f)
{
  const int32_t *part = f->part;
  size_t num = 0;
  for (size_t node = 0; node < f->num_nodes; node++)
    num += node == 0 || part[node] != part[node - 1];
  f->runs = calloc(num + 1, sizeof *f->runs);
  for (size_t node = 0; f->runs && node < f->num_nodes; node++) {
    if (node == 0 || part[node] != part[node - 1])
      f->runs[f->num_runs++] = (run){.begin = node, .part = part[node]};
    f->runs[f->num_runs - 1].end = node + 1;
  }
  return f->runs != NULL;
}

status front_cells_create(front_cells **out, const front_cells_network *n, message *msg)
{
  front_cells *f = calloc(1, sizeof *f);
  uint32_t *next = calloc(n->num_nodes + 1, sizeof *next);
  if (!f || !next)
    goto no_memory;
  *f = (front_cells){.rows = n->rows, .num_nodes = n->num_nodes, .num_parts = n->num_parts, .part = n->part, .curve = n->curve,
                     .excluded = n->excluded, .round_axis = n->round_axis};
  f->clear = calloc(n->num_parts + 1, sizeof *f->clear);
  f->stuff = calloc(n->num_parts + 1, sizeof *f->stuff);
  f->face_start = calloc(n->num_nodes + 1, sizeof *f->face_start);
  f->surface_start = calloc(n->num_nodes + 1, sizeof *f->surface_start);
  f->face_of = calloc(2 * n->num_faces + 1, sizeof *f->face_of);
  f->face_other = calloc(2 * n->num_faces + 1, sizeof *f->face_other);
  f->surface_of = calloc(n->num_surfaces + 1, sizeof *f->surface_of);
  f->surface_node = calloc(n->num_surfaces + 1, sizeof *f->surface_node);
  f->face = malloc((n->num_faces + 1) * sizeof *f->face);
  f->wet = calloc(n->num_nodes + WORD, sizeof *f->wet);
  f->followed = calloc(n->num_nodes + 1, sizeof *f->followed);
  f->mark = calloc(n->num_nodes + WORD, sizeof *f->mark);
  f->marked = malloc((n->num_nodes + 1) * sizeof *f->marked);
  f->place = malloc((n->num_nodes + 1) * sizeof *f->place);
  f->found = malloc((2 * n->num_nodes + 1) * sizeof *f->found);
  if (!f->clear || !f->stuff || !f->face_start || !f->surface_start || !f->face_of || !f->face_other || !f->surface_of || !f->surface_node ||
      !f->face || !f->wet || !f->followed || !f->mark || !f->marked || !f->place || !f->found || !front_ramps_create(&f->ramps, n->num_nodes) || !list_runs(f))
    goto no_memory;
  for (size_t node = 0; node < n->num_nodes; node++)
    f->place[node] = -1;
  f->num_faces = n->num_faces;
  memcpy(f->face, n->faces, n->num_faces * sizeof *f->face);
  list_faces(f, n, next);
  list_surfaces(f, n, next);
  free(next);
  *out = f;
  return STATUS_OK;
no_memory:
  free(next);
  front_cells_destroy(&f);
  return message_set(msg, STATUS_NO_MEMORY, "out of memory for the front in %zu nodes", n->num_nodes);
}

void front_cells_destroy(front_cells **f)
{
  if (!*f)
    return;
  front_cells *x = *f;
  void *owned[] = {x->clear, x->stuff, x->face_start, x->surface_start, x->face_of, x->face_other, x->surface_of,
                   x->surface_node, x->face, x->runs, x->wet, x->followed, x->mark, x->marked, x->place, x->found};
  for (size_t i = 0; i < sizeof owned / sizeof *owned; i++)
    free(owned[i]);
  front_ramps_destroy(&x->ramps);
  free(x);
  *f = NULL;
}

/* ------------------------------------------------------------------------------------------- neighbours */

/* Goes through the neighbours of a node: the regular ones, down and up each axis, then those over further faces. */
typedef struct {
  const double *face_conductance;
  const uint32_t *face, *faces_end; /* further ones still to come */
  const int32_t *face_other;
  size_t next[6];                   /* regular neighbours          */
  double over[6];                   /* m, conductances to them     */
  int side_of[6], num, at;          /* axis and side; how many of them, and which is next */
  int side;                         /* the neighbour at hand: 2 axis + 1 up, 2 axis down; -1 over a further face */
  size_t other;
  double conductance;
} walk;

static inline void add_regular(walk *w, int side, size_t other, double conductance)
{
  w->next[w->num] = other;
  w->over[w->num] = conductance;
  w->side_of[w->num] = side;
  w->num += conductance > 0.0;
}

static inline walk walk_from(const front_cells *f, const double *face_conductance, size_t node)
{
  const heat_flux_rows *v = conductance_rows_view(f->rows);
  const uint32_t n = (uint32_t)v->num[0], row = (uint32_t)node / n, i = (uint32_t)node - row * n;
  const size_t swept = v->num[1] * v->num[2], apart[3] = {0, 1, v->num[1]};
  walk w;
  w.face_conductance = face_conductance;
  w.face = f->face_of + f->face_start[node];
  w.faces_end = f->face_of + f->face_start[node + 1];
  w.face_other = f->face_other + f->face_start[node];
  w.num = w.at = 0;
  if (row >= swept)
    return w;
  if (v->conductance[0] && i > 0)
    add_regular(&w, 0, node - 1, v->conductance[0][row][i]);
  if (v->conductance[0] && i + 1 < n)
    add_regular(&w, 1, node + 1, v->conductance[0][row][i + 1]);
  for (int axis = 1; axis < 3; axis++) {
    if (v->conductance[axis] && row >= apart[axis])
      add_regular(&w, 2 * axis, node - apart[axis] * n, v->conductance[axis][row - apart[axis]][i + 1]);
    if (v->conductance[axis] && row + apart[axis] < swept)
      add_regular(&w, 2 * axis + 1, node + apart[axis] * n, v->conductance[axis][row][i + 1]);
  }
  return w;
}

static inline bool walk_step(walk *w)
{
  if (w->at < w->num) {
    w->side = w->side_of[w->at];
    w->other = w->next[w->at];
    w->conductance = w->over[w->at++];
    return true;
  }
  if (w->face == w->faces_end)
    return false;
  w->side = -1;
  w->other = (size_t)*w->face_other++;
  w->conductance = w->face_conductance[*w->face++];
  return true;
}

/* ------------------------------------------------------------------------------------------- one node of the front */

/* What a refresh is given. */
typedef struct {
  const double *enthalpy, *potential, *face_conductance;
  const front_cells_surface *surface;
} scene;

/* Sums over the ways out of a node on one side of the front: conductances, and with them the fall of u over one node while the front is
 * in mid-node, and what is added to that node's depth as the front moves on from there by one. */
typedef struct {
  double weight, fall, depth, surface; /* surface: of the weights, those of surfaces */
} mean;

static void take_way(mean *m, double conductance, double fall, double depth)
{
  m->weight += conductance;
  m->fall += conductance * fall;
  m->depth += conductance * depth;
}

/* With the front so many nodes away from the node's middle. */
static double fall_of(const mean *m, double away)
{
  return m->weight > 0.0 ? m->fall / (m->weight + m->depth * away) : 0.0;
}

static inline double larger(double a, double b)
{
  return a > b ? a : b;
}

/* Of which neighbours a node of the front takes its cold.
 * FROZEN  it holds no liquid by its enthalpy, yet is less cold than a node frozen through: of much colder nodes without liquid
 * MIXED   it holds liquid, beside a node without any or a cold surface: of those
 * NEXT    it comes after a mixed node that is nearly through: of that one
 * No node of a level looks at another of its own level, so their order does not count. */
typedef enum { FROZEN, MIXED, NEXT } front_level;

static double cold_of(const front_cells *f, front_level level, const walk *w, double drop, double own_drop)
{
  const int32_t place = f->place[w->other];
  const double through = place >= 0 ? f->found[place].ice : 0.0; /* how cold it is when the front has reached the middle of the next */
  switch (level) {
  case FROZEN:
    return f->wet[w->other] == DRY && drop > own_drop ? drop : 0.0;
  case MIXED:
    return f->wet[w->other] == DRY ? larger(drop, through) : 0.0;
  case NEXT:
    return through;
  }
  return 0.0;
}

/* How u falls towards the cold and rises into the liquid around a node of the front. */
typedef struct {
  mean ice, water;
  double side[6]; /* weight of the cold over the regular faces, down and up each axis */
  bool ahead;     /* a node follows in which the front is not as far */
} front_ways;

static front_ways look_around(const front_cells *f, const scene *s, front_level level, size_t node)
{
  const double further = s->enthalpy[node] + AHEAD * (f->stuff[f->part[node]].liquid - f->stuff[f->part[node]].solid);
  const double at_freezing = f->stuff[f->part[node]].at_freezing, own = at_freezing - s->potential[node];
  front_ways around = {.ahead = false};
  for (walk w = walk_from(f, s->face_conductance, node); walk_step(&w);) {
    const double drop = at_freezing - s->potential[w.other], cold = cold_of(f, level, &w, drop, own);
    if (cold > 0.0) {
      const double weight = w.conductance * (cold - (own > 0.0 ? own : 0.0));
      take_way(&around.ice, weight, cold, 1.0);
      if (w.side >= 0)
        around.side[w.side] += weight;
    } else if (drop < 0.0 && drop < own && f->wet[w.other] != NEVER) {
      take_way(&around.water, w.conductance * ((own < 0.0 ? own : 0.0) - drop), -drop, 1.0);
    }
    around.ahead = around.ahead || (f->wet[w.other] == WET && s->enthalpy[w.other] > further);
  }
  for (uint32_t i = f->surface_start[node]; i < f->surface_start[node + 1]; i++) {
    const front_cells_surface *face = &s->surface[f->surface_of[i]];
    if (!(face->conductance > 0.0))
      continue;
    const double drop = face->heat / face->conductance + at_freezing, depth = 2.0 * face->conductance / face->half;
    const double weight = face->conductance * depth * fabs(drop);
    take_way(drop > 0.0 ? &around.ice : &around.water, weight, depth * fabs(drop), depth);
    around.ice.surface += drop > 0.0 ? weight : 0.0;
  }
  return around;
}

/* How far beyond the middle of a node without one ahead the front is when all is frozen. */
static double last_way(const front_cells *f, size_t node, const front_ways *around)
{
  const heat_flux_rows *v = conductance_rows_view(f->rows);
  const bool cell = node < v->num[0] * v->num[1] * v->num[2];
  double all = 0.0, most = 0.0;
  for (int axis = 0; axis < 3; axis++) {
    const double one_sided = fabs(around->side[2 * axis] - around->side[2 * axis + 1]);
    all += one_sided;
    most = larger(most, one_sided);
  }
  if (all - most > HEMMED * around->ice.weight)
    return INTO_CORNER;
  return f->round_axis && cell && node % v->num[0] == 0 && around->side[1] > 0.5 * around->ice.weight ? ONTO_AXIS : ONTO_PLANE;
}

static void set_ramp(heat_potential_ramp *r, const sharp_stuff *stuff, const phase_curve *c, double ice, double water)
{
  const double latent = stuff->liquid - stuff->solid, frozen = ice / stuff->solid_slope, liquid = water / stuff->liquid_slope;
  const double nearer = 1.0 - 0.5 * r->from_surface;
  r->middle = stuff->at_freezing;
  r->end = stuff->solid - r->beyond * frozen;
  r->begin = stuff->liquid + nearer * liquid;
  r->half = stuff->solid + 0.5 * latent + 0.125 * (liquid - frozen);
  r->frozen_line = r->last ? r->half - r->end : r->beyond * frozen;
  r->frozen_square = r->half - r->end - r->frozen_line;
  r->liquid_line = (1.0 - r->from_surface) * liquid + r->from_surface * (r->begin - r->half);
  r->liquid_square = r->begin - r->half - r->liquid_line;
  /* the ramp ends where the curve itself is: a jump of u there would keep an implicit step from converging */
  r->ice = r->middle - phase_curve_potential(c, r->end);
  r->water = phase_curve_potential(c, r->begin) - r->middle;
}

/* How far the front is beyond the node's middle, in nodes; 0 where it has not come so far. */
static double beyond_middle(const heat_potential_ramp *r, double enthalpy)
{
  return enthalpy <= r->end ? r->beyond : enthalpy >= r->half ? 0.0 : r->beyond * (r->middle - heat_potential_ramp_at(r, enthalpy)) / r->ice;
}

/* How far it still is before it, `water` being the rise of u over one node. */
static double before_middle(const heat_potential_ramp *r, double enthalpy, double water)
{
  if (!(water > 0.0) || enthalpy <= r->half)
    return 0.0;
  return (enthalpy >= r->begin ? r->water : heat_potential_ramp_at(r, enthalpy) - r->middle) / water;
}

/* Water that is stirred stays warm until the front sweeps it, and no node ahead has a share: the front stands f - 1/2 nodes from the
 * middle, f = (begin - H) / (begin - end), `begin` being the clear water, and u = u_f - sigma (f - 1/2) carries what the ice carries. */
static bool find_swept(const front_cells *f, const scene *s, front_level level, size_t node, heat_potential_ramp *out)
{
  enum { PASSES = 3 };
  const sharp_stuff *stuff = &f->stuff[f->part[node]];
  const double enthalpy = s->enthalpy[node], begin = larger(f->clear[f->part[node]], enthalpy);
  const mean ice = look_around(f, s, level, node).ice;
  if (!(ice.weight > 0.0))
    return false;
  const double from_surface = ice.surface / ice.weight; /* those are brought nearer instead (network_ends_meet_front) */
  double beyond = 0.0;
  for (int pass = 0; pass < PASSES; pass++) {
    const double fall = fall_of(&ice, beyond), end = stuff->solid - 0.5 * fall / stuff->solid_slope, half = 0.5 * (begin + end);
    *out = (heat_potential_ramp){.node = (int32_t)node, .end = end, .half = half, .begin = begin, .middle = stuff->at_freezing,
                                 .ice = stuff->at_freezing - phase_curve_potential(f->curve[f->part[node]], end),
                                 .water = 0.5 * fall * (1.0 - from_surface), .from_surface = from_surface, .even = 1.0, .beyond = 0.5, .last = true,
                                 .frozen_line = half - end, .liquid_line = begin - half};
    beyond = enthalpy <= end ? 0.5 : (half - enthalpy) / (begin - end);
    beyond *= beyond < 0.0 ? 1.0 - from_surface : 1.0;
  }
  return level != FROZEN || enthalpy > out->end;
}

/* False: the front does not run through this node. */
static bool find_ramp(const front_cells *f, const scene *s, front_level level, size_t node, heat_potential_ramp *out)
{
  enum { PASSES = 3 };
  const sharp_stuff *stuff = &f->stuff[f->part[node]];
  const front_ways around = look_around(f, s, level, node);
  const mean ice = around.ice, water = around.water;
  if (!(ice.weight > 0.0))
    return false;
  const double way = around.ahead ? 1.0 : last_way(f, node, &around);
  double beyond = 0.0, before = 0.0;
  *out = (heat_potential_ramp){.node = (int32_t)node, .from_surface = ice.surface / ice.weight, .even = ice.surface / ice.weight, .beyond = way, .last = way < 1.0};
  for (int pass = 0; pass < PASSES; pass++) {
    const double rise = fall_of(&water, before);
    set_ramp(out, stuff, f->curve[f->part[node]], fall_of(&ice, beyond), rise);
    beyond = beyond_middle(out, s->enthalpy[node]);
    before = before_middle(out, s->enthalpy[node], rise);
  }
  return level != FROZEN || s->enthalpy[node] > out->end;
}

/* ------------------------------------------------------------------------------------------- the whole front */

static void read_stuff(front_cells *f)
{
  for (size_t p = 0; p < f->num_parts; p++) {
    const phase_curve *c = f->curve[p];
    sharp_stuff *s = &f->stuff[p];
    *s = (sharp_stuff){.sharp = false};
    if (!c || f->excluded[p] || !(c->liquid_enthalpy > c->solid_enthalpy))
      continue;
    const double latent = c->liquid_enthalpy - c->solid_enthalpy, step = SECANT * latent;
    const double at_solid = phase_curve_potential(c, c->solid_enthalpy);
    s->solid = c->solid_enthalpy;
    s->liquid = c->liquid_enthalpy;
    s->at_freezing = phase_curve_potential(c, c->liquid_enthalpy);
    s->solid_slope = (at_solid - phase_curve_potential(c, c->solid_enthalpy - step)) / step;
    s->liquid_slope = (phase_curve_potential(c, c->liquid_enthalpy + step) - s->at_freezing) / step;
    s->sharp = s->solid_slope > 0.0 && s->liquid_slope > 0.0 && s->at_freezing - at_solid <= 1e-9 * s->solid_slope * latent;
  }
}

static void classify_run(unsigned char *restrict wet, const double *restrict enthalpy, const run *r, const sharp_stuff *stuff)
{
  if (r->part < 0 || !stuff[r->part].sharp) {
    memset(wet + r->begin, NEVER, r->end - r->begin);
    return;
  }
  const double solid = stuff[r->part].solid;
  for (size_t n = r->begin; n < r->end; n++)
    wet[n] = enthalpy[n] > solid ? WET : DRY;
}

/* Per node 8 bytes read, 1 written; each byte once. */
static void classify(front_cells *f, const double *enthalpy)
{
  if (f->num_nodes < HEAT_FLUX_THREADED) {
    for (size_t r = 0; r < f->num_runs; r++)
      classify_run(f->wet, enthalpy, &f->runs[r], f->stuff);
    return;
  }
#pragma omp parallel for schedule(static)
  for (size_t r = 0; r < f->num_runs; r++)
    classify_run(f->wet, enthalpy, &f->runs[r], f->stuff);
}

/* WET beside DRY: of the codes only these two differ in the last bit alone. */
static inline unsigned char differ(unsigned char a, unsigned char b)
{
  return (unsigned char)(a ^ b) == 1;
}

/* Marks a cell and the next one along an axis where liquid begins or ends between them. Bytes: 2 read, 2 changed per cell. */
static void mark_along(unsigned char *restrict mark, const unsigned char *restrict wet, size_t num, size_t stride)
{
#pragma omp parallel for simd schedule(static) if (num >= HEAT_FLUX_THREADED)
  for (size_t i = 0; i < num; i++)
    mark[i] |= differ(wet[i], wet[i + stride]);
#pragma omp parallel for simd schedule(static) if (num >= HEAT_FLUX_THREADED)
  for (size_t i = 0; i < num; i++)
    mark[i + stride] |= differ(wet[i], wet[i + stride]);
}

/* Nodes beside which liquid begins or ends, and wet ones at a cold surface. */
static void mark_boundary(front_cells *f, const front_cells_surface *surface)
{
  const heat_flux_rows *v = conductance_rows_view(f->rows);
  const size_t n = v->num[0], swept = n * v->num[1] * v->num[2], stride[3] = {1, n, n * v->num[1]};
  for (int axis = 0; axis < 3; axis++)
    if (v->conductance[axis] && stride[axis] < swept)
      mark_along(f->mark, f->wet, swept - stride[axis], stride[axis]);
  for (size_t i = 0; i < f->num_faces; i++) {
    const front_cells_face at = f->face[i];
    const unsigned char ends = differ(f->wet[at.left], f->wet[at.right]);
    f->mark[at.left] |= ends;
    f->mark[at.right] |= ends;
  }
  for (size_t i = 0; i < f->num_surface_nodes; i++) {
    const int32_t node = f->surface_node[i];
    for (uint32_t at = f->surface_start[node]; f->wet[node] == WET && at < f->surface_start[node + 1]; at++) {
      const front_cells_surface *face = &surface[f->surface_of[at]];
      f->mark[node] |= face->heat + face->conductance * f->stuff[f->part[node]].at_freezing > 0.0;
    }
  }
}

/* Lists the marked nodes and clears the marks: few among many, so a word of them at a time. */
static void gather_marks(front_cells *f)
{
  f->num_marked = 0;
  for (size_t from = 0; from < f->num_nodes; from += WORD) {
    uint64_t word;
    memcpy(&word, f->mark + from, sizeof word);
    if (word == 0)
      continue;
    for (size_t node = from; node < from + WORD; node++)
      if (f->mark[node])
        f->marked[f->num_marked++] = (int32_t)node;
    memset(f->mark + from, 0, WORD);
  }
}

/* Marks the nodes found the last time: where the last liquid of a pool went, no wet neighbour gives the node away. */
static void mark_followed(front_cells *f)
{
  for (size_t node = 0; node < f->num_nodes; node++)
    f->mark[node] |= f->followed[node];
  memset(f->followed, 0, f->num_nodes);
}

static void forget_found(front_cells *f)
{
  for (size_t i = 0; i < f->num_found; i++)
    f->place[f->found[i].node] = -1;
  f->num_found = 0;
  front_ramps_fill(&f->ramps, f->found, 0);
}

/* Marks the wet nodes beside one that the front runs through. */
static void mark_next(front_cells *f, const scene *s)
{
  for (size_t i = 0; i < f->num_found; i++) {
    const heat_potential_ramp *x = &f->found[i];
    if (f->wet[x->node] != WET)
      continue;
    for (walk w = walk_from(f, s->face_conductance, (size_t)x->node); walk_step(&w);)
      f->mark[w.other] = 1;
  }
}

/* What the front does in a marked node, node -1: it does not run through there. */
static void look_at(const front_cells *f, const scene *s, front_level level, size_t node, heat_potential_ramp *out)
{
  const unsigned char wanted = level == FROZEN ? DRY : WET;
  if (!(f->wet[node] == wanted && f->place[node] < 0 && (isnan(f->clear[f->part[node]]) ? find_ramp : find_swept)(f, s, level, node, out)))
    out->node = -1;
}

static void take_level(front_cells *f, const scene *s, front_level level)
{
  const size_t first = f->num_found;
#pragma omp parallel for schedule(static) if (f->num_nodes >= HEAT_FLUX_THREADED)
  for (size_t n = 0; n < f->num_marked; n++)
    look_at(f, s, level, (size_t)f->marked[n], &f->found[first + n]);
  for (size_t n = 0; n < f->num_marked; n++)
    if (f->found[first + n].node >= 0)
      f->found[f->num_found++] = f->found[first + n];
  for (size_t i = first; i < f->num_found; i++)
    f->place[f->found[i].node] = (int32_t)i;
}

/* The levels, each rising, into one. */
static void order_by_node(front_cells *f, size_t mixed, size_t next)
{
  size_t at[3] = {0, mixed, next};
  const size_t end[3] = {mixed, next, f->num_found};
  for (size_t num = 0; num < f->num_found; num++) {
    int least = -1;
    for (int level = 0; level < 3; level++)
      if (at[level] < end[level] && (least < 0 || f->found[at[level]].node < f->found[at[least]].node))
        least = level;
    f->ramps.order[num] = (int32_t)at[least]++;
  }
  front_ramps_fill(&f->ramps, f->found, f->num_found);
}

void front_cells_prepare(front_cells *f)
{
  read_stuff(f);
}

bool front_cells_is_sharp(const front_cells *f, int32_t part)
{
  return part >= 0 && f->stuff[part].sharp;
}

bool front_cells_before_middle(const front_cells *f, size_t node, double enthalpy)
{
  const int32_t part = f->part[node];
  return front_cells_is_sharp(f, part) && enthalpy > 0.5 * (f->stuff[part].solid + f->stuff[part].liquid);
}

/* Rise of u per node of the liquid ahead, the front being in the node's middle. */
static double rise_ahead(const front_cells *f, size_t node, const double *potential, const double *face_conductance)
{
  const double at_freezing = f->stuff[f->part[node]].at_freezing;
  mean water = {0};
  for (walk w = walk_from(f, face_conductance, node); walk_step(&w);)
    if (potential[w.other] > potential[node])
      take_way(&water, w.conductance * (potential[w.other] - potential[node]), potential[w.other] - at_freezing, 0.0);
  return fall_of(&water, 0.0);
}

/* With the front at the surface, the node's middle is half a node from it and the next one's one and a half: it offers a third of that. */
bool front_cells_begins(const front_cells *f, size_t node, const double *enthalpy, const double *potential, const double *face_conductance)
{
  if (!front_cells_is_sharp(f, f->part[node]))
    return false;
  const sharp_stuff *stuff = &f->stuff[f->part[node]];
  return enthalpy[node] <= stuff->liquid || potential[node] - stuff->at_freezing < rise_ahead(f, node, potential, face_conductance) / 3.0;
}

double front_cells_middle_at_least(const front_cells *f, int32_t part, double drop)
{
  const sharp_stuff *stuff = &f->stuff[part];
  return stuff->sharp ? 0.5 * (stuff->solid + stuff->liquid) - 0.25 * drop / stuff->solid_slope : -INFINITY;
}

double front_cells_middle(const front_cells *f, size_t node, const double *potential, const double *face_conductance, double drop)
{
  const sharp_stuff *stuff = &f->stuff[f->part[node]];
  const double rise = rise_ahead(f, node, potential, face_conductance);
  return front_cells_middle_at_least(f, f->part[node], drop) + 0.125 * rise / stuff->liquid_slope;
}

static void set_apart(front_cells *f, const double *enthalpy, const int32_t *apart, size_t num)
{
  for (size_t p = 0; p < f->num_parts; p++)
    f->clear[p] = NAN;
  for (size_t i = 0; i < num; i++) {
    double *clear = &f->clear[f->part[apart[i]]];
    f->wet[apart[i]] = NEVER;
    *clear = isnan(*clear) ? enthalpy[apart[i]] : larger(*clear, enthalpy[apart[i]]);
  }
}

void front_cells_refresh(front_cells *f, const double *enthalpy, const double *potential, const double *face_conductance,
                         const front_cells_surface *surface, const int32_t *apart, size_t num_apart)
{
  const scene s = {.enthalpy = enthalpy, .potential = potential, .face_conductance = face_conductance, .surface = surface};
  forget_found(f);
  classify(f, enthalpy);
  set_apart(f, enthalpy, apart, num_apart);
  mark_boundary(f, surface);
  mark_followed(f);
  gather_marks(f);
  take_level(f, &s, FROZEN);
  const size_t mixed = f->num_found;
  take_level(f, &s, MIXED);
  const size_t next = f->num_found;
  mark_next(f, &s);
  gather_marks(f);
  take_level(f, &s, NEXT);
  order_by_node(f, mixed, next);
  for (size_t i = 0; i < f->num_found; i++)
    f->followed[f->found[i].node] = 1;
}

void front_cells_forget(front_cells *f)
{
  forget_found(f);
  memset(f->followed, 0, f->num_nodes);
}

unsigned char *front_cells_memory(front_cells *f)
{
  return f->followed;
}

const heat_potential_front *front_cells_front(const front_cells *f)
{
  return &f->ramps.view;
}
