#include "solver/front_cells.h"

#include <stdlib.h>
#include <string.h>

/* Chosen by measuring planar, cylindrical and spherical freezing, one- and two-phase, at 20 to 80 nodes: errors fall by a third to
 * two thirds against the plain scheme; they change little when these change by a fifth. */
static const double ICE_SHARE = 0.75; /* of the sensible heat of a node frozen through                 */
static const double LATE = 0.4;       /* last share of f over which a node leaves the freezing point   */
static const double EARLY = 0.35;     /* first share of f over which it comes to it                    */
/* Nodes beyond one that is frozen to this share are taken along: they may begin within the step. */
static const double NEARLY = 0.5;
/* Slopes beside the plateau are secants over this share of the latent heat. */
static const double SECANT = 0.02;

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
  int32_t *marked;                      /* [num_nodes] the marked nodes, rising        */
  size_t num_marked;
  int32_t *place;                       /* [num_nodes] index in found; -1: none        */
  heat_potential_ramp *found;                /* [num_nodes] in the order of the levels      */
  heat_potential_ramp *ramps;                /* [num_nodes] the same by rising node         */
  size_t num_found;
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
                     .excluded = n->excluded};
  f->stuff = calloc(n->num_parts + 1, sizeof *f->stuff);
  f->face_start = calloc(n->num_nodes + 1, sizeof *f->face_start);
  f->surface_start = calloc(n->num_nodes + 1, sizeof *f->surface_start);
  f->face_of = calloc(2 * n->num_faces + 1, sizeof *f->face_of);
  f->face_other = calloc(2 * n->num_faces + 1, sizeof *f->face_other);
  f->surface_of = calloc(n->num_surfaces + 1, sizeof *f->surface_of);
  f->surface_node = calloc(n->num_surfaces + 1, sizeof *f->surface_node);
  f->face = malloc((n->num_faces + 1) * sizeof *f->face);
  f->wet = calloc(n->num_nodes + WORD, sizeof *f->wet);
  f->mark = calloc(n->num_nodes + WORD, sizeof *f->mark);
  f->marked = malloc((n->num_nodes + 1) * sizeof *f->marked);
  f->place = malloc((n->num_nodes + 1) * sizeof *f->place);
  f->found = malloc((n->num_nodes + 1) * sizeof *f->found);
  f->ramps = malloc((n->num_nodes + 1) * sizeof *f->ramps);
  if (!f->stuff || !f->face_start || !f->surface_start || !f->face_of || !f->face_other || !f->surface_of || !f->surface_node ||
      !f->face || !f->wet || !f->mark || !f->marked || !f->place || !f->found || !f->ramps || !list_runs(f))
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
  void *owned[] = {x->stuff, x->face_start, x->surface_start, x->face_of, x->face_other, x->surface_of,
                   x->surface_node, x->face, x->runs, x->wet, x->mark, x->marked, x->place, x->found, x->ramps};
  for (size_t i = 0; i < sizeof owned / sizeof *owned; i++)
    free(owned[i]);
  free(x);
  *f = NULL;
}

/* ------------------------------------------------------------------------------------------- neighbours */

/* Goes through the neighbours of a node: the regular ones, down and up each axis, then those over further faces. */
typedef struct {
  const front_cells *f;
  const double *face_conductance;
  size_t node, row, i; /* the place of a cell in its row */
  uint32_t at;         /* 0 .. 5: axis and side; from 6: further faces */
  size_t other;        /* the neighbour */
  double conductance;  /* m */
} walk;

static walk walk_from(const front_cells *f, const double *face_conductance, size_t node)
{
  const heat_flux_rows *v = conductance_rows_view(f->rows);
  const uint32_t n = (uint32_t)v->num[0], row = (uint32_t)node / n;
  const bool cell = row < v->num[1] * v->num[2];
  return (walk){.f = f, .face_conductance = face_conductance, .node = node, .row = row, .i = (uint32_t)node - row * n, .at = cell ? 0 : 6};
}

static bool step_regular(walk *w)
{
  const heat_flux_rows *v = conductance_rows_view(w->f->rows);
  const size_t n = v->num[0], plane = v->num[1], swept = plane * v->num[2], rows_apart[3] = {0, 1, plane};
  while (w->at < 6) {
    const int axis = (int)(w->at / 2);
    const bool up = w->at % 2 == 1;
    const size_t apart = rows_apart[axis], stride = axis == 0 ? 1 : apart * n;
    w->at++;
    if (!v->conductance[axis] || (up ? w->row + apart >= swept || w->node + stride >= swept * n : w->row < apart || w->node < stride))
      continue;
    w->other = up ? w->node + stride : w->node - stride;
    w->conductance = axis == 0 ? v->conductance[0][w->row][up ? w->i + 1 : w->i] : v->conductance[axis][up ? w->row : w->row - apart][w->i + 1];
    if (w->conductance > 0.0)
      return true;
  }
  return false;
}

static bool walk_step(walk *w)
{
  if (step_regular(w))
    return true;
  const uint32_t i = w->f->face_start[w->node] + (w->at - 6);
  if (i >= w->f->face_start[w->node + 1])
    return false;
  w->at++;
  w->other = (size_t)w->f->face_other[i];
  w->conductance = w->face_conductance[w->f->face_of[i]];
  return true;
}

/* ------------------------------------------------------------------------------------------- one node of the front */

/* What a refresh is given. */
typedef struct {
  const double *enthalpy, *potential, *face_conductance;
  const front_cells_surface *surface;
} scene;

