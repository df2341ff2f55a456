#include "solver/pockets.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A region while it grows back in time. */
typedef struct {
  int32_t last_node;     /* where it was born                                    */
  int32_t parent;        /* region it parted from; -1 while it grows, or a root  */
  bool counts;           /* listed as a pocket                                   */
  bool open;             /* holds a node at an open surface                      */
  double last_at, parted_at, closed_at;
  double mass, closed_mass;
  size_t nodes, closed_nodes;
  int32_t listed;        /* index among the pockets that count                   */
} region;

typedef struct {
  int32_t node;
  double time;           /* s; INFINITY: still liquid */
} moment;

static int later_first(const void *left, const void *right)
{
  const moment *a = left, *b = right;
  if (a->time != b->time) {
    return a->time > b->time ? -1 : 1;
  }
  return a->node < b->node ? -1 : a->node > b->node; /* the same order on every machine */
}

/* Set of a node: its leader's region. Sets are compressed on the way. */
static int32_t leader_of(int32_t *leader, int32_t node)
{
  int32_t top = node;
  while (leader[top] != top) {
    top = leader[top];
  }
  while (leader[node] != top) {
    const int32_t next = leader[node];
    leader[node] = top;
    node = next;
  }
  return top;
}

typedef struct {
  const pockets_request *ask;
  const mesh *m;
  const adjacency *a;
  moment *order;         /* [num] nodes of the body, later first */
  size_t num;
  int32_t *leader;       /* [num_nodes] -1: not yet liquid       */
  int32_t *owner;        /* [num_nodes] region of a leader       */
  int32_t *born;         /* [num_nodes] region a node joined     */
  region *regions;
  size_t num_regions;
  double fill;           /* kg */
} sweep;

static double time_of(const sweep *s, int32_t node)
{
  const double t = s->ask->solid_time[node];
  return isnan(t) ? INFINITY : t;
}

static bool is_large(const sweep *s, double mass, size_t nodes)
{
  return mass > s->ask->least_share * s->fill && nodes > s->ask->least_nodes;
}

static void close_region(region *r, double at)
{
  r->closed_at = at;
  r->closed_mass = r->mass;
  r->closed_nodes = r->nodes;
}

/* Two regions meet at time t (in forward time: part). The longer-lived takes in the other. */
static void meet(sweep *s, int32_t elder, int32_t younger, double t)
{
  region *e = &s->regions[elder], *y = &s->regions[younger];
  y->parent = elder;
  y->parted_at = t;
  y->counts = isfinite(t) && y->last_at > t && is_large(s, y->mass, y->nodes);
  if (!y->open) {
    close_region(y, e->open ? t : NAN); /* NAN: with the parent, when that closes */
  }
  e->mass += y->mass;
  e->nodes += y->nodes;
}

static void take_node(sweep *s, int32_t node, double t)
{
  const double mass = s->ask->density * s->m->volume[node];
  const bool node_open = s->ask->open && s->ask->open[node];
  int32_t mine = -1;
  bool joins_open = false;
  s->leader[node] = node;
  /* First find the longest-lived neighbour, so that every other parts from it. */
  for (size_t e = s->a->start[node]; e < s->a->start[node + 1]; e++) {
    const int32_t beside = s->a->neighbour[e];
    if (s->leader[beside] >= 0) {
      const int32_t r = s->owner[leader_of(s->leader, beside)];
      mine = mine < 0 || r < mine ? r : mine;
      joins_open = joins_open || s->regions[r].open;
    }
  }
  if (mine < 0) { /* regions are numbered as they are born, in falling order of last_at */
    mine = (int32_t)s->num_regions++;
    s->regions[mine] = (region){.last_node = node, .parent = -1, .last_at = t, .parted_at = NAN, .closed_at = NAN,
                                .closed_mass = NAN};
  }
  s->owner[node] = mine;
  s->born[node] = mine;
  /* The region that goes on, before anything joins it at this moment. */
  const double elder_mass = s->regions[mine].mass;
  const size_t elder_nodes = s->regions[mine].nodes;
  const bool elder_was_open = s->regions[mine].open;
  const bool now_open = node_open || joins_open;
  s->regions[mine].open = now_open; /* of the water there was before the node froze: seen by the children */
  for (size_t e = s->a->start[node]; e < s->a->start[node + 1]; e++) {
    const int32_t beside = s->a->neighbour[e];
    if (s->leader[beside] < 0) {
      continue;
    }
    const int32_t top = leader_of(s->leader, beside), r = s->owner[top];
    if (r != mine) {
      meet(s, mine, r, t);
    }
    s->leader[top] = node;
  }
  region *own = &s->regions[mine];
  if (now_open && !elder_was_open && elder_nodes > 0 && isfinite(t)) {
    own->closed_at = t;
    own->closed_mass = elder_mass;
    own->closed_nodes = elder_nodes;
  }
  own->mass += mass;
  own->nodes++;
}

