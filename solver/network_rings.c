/* Which rings of tube get shells, and how far each may clear the grid. */
#include "solver/network_parts.h"

#include <math.h>
#include <stdlib.h>

/* Cells to be cleared round a tube: at least so many cell widths from its axis, and so many beyond its surface: there the grid
 * resolves the ice that reaches it. All but the factors in cell widths. */
static const double LEAST_REACH = 2.6, BEYOND_TUBE = 1.6;
static const double SHRINK = 0.9, SMALLEST_REACH = 0.4; /* tried from the widest down */

typedef struct {
  int32_t coil, part;
  size_t ring;
  double r, z, cell; /* m */
  bool wants;        /* shells were not tried, or hold */
} place;

typedef struct {
  network *net;
  place *places;
  size_t num;
  bool *may_go, *may_edge; /* [mesh nodes] */
  double (*others)[2];     /* work */
} search;

static bool is_stirred(const rig *r, int32_t part)
{
  for (size_t b = 0; b < r->num_baths; b++)
    if (r->baths[b].part == part && r->baths[b].flow.kind == MOTION_STIRRED)
      return true;
  return false;
}

static double cell_width(const grid *g, const double point[3])
{
  size_t cell = 0, at[3];
  if (!grid_find(g, point, &cell))
    return 0.0;
  grid_cell_indices(g, cell, at);
  return sqrt((g->edges[0][at[0] + 1] - g->edges[0][at[0]]) * (g->edges[2][at[2] + 1] - g->edges[2][at[2]]));
}

static void list_places(search *s)
{
  const rig *r = s->net->rig;
  for (size_t coil = 0; coil < r->num_coils; coil++)
    for (size_t ring = 0; ring < r->coils[coil].num_rings; ring++) {
      const double point[3] = {r->coils[coil].rings[ring][0], 0.0, r->coils[coil].rings[ring][1]};
      const int32_t node = mesh_node_at(s->net->mesh, point);
      const int32_t part = node >= 0 ? s->net->mesh->part[node] : MESH_VOID;
      if (part >= 0 && !is_stirred(r, part)) /* the others are refused, or need none */
        s->places[s->num++] = (place){.coil = (int32_t)coil, .part = part, .ring = ring, .r = point[0], .z = point[2],
                                      .cell = cell_width(s->net->mesh->grid, point), .wants = !r->coils[coil].spread};
    }
}

/* Whole cells that touch no surface may be cleared; any node may lie at the edge of a hole. */
static void mark_nodes(search *s)
{
  const mesh *m = s->net->mesh;
  const size_t *num = m->grid->num, num_cells = num[0] * num[1] * num[2];
  for (size_t node = 0; node < m->num_nodes; node++) {
    size_t at[3];
    grid_cell_indices(m->grid, (size_t)m->cell[node], at);
    const double whole = grid_cell_volume(m->grid, at[0], at[1], at[2]);
    s->may_edge[node] = m->volume[node] > 0.0;
    s->may_go[node] = node < num_cells && fabs(m->volume[node] - whole) < 1e-9 * whole;
  }
  for (size_t i = 0; i < m->num_interfaces; i++)
    for (int side = 0; side < 2; side++)
      if (m->interfaces[i].node[side] >= 0)
        s->may_go[m->interfaces[i].node[side]] = false;
  for (size_t f = 0; f < m->num_faces; f++)
    s->may_go[m->faces[f].left] = s->may_go[m->faces[f].right] = false;
}

/* The other tubes; returns how many. */
static size_t list_others(const search *s, const place *p)
{
  size_t num = 0;
  for (size_t i = 0; i < s->num; i++)
    if (&s->places[i] != p) {
      s->others[num][0] = s->places[i].r;
      s->others[num++][1] = s->places[i].z;
    }
  return num;
}

static status add_shells(search *s, place *p, message *msg)
{
  network *net = s->net;
  const rig_coil *c = &net->rig->coils[p->coil];
  const double a = 0.5 * c->tube_outer;
  coil_well w = {0};
  status code = STATUS_OK;
  p->wants = false;
  const size_t num_others = list_others(s, p);
  for (double reach = fmax(LEAST_REACH * p->cell, a + BEYOND_TUBE * p->cell); code == STATUS_OK && w.num_inside == 0 && reach > SMALLEST_REACH * p->cell; reach *= SHRINK)
    code = coil_well_open(&w, net->mesh, p->part, p->r, p->z, a, reach, (const double(*)[2])s->others, num_others, s->may_go, s->may_edge, msg);
  if (code == STATUS_OK && w.num_inside > 0) {
    double turns = 0.0;
    for (size_t ring = 0; ring < c->num_rings; ring++)
      turns += 2.0 * 3.14159265358979323846 * c->rings[ring][0];
    coil_shells *made = &net->rings[net->num_rings];
    code = coil_shells_create(made, &w, net->mesh, p->part, p->r, p->z, a, c->length > 0.0 ? c->length / turns : 1.0, 0, msg);
    if (code == STATUS_OK) {
      made->coil = p->coil;
      made->ring = p->ring;
      net->num_rings++;
      p->wants = true;
      for (size_t n = 0; n < w.num_inside; n++)
        s->may_go[w.inside[n]] = s->may_edge[w.inside[n]] = false;
      for (size_t n = 0; n < w.num; n++)
        s->may_go[w.node[n]] = false;
    }
  }
  coil_well_release(&w);
  return code == STATUS_BAD_INPUT ? STATUS_OK : code; /* a place that cannot be is told when the ring is joined to the grid */
}

