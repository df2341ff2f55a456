#include "solver/front_cells.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/front_node.h"
#include "solver/front_ramps.h"

/* Slopes beside the plateau are secants over this share of the latent heat. */
static const double SECANT = 0.02;

typedef struct { size_t begin, end; int32_t part; } run;

enum { WORD = 8 };  /* marks are looked through so many at a time */
enum { SLOTS = 2 + FRONT_CELLS_MOST_AHEAD }; /* a wet node is looked at on no more levels; pages that no front reaches are never touched */
enum { DRY = FRONT_NODE_DRY, WET = FRONT_NODE_WET, NEVER = FRONT_NODE_NEVER };

struct front_cells {
  front_neighbours beside;
  size_t num_nodes, num_parts;
  const int32_t *part;
  const phase_curve *const *curve;
  const bool *excluded;
  double *clear;                        /* [num_parts] J/m3 of stirred water; NAN: none        */
  front_node_stuff *stuff;              /* [num_parts]                                 */
  front_cells_face *face;               /* [num_faces]                                 */
  size_t num_faces;
  int32_t *surface_node;                /* nodes with a surface, each once, rising     */
  size_t num_surface_nodes;
  size_t num_runs;
  run *runs;                            /* consecutive nodes of one part               */
  unsigned char *wet, *mark;            /* [num_nodes + WORD]; mark is clear between refreshes */
  unsigned char *followed;              /* [num_nodes + WORD] 1: found by the last refresh */
  int32_t *marked[2];                   /* [num_nodes] the dry and the wet nodes to be looked at, rising */
  size_t num_marked[2];
  int32_t *place;                       /* [num_nodes] index in found; -1: none        */
  heat_potential_ramp *found;           /* [SLOTS num_nodes] in the order of the levels, a slot for every node looked at; node -1: no ramp */
  front_ramps ramps;                    /* the same by rising node                     */
  size_t num_slots;
  bool round_axis;
};

/* ------------------------------------------------------------------------------------------- making */

static void list_surface_nodes(front_cells *f)
{
  for (size_t node = 0; node < f->num_nodes; node++)
    if (f->beside.surface_start[node + 1] > f->beside.surface_start[node])
      f->surface_node[f->num_surface_nodes++] = (int32_t)node;
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
  if (!f)
    goto no_memory;
  *f = (front_cells){.num_nodes = n->num_nodes, .num_parts = n->num_parts, .part = n->part, .curve = n->curve,
                     .excluded = n->excluded, .round_axis = n->round_axis};
  f->clear = calloc(n->num_parts + 1, sizeof *f->clear);
  f->stuff = calloc(n->num_parts + 1, sizeof *f->stuff);
  f->surface_node = calloc(n->num_surfaces + 1, sizeof *f->surface_node);
  f->face = malloc((n->num_faces + 1) * sizeof *f->face);
  f->wet = calloc(n->num_nodes + WORD, sizeof *f->wet);
  f->followed = calloc(n->num_nodes + WORD, sizeof *f->followed);
  f->mark = calloc(n->num_nodes + WORD, sizeof *f->mark);
  f->marked[DRY] = malloc((n->num_nodes + 1) * sizeof *f->marked[DRY]); /* pages that no front reaches are never touched */
  f->marked[WET] = malloc((n->num_nodes + 1) * sizeof *f->marked[WET]);
  f->place = malloc((n->num_nodes + 1) * sizeof *f->place);
  f->found = malloc((SLOTS * n->num_nodes + 1) * sizeof *f->found);
  if (!f->clear || !f->stuff || !f->surface_node || !f->face || !f->wet || !f->followed || !f->mark || !f->marked[DRY] || !f->marked[WET] || !f->place || !f->found ||
      !front_ramps_create(&f->ramps, n->num_nodes) || !list_runs(f) || !front_neighbours_create(&f->beside, n))
    goto no_memory;
  for (size_t node = 0; node < n->num_nodes; node++)
    f->place[node] = -1;
  f->num_faces = n->num_faces;
  memcpy(f->face, n->faces, n->num_faces * sizeof *f->face);
  list_surface_nodes(f);
  *out = f;
  return STATUS_OK;
no_memory:
  front_cells_destroy(&f);
  return message_set(msg, STATUS_NO_MEMORY, "out of memory for the front in %zu nodes", n->num_nodes);
}