typedef struct {
  double weight, fall;
} mean;

static void take_way(mean *m, double conductance, double fall)
{
  m->weight += conductance;
  m->fall += conductance * fall;
}

static double mean_of(const mean *m)
{
  return m->weight > 0.0 ? m->fall / m->weight : 0.0;
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
  const double through = place >= 0 ? 0.5 * f->found[place].ice : 0.0; /* how cold it is when it has frozen through */
  switch (level) {
  case FROZEN:
    return f->wet[w->other] == DRY && drop > 2.0 * own_drop ? drop : 0.0; /* frozen through it is a third as cold as the next */
  case MIXED:
    return f->wet[w->other] == DRY ? larger(drop, through) : 0.0;
  case NEXT:
    return through;
  }
  return 0.0;
}

static void find_falls(const front_cells *f, const scene *s, front_level level, size_t node, mean *ice, mean *water)
{
  const double at_freezing = f->stuff[f->part[node]].at_freezing, own = at_freezing - s->potential[node];
  *ice = *water = (mean){0.0, 0.0};
  for (walk w = walk_from(f, s->face_conductance, node); walk_step(&w);) {
    const double drop = at_freezing - s->potential[w.other], cold = cold_of(f, level, &w, drop, own);
    if (cold > 0.0)
      take_way(ice, w.conductance, cold);
    else if (drop < 0.0)
      take_way(water, w.conductance, -drop);
  }
  for (uint32_t i = f->surface_start[node]; i < f->surface_start[node + 1]; i++) {
    const front_cells_surface *face = &s->surface[f->surface_of[i]];
    if (!(face->conductance > 0.0))
      continue;
    const double drop = face->heat / face->conductance + at_freezing, fall = 2.0 * drop * face->conductance / face->half;
    if (drop > 0.0)
      take_way(ice, face->conductance, fall);
    else
      take_way(water, face->conductance, -fall);
  }
}

/* False: the front does not run through this node. */
static bool find_ramp(const front_cells *f, const scene *s, front_level level, size_t node, heat_potential_ramp *out)
{
  const sharp_stuff *stuff = &f->stuff[f->part[node]];
  mean ice, water;
  find_falls(f, s, level, node, &ice, &water);
  const double sigma_ice = ICE_SHARE * mean_of(&ice), sigma_water = mean_of(&water);
  const double end = stuff->solid - 0.5 * sigma_ice / stuff->solid_slope, begin = stuff->liquid + 0.5 * sigma_water / stuff->liquid_slope;
  const double range = begin - end;
  const double late = larger(LATE, (stuff->solid - end) / range), early = larger(EARLY, (begin - stuff->liquid) / range);
  /* the ramp ends where the curve itself is: a jump of u there would keep an implicit step from converging */
  const phase_curve *c = f->curve[f->part[node]];
  const double ice_end = stuff->at_freezing - phase_curve_potential(c, end), water_end = phase_curve_potential(c, begin) - stuff->at_freezing;
  *out = (heat_potential_ramp){.node = (int32_t)node, .begin = begin, .per_range = 1.0 / range, .middle = stuff->at_freezing, .ice = sigma_ice,
                          .from_late = 1.0 - late, .late_slope = ice_end / late, .to_early = early, .early_slope = water_end / early};
  return ice.weight > 0.0 && (level != FROZEN || s->enthalpy[node] > end);
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
  for (size_t i = 0; i < num; i++)
    mark[i] |= differ(wet[i], wet[i + stride]);
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

/* Marks the wet nodes beside one that is nearly through. */
static void mark_next(front_cells *f, const scene *s)
{
  for (size_t i = 0; i < f->num_found; i++) {
    const heat_potential_ramp *x = &f->found[i];
    if (f->wet[x->node] != WET || (x->begin - s->enthalpy[x->node]) * x->per_range < NEARLY)
      continue;
    for (walk w = walk_from(f, s->face_conductance, (size_t)x->node); walk_step(&w);)
      f->mark[w.other] = 1;
  }
}

static void take_level(front_cells *f, const scene *s, front_level level)
{
  const size_t first = f->num_found;
  const unsigned char wanted = level == FROZEN ? DRY : WET;
  for (size_t n = 0; n < f->num_marked; n++) {
    const size_t node = (size_t)f->marked[n];
    if (f->wet[node] == wanted && f->place[node] < 0)
      f->num_found += find_ramp(f, s, level, node, &f->found[f->num_found]);
  }
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
    f->ramps[num] = f->found[at[least]++];
  }
}

void front_cells_refresh(front_cells *f, const double *enthalpy, const double *potential, const double *face_conductance,
                         const front_cells_surface *surface)
{
  const scene s = {.enthalpy = enthalpy, .potential = potential, .face_conductance = face_conductance, .surface = surface};
  for (size_t i = 0; i < f->num_found; i++)
    f->place[f->found[i].node] = -1;
  f->num_found = 0;
  read_stuff(f);
  classify(f, enthalpy);
  mark_boundary(f, surface);
  gather_marks(f);
  take_level(f, &s, FROZEN);
  const size_t mixed = f->num_found;
  take_level(f, &s, MIXED);
  const size_t next = f->num_found;
  mark_next(f, &s);
  gather_marks(f);
  take_level(f, &s, NEXT);
  order_by_node(f, mixed, next);
}

const heat_potential_ramp *front_cells_ramps(const front_cells *f, size_t *num)
{
  *num = f->num_found;
  return f->ramps;
}