static bool clears(const coil_shells *s, const coil_well *w)
{
  for (size_t i = 0; i < s->num_inside; i++)
    for (size_t n = 0; n < w->num; n++)
      if (s->inside[i] == w->node[n])
        return true;
  return false;
}

static void drop_ring(search *s, size_t index)
{
  network *net = s->net;
  for (size_t i = 0; i < s->num; i++)
    if (s->places[i].coil == net->rings[index].coil && s->places[i].ring == net->rings[index].ring)
      s->places[i].wants = false;
  coil_shells_release(&net->rings[index]);
  for (size_t i = index; i + 1 < net->num_rings; i++)
    net->rings[i] = net->rings[i + 1];
  net->rings[--net->num_rings] = (coil_shells){0};
}

/* A ring without shells shares its heat over nodes of the grid: none of them may have been cleared by another. */
static bool drop_where_plain(search *s, const place *p)
{
  const rig_coil *c = &s->net->rig->coils[p->coil];
  coil_well w = {0};
  bool dropped = false;
  if (coil_well_create(&w, s->net->mesh, p->part, p->r, p->z, 0.5 * c->tube_outer, c->spread, NULL) != STATUS_OK)
    return false; /* told when the ring is joined to the grid */
  for (size_t i = s->net->num_rings; i-- > 0;)
    if (clears(&s->net->rings[i], &w)) {
      drop_ring(s, i);
      dropped = true;
    }
  coil_well_release(&w);
  return dropped;
}

static void drop_conflicts(search *s)
{
  bool again = s->net->num_rings > 0;
  while (again) {
    again = false;
    for (size_t i = 0; i < s->num; i++)
      if (!s->places[i].wants && drop_where_plain(s, &s->places[i]))
        again = true;
  }
}

static void number_shells(network *net, size_t first)
{
  for (size_t i = 0; i < net->num_rings; i++) {
    coil_shells *s = &net->rings[i];
    for (size_t n = 0; n < s->num_inside; n++)
      s->shell_of[n] += (int32_t)first;
    s->first = first;
    first += s->num;
    net->num_shells += s->num;
  }
}

status network_rings(network *net, size_t first, message *msg)
{
  size_t num = 0;
  for (size_t coil = 0; coil < net->rig->num_coils; coil++)
    num += net->rig->coils[coil].num_rings;
  if (num == 0 || net->mesh->grid->kind != GRID_RZ)
    return STATUS_OK;
  search s = {.net = net, .places = calloc(num, sizeof *s.places), .may_go = calloc(net->mesh->num_nodes + 1, sizeof *s.may_go),
              .may_edge = calloc(net->mesh->num_nodes + 1, sizeof *s.may_edge), .others = calloc(num, sizeof *s.others)};
  net->rings = calloc(num, sizeof *net->rings);
  status code = STATUS_OK;
  if (!s.places || !s.may_go || !s.may_edge || !s.others || !net->rings)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory for the shells of %zu rings", num);
  if (code == STATUS_OK) {
    list_places(&s);
    mark_nodes(&s);
  }
  for (size_t i = 0; code == STATUS_OK && i < s.num; i++)
    if (s.places[i].wants)
      code = add_shells(&s, &s.places[i], msg);
  if (code == STATUS_OK) {
    drop_conflicts(&s);
    number_shells(net, first);
    size_t most = 0;
    for (size_t i = 0; i < net->num_rings; i++)
      most = net->rings[i].num_faces > most ? net->rings[i].num_faces : most;
    net->shell_factor = malloc((most + 1) * sizeof *net->shell_factor);
    if (!net->shell_factor)
      code = message_set(msg, STATUS_NO_MEMORY, "out of memory for the shells of %zu rings", num);
  }
  free(s.places);
  free(s.may_go);
  free(s.may_edge);
  free(s.others);
  return code;
}