void front_cells_destroy(front_cells **f)
{
  if (!*f)
    return;
  front_cells *x = *f;
  void *owned[] = {x->clear, x->stuff, x->surface_node, x->face, x->runs, x->wet, x->followed, x->mark, x->marked[DRY], x->marked[WET], x->place, x->found};
  for (size_t i = 0; i < sizeof owned / sizeof *owned; i++)
    free(owned[i]);
  front_neighbours_release(&x->beside);
  front_ramps_destroy(&x->ramps);
  free(x);
  *f = NULL;
}

/* ------------------------------------------------------------------------------------------- the whole front */

static void read_stuff(front_cells *f)
{
  for (size_t p = 0; p < f->num_parts; p++) {
    const phase_curve *c = f->curve[p];
    front_node_stuff *s = &f->stuff[p];
    *s = (front_node_stuff){.sharp = false};
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

static void classify_run(unsigned char *restrict wet, const double *restrict enthalpy, const run *r, const front_node_stuff *stuff)
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
  const heat_flux_rows *v = f->beside.rows;
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
    for (uint32_t at = f->beside.surface_start[node]; f->wet[node] == WET && at < f->beside.surface_start[node + 1]; at++) {
      const front_cells_surface *face = &surface[f->beside.surface_of[at]];
      f->mark[node] |= face->heat + face->conductance * f->stuff[f->part[node]].at_freezing > 0.0;
    }
  }
}

/* The marks of WORD nodes, that of the first lowest. */
static inline uint64_t marks_of_word(const unsigned char *mark, size_t from)
{
  uint64_t word;
  memcpy(&word, mark + from, sizeof word);
#if __BYTE_ORDER__ == __ORDER_BIG_ENDIAN__
  word = __builtin_bswap64(word);
#endif
  return word;
}

/* The first of them, which is taken off; there is one. */
static inline size_t next_marked(uint64_t *word)
{
  const size_t first = (size_t)__builtin_ctzll(*word) / 8;
  *word &= ~(UINT64_C(0xff) << (8 * first));
  return first;
}

/* Lists the marked nodes that no ramp was found for, wet ones and dry ones apart, and clears the marks: few among many, so a word of them
 * at a time. */
static void gather_marks(front_cells *f)
{
  f->num_marked[DRY] = f->num_marked[WET] = 0;
  for (size_t from = 0; from < f->num_nodes; from += WORD) {
    uint64_t word = marks_of_word(f->mark, from);
    if (word != 0)
      memset(f->mark + from, 0, WORD);
    while (word != 0) {
      const size_t node = from + next_marked(&word);
      if (f->wet[node] != NEVER && f->place[node] < 0)
        f->marked[f->wet[node]][f->num_marked[f->wet[node]]++] = (int32_t)node;
    }
  }
}

/* Marks the nodes without liquid that were found the last time: where the last liquid of a pool went, no wet neighbour gives the node away. A wet
 * one takes cold from a dry neighbour or a surface only, and those have marked it. */
static void mark_followed(unsigned char *restrict mark, unsigned char *restrict followed, const unsigned char *restrict wet, size_t num)
{
#pragma omp parallel for simd schedule(static) if (num >= HEAT_FLUX_THREADED)
  for (size_t i = 0; i < num; i++) {
    mark[i] |= wet[i] == DRY ? followed[i] : 0;
    followed[i] = 0;
  }
}

/* Notes where the ramps of slots from one on are, and that their nodes were found; slots without a ramp have node -1. */
static void note_found(front_cells *f, size_t from)
{
#pragma omp parallel for schedule(static) if (f->num_nodes >= HEAT_FLUX_THREADED)
  for (size_t i = from; i < f->num_slots; i++)
    if (f->found[i].node >= 0) {
      f->place[f->found[i].node] = (int32_t)i;
      f->followed[f->found[i].node] = 1;
    }
}