/* What is left open at the end of the sweep: roots, and children of regions that closed before they parted. */
static void settle(sweep *s)
{
  for (size_t r = 0; r < s->num_regions; r++) {
    region *x = &s->regions[r];
    if (x->parent < 0) {
      x->parted_at = s->ask->start_time;
      x->counts = true;
      if (!x->open) {
        close_region(x, s->ask->start_time);
      }
    } else if (!x->open && isnan(x->closed_at)) {
      x->closed_at = s->regions[x->parent].closed_at; /* parents come first */
    }
  }
}

/* A small pocket hands its nodes and children to its parent. */
static int32_t counted(const sweep *s, int32_t r)
{
  while (!s->regions[r].counts) {
    r = s->regions[r].parent;
  }
  return r;
}

/* Top of the parabola through the solid times of the last node and its two neighbours along an axis. On the axis r = 0 and on mirror
 * planes the neighbour beyond is the image. Without neighbours on both sides (a wall) the centroid stays. */
static double peak_along(const sweep *s, int32_t node, int axis)
{
  const mesh *m = s->m;
  const grid *g = m->grid;
  const double here = m->centroid[node][axis], t = time_of(s, node);
  double side[2] = {NAN, NAN}, time[2] = {NAN, NAN};
  size_t ijk[3];
  grid_cell_indices(g, (size_t)m->cell[node], ijk);
  for (size_t e = s->a->start[node]; e < s->a->start[node + 1]; e++) {
    const int up = s->a->direction[e] % 2;
    if (s->a->direction[e] / 2 == axis && isnan(side[up])) {
      side[up] = m->centroid[s->a->neighbour[e]][axis];
      time[up] = time_of(s, s->a->neighbour[e]);
    }
  }
  for (int up = 0; up < 2; up++) {
    const bool at_edge = up ? ijk[axis] + 1 == g->num[axis] : ijk[axis] == 0;
    const double edge = g->edges[axis][up ? g->num[axis] : 0];
    const bool image = g->mirror[2 * axis + up] || (g->kind == GRID_RZ && axis == 0 && !up && edge == 0.0);
    if (at_edge && image && isnan(side[up])) {
      return time[!up] < t || isnan(side[!up]) ? edge : here; /* symmetric about the plane: the top lies on it */
    }
  }
  if (isnan(side[0]) || isnan(side[1]) || !isfinite(t) || !isfinite(time[0]) || !isfinite(time[1])) {
    return here;
  }
  const double a = here - side[0], b = side[1] - here;            /* > 0 */
  const double rise = (t - time[0]) / a, drop = (t - time[1]) / b; /* >= 0: the node is the last */
  const double bend = rise + drop;
  return bend > 0.0 ? here + 0.5 * (rise * b - drop * a) / bend : here;
}

static void position_of(const sweep *s, int32_t node, double position[3])
{
  for (int axis = 0; axis < 3; axis++) {
    const bool turned = s->m->grid->kind == GRID_RZ && axis == 1;
    position[axis] = turned ? 0.0 : s->m->grid->num[axis] > 1 ? peak_along(s, node, axis) : s->m->centroid[node][axis];
  }
}

static double nearest_surface(const mesh *m, int part, const double point[3])
{
  double nearest = INFINITY;
  for (size_t i = 0; i < m->num_interfaces; i++) {
    const mesh_interface *f = &m->interfaces[i];
    if (f->part[0] == part || f->part[1] == part) {
      double square = 0.0;
      for (int axis = 0; axis < 3; axis++) {
        square += (point[axis] - f->centroid[axis]) * (point[axis] - f->centroid[axis]);
      }
      nearest = fmin(nearest, square);
    }
  }
  return isfinite(nearest) ? sqrt(nearest) : NAN;
}

static void write_pocket(const sweep *s, const region *r, pocket *p)
{
  *p = (pocket){.parted_at = r->parted_at,
                .closed_at = r->closed_at,
                .last_at = isfinite(r->last_at) ? r->last_at : NAN,
                .mass = r->mass,
                .closed_mass = isnan(r->closed_at) ? NAN : r->closed_mass,
                .trapped = !isnan(r->closed_at) && is_large(s, r->closed_mass, r->closed_nodes),
                .parent = r->parent < 0 ? -1 : s->regions[counted(s, r->parent)].listed};
  position_of(s, r->last_node, p->position);
  p->distance = nearest_surface(s->m, s->ask->part, p->position);
}