static void forget_found(front_cells *f)
{
  for (int list = 0; list < HEAT_POTENTIAL_LISTS; list++) {
    const heat_potential_packs *of = &f->ramps.view.packs[list];
#pragma omp parallel for schedule(static) if (f->num_nodes >= HEAT_FLUX_THREADED)
    for (size_t i = 0; i < of->num; i++)
      f->place[of->node[i]] = -1;
  }
  f->num_slots = 0;
  front_ramps_fill(&f->ramps, f->found, 0, NULL);
}

static void mark_beside(front_cells *f, const front_node_scene *s, int32_t node)
{
  front_neighbours_walk w;
  for (front_neighbours_begin(&w, &f->beside, s->face_conductance, (size_t)node); front_neighbours_step(&w);)
    f->mark[w.other] = 1;
}

/* Marks the nodes beside wet ones that the front runs through: beside those of the level before. */
static void mark_next(front_cells *f, const front_node_scene *s)
{
  for (size_t n = 0; n < f->num_marked[WET]; n++)
    if (f->place[f->marked[WET][n]] >= 0)
      mark_beside(f, s, f->marked[WET][n]);
}

/* The enthalpy of a node in which the front is well before the middle, where it may come to the next within a step. */
static double begun(const front_node_stuff *stuff)
{
  return stuff->solid + 0.9 * (stuff->liquid - stuff->solid);
}

/* Marks the nodes beside those of the level before, where the liquid is warm, and where the front may come to them within the step (in a long one anywhere):
 * water at its freezing point is warm or not by a rounding, and that must not decide. Stirred water waits for the front. */
static void mark_after(front_cells *f, const front_node_scene *s, bool far)
{
  for (size_t n = 0; n < f->num_marked[WET]; n++) {
    const int32_t node = f->marked[WET][n], place = f->place[node];
    if (place >= 0 && isnan(f->clear[f->part[node]]) && (far || f->found[place].water > 0.0 || s->enthalpy[node] < begun(&f->stuff[f->part[node]])))
      mark_beside(f, s, node);
  }
}

/* What the front does in some of the listed nodes, all of one kind; node -1: it does not run through there. */
static void look_at(const front_cells *f, const front_node_scene *s, front_node_level level, const int32_t *node, size_t num,
                    heat_potential_ramp *out)
{
  if (isnan(f->clear[f->part[node[0]]]))
    front_node_find(s, level, node, num, out);
  else
    for (size_t i = 0; i < num; i++)
      if (!front_node_find_swept(s, level, (size_t)node[i], &out[i]))
        out[i].node = -1;
}

/* The nodes of a pack, those of a kind together. */
static void look_at_pack(const front_cells *f, const front_node_scene *s, front_node_level level, const int32_t *node, size_t num,
                         heat_potential_ramp *out)
{
  for (size_t from = 0, to = 1; from < num; from = to++) {
    const bool swept = !isnan(f->clear[f->part[node[from]]]);
    while (to < num && !isnan(f->clear[f->part[node[to]]]) == swept)
      to++;
    look_at(f, s, level, node + from, to - from, out + from);
  }
}

/* node[num]: rising, of none of which a ramp was found before. Each has a slot, also where no ramp is found: nothing is moved afterwards, and
 * what a thread found it notes itself. */
static void take_level(front_cells *f, const front_node_scene *s, front_node_level level, const int32_t *node, size_t num)
{
  enum { PACK = FRONT_NODE_PACK };
  const size_t first = f->num_slots, num_packs = (num + PACK - 1) / PACK;
#pragma omp parallel for schedule(static) if (f->num_nodes >= HEAT_FLUX_THREADED)
  for (size_t p = 0; p < num_packs; p++)
    look_at_pack(f, s, level, node + p * PACK, (p + 1) * PACK < num ? PACK : num - p * PACK, &f->found[first + p * PACK]);
  f->num_slots += num;
  note_found(f, first); /* not before: at the last level nodes look for the places of others */
}