status pockets_find(pockets_found *found, int32_t *pocket_of_node, const mesh *m, const adjacency *a,
                    const pockets_request *request, message *msg)
{
  sweep s = {.ask = request, .m = m, .a = a};
  pocket *list = NULL;
  size_t num_listed = 0;
  status code = STATUS_OK;
  for (size_t n = 0; n < m->num_nodes; n++) {
    s.num += m->part[n] == request->part && m->volume[n] > 0.0;
  }
  s.order = malloc((s.num + 1) * sizeof *s.order);
  s.leader = malloc((m->num_nodes + 1) * sizeof *s.leader);
  s.owner = malloc((m->num_nodes + 1) * sizeof *s.owner);
  s.born = malloc((m->num_nodes + 1) * sizeof *s.born);
  s.regions = malloc((s.num + 1) * sizeof *s.regions);
  if (!s.order || !s.leader || !s.owner || !s.born || !s.regions) {
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory for the pockets of %zu nodes", s.num);
    goto done;
  }
  s.num = 0;
  for (size_t n = 0; n < m->num_nodes; n++) {
    s.leader[n] = -1;
    if (m->part[n] == request->part && m->volume[n] > 0.0) {
      s.order[s.num++] = (moment){(int32_t)n, time_of(&s, (int32_t)n)};
      s.fill += request->density * m->volume[n];
    }
  }
  qsort(s.order, s.num, sizeof *s.order, later_first);
  for (size_t i = 0; i < s.num; i++) {
    take_node(&s, s.order[i].node, s.order[i].time);
  }
  settle(&s);
  for (size_t r = 0; r < s.num_regions; r++) {
    if (s.regions[r].counts) {
      s.regions[r].listed = (int32_t)num_listed++;
    }
  }
  list = malloc((num_listed + 1) * sizeof *list);
  if (!list) {
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu pockets", num_listed);
    goto done;
  }
  for (size_t r = 0; r < s.num_regions; r++) {
    if (s.regions[r].counts) {
      write_pocket(&s, &s.regions[r], &list[s.regions[r].listed]);
    }
  }
  for (size_t i = 0; i < s.num; i++) {
    const int32_t node = s.order[i].node;
    pocket_of_node[node] = s.regions[counted(&s, s.born[node])].listed;
  }
  *found = (pockets_found){.num = num_listed,
                           .pocket = list,
                           .num_small = s.num_regions - num_listed,
                           .last_distance = num_listed ? list[0].distance : NAN};
done:
  free(s.order);
  free(s.leader);
  free(s.owner);
  free(s.born);
  free(s.regions);
  return code;
}

void pockets_mark_open(uint8_t *open, const mesh *m, int part)
{
  for (size_t i = 0; i < m->num_interfaces; i++) {
    const mesh_interface *f = &m->interfaces[i];
    if (f->part[0] == part && f->part[1] == MESH_VOID && f->normal[2] > 0.7) {
      open[f->node[0]] = 1;
    }
  }
}

status pockets_labels_create(pockets_labels *l, size_t num_nodes, message *msg)
{
  pockets_labels made = {.label = malloc((num_nodes + 1) * sizeof *made.label),
                         .stack = malloc((num_nodes + 1) * sizeof *made.stack)};
  if (!made.label || !made.stack) {
    pockets_labels_release(&made);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the labels of %zu nodes", num_nodes);
  }
  *l = made;
  return STATUS_OK;
}

void pockets_labels_release(pockets_labels *l)
{
  if (l) {
    free(l->region);
    free(l->label);
    free(l->stack);
    *l = (pockets_labels){0};
  }
}

/* Spreads one label over everything liquid that hangs together with `seed`. */
static void flood(pockets_labels *l, const mesh *m, const adjacency *a, int32_t seed, int32_t label, int part,
                  const double *liquid_fraction, const uint8_t *open)
{
  pockets_region *r = &l->region[label];
  const double *z = m->grid->edges[2];
  size_t depth = 0;
  *r = (pockets_region){.low = INFINITY, .high = -INFINITY};
  l->stack[depth++] = seed;
  l->label[seed] = label;
  while (depth > 0) {
    const int32_t n = l->stack[--depth];
    size_t ijk[3];
    grid_cell_indices(m->grid, (size_t)m->cell[n], ijk);
    r->volume += m->volume[n] * liquid_fraction[n];
    r->low = fmin(r->low, z[ijk[2]]);
    r->high = fmax(r->high, z[ijk[2] + 1]);
    r->open = r->open || (open && open[n]);
    for (size_t e = a->start[n]; e < a->start[n + 1]; e++) {
      const int32_t beside = a->neighbour[e];
      if (l->label[beside] < 0 && m->part[beside] == part && liquid_fraction[beside] > 0.0) {
        l->label[beside] = label;
        l->stack[depth++] = beside;
      }
    }
  }
}

status pockets_label(pockets_labels *l, const mesh *m, const adjacency *a, int part, const double *liquid_fraction,
                     const uint8_t *open, message *msg)
{
  l->num = 0;
  for (size_t n = 0; n < m->num_nodes; n++) {
    l->label[n] = -1;
  }
  for (size_t n = 0; n < m->num_nodes; n++) {
    if (m->part[n] != part || !(m->volume[n] > 0.0) || !(liquid_fraction[n] > 0.0) || l->label[n] >= 0) {
      continue;
    }
    if (l->num == l->capacity) {
      const size_t capacity = l->capacity ? 2 * l->capacity : 16;
      pockets_region *larger = realloc(l->region, capacity * sizeof *larger);
      if (!larger) {
        return message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu regions of liquid", capacity);
      }
      l->region = larger;
      l->capacity = capacity;
    }
    flood(l, m, a, (int32_t)n, (int32_t)l->num++, part, liquid_fraction, open);
  }
  return STATUS_OK;
}