/* Orders the nodes that were found. */
static void order_by_node(front_cells *f, const double *enthalpy)
{
  size_t num = 0;
  for (size_t from = 0; from < f->num_nodes; from += WORD)
    for (uint64_t word = marks_of_word(f->followed, from); word != 0;)
      f->ramps.order[num++] = f->place[from + next_marked(&word)];
  front_ramps_fill(&f->ramps, f->found, num, enthalpy);
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

/* With the front at the surface, the node's middle is half a node from it and the next one's one and a half: it offers a third of that. */
bool front_cells_begins(const front_cells *f, size_t node, const double *enthalpy, const double *potential, const double *face_conductance)
{
  if (!front_cells_is_sharp(f, f->part[node]))
    return false;
  const front_node_stuff *stuff = &f->stuff[f->part[node]];
  return enthalpy[node] <= stuff->liquid || potential[node] - stuff->at_freezing < front_node_rise_ahead(&f->beside, node, potential, face_conductance, stuff->at_freezing) / 3.0;
}

double front_cells_middle_at_least(const front_cells *f, int32_t part, double drop)
{
  const front_node_stuff *stuff = &f->stuff[part];
  return stuff->sharp ? 0.5 * (stuff->solid + stuff->liquid) - 0.25 * drop / stuff->solid_slope : -INFINITY;
}

double front_cells_middle(const front_cells *f, size_t node, const double *potential, const double *face_conductance, double drop)
{
  const front_node_stuff *stuff = &f->stuff[f->part[node]];
  const double rise = front_node_rise_ahead(&f->beside, node, potential, face_conductance, stuff->at_freezing);
  return front_cells_middle_at_least(f, f->part[node], drop) + 0.125 * rise / stuff->liquid_slope;
}

static void set_apart(front_cells *f, const double *enthalpy, const int32_t *apart, size_t num)
{
  for (size_t p = 0; p < f->num_parts; p++)
    f->clear[p] = NAN;
  for (size_t i = 0; i < num; i++) {
    double *clear = &f->clear[f->part[apart[i]]];
    f->wet[apart[i]] = NEVER;
    if (!(enthalpy[apart[i]] <= *clear)) /* also the first */
      *clear = enthalpy[apart[i]];
  }
}

void front_cells_refresh(front_cells *f, const double *enthalpy, const double *potential, const double *face_conductance,
                         const front_cells_surface *surface, const int32_t *apart, size_t num_apart, int nodes_ahead)
{
  const front_node_scene s = {.beside = &f->beside, .part = f->part, .stuff = f->stuff, .curve = f->curve, .clear = f->clear,
                              .round_axis = f->round_axis, .wet = f->wet, .place = f->place, .found = f->found, .enthalpy = enthalpy,
                              .potential = potential, .face_conductance = face_conductance, .surface = surface};
  forget_found(f);
  classify(f, enthalpy);
  set_apart(f, enthalpy, apart, num_apart);
  mark_boundary(f, surface);
  mark_followed(f->mark, f->followed, f->wet, f->num_nodes);
  gather_marks(f);
  take_level(f, &s, FRONT_NODE_FROZEN, f->marked[DRY], f->num_marked[DRY]);
  take_level(f, &s, FRONT_NODE_MIXED, f->marked[WET], f->num_marked[WET]);
  mark_next(f, &s);
  gather_marks(f);
  take_level(f, &s, FRONT_NODE_NEXT, f->marked[WET], f->num_marked[WET]);
  for (int ahead = 0; ahead < nodes_ahead; ahead++) {
    mark_after(f, &s, nodes_ahead > 1);
    gather_marks(f);
    take_level(f, &s, FRONT_NODE_AFTER, f->marked[WET], f->num_marked[WET]);
  }
  order_by_node(f, enthalpy);
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
