#include "solver/clouding_history.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "materials/air_in_water.h"
#include "solver/front_film.h"

static const double WATER_DENSITY = 999.8, GRAVITY = 9.81; /* kg/m3 at 0 degC, m/s2 */
static const double SLOWEST = 1e-9, FASTEST = 1e-4;        /* m/s                   */
static const double SPEEDS = 0.04, PRESSURES = 0.01, SLOTS = 256.0; /* of bundles */
static const double FACES_UP = 0.7;                        /* normal z of a surface that lets air through */

/* Unit vector from ice to water: along each axis towards where it froze later, upwind. */
static void direction_of(const clouding_history_request *q, int32_t node, double n[3])
{
  double slow[3] = {0.0, 0.0, 0.0}, ahead[3] = {0.0, 0.0, 0.0}, square = 0.0;
  for (size_t e = q->a->start[node]; e < q->a->start[node + 1]; e++) {
    const int axis = q->a->direction[e] / 2;
    const double rising = q->a->direction[e] % 2 ? 1.0 : -1.0;
    const double later = (q->freeze_time[q->a->neighbour[e]] - q->freeze_time[node]) / q->a->distance[e];
    if (later < -fabs(slow[axis]))
      slow[axis] = rising * later;
    else if (later > fabs(ahead[axis]))
      ahead[axis] = rising * later;
  }
  for (int axis = 0; axis < 3; axis++) {
    n[axis] = slow[axis] != 0.0 ? slow[axis] : ahead[axis];
    square += n[axis] * n[axis];
  }
  const double length = sqrt(square);
  for (int axis = 0; axis < 3; axis++)
    n[axis] = length > 0.0 ? n[axis] / length : 0.0;
}

static double width_along(const mesh *m, int32_t node, const double n[3])
{
  size_t ijk[3];
  double width = 0.0;
  grid_cell_indices(m->grid, (size_t)m->cell[node], ijk);
  for (int axis = 0; axis < 3; axis++)
    if (m->grid->num[axis] > 0 && m->grid->edges[axis] && !(m->grid->kind == GRID_RZ && axis == 1))
      width += fabs(n[axis]) * (m->grid->edges[axis][ijk[axis] + 1] - m->grid->edges[axis][ijk[axis]]);
  return width;
}

static void describe(clouding_history *h, clouding_crossing *c, const clouding_history_request *q, int32_t node)
{
  double n[3], speed = q->front_speed[node];
  direction_of(q, node, n);
  const double kept = isnan(speed) ? FASTEST : fmin(fmax(speed, SLOWEST), FASTEST);
  h->num_clamped += kept != speed;
  speed = kept;
  const double half = 0.5 * width_along(q->m, node, n) / speed;
  const double t = q->freeze_time[node];
  *c = (clouding_crossing){.node = node,
                           .pocket = q->pocket_of_node[node],
                           .mass = q->density * q->m->volume[node],
                           .speed = speed,
                           .normal_z = n[2],
                           .begin = fmax(t - half, fmin(q->start_time, t)),
                           .end = t + half,
                           .pressure = q->pressure + WATER_DENSITY * GRAVITY * fmax(q->surface_level - q->m->centroid[node][2], 0.0)};
  c->saturation = air_in_water_saturation(c->pressure);
}

static bool is_ours(const clouding_history_request *q, size_t n)
{
  return q->m->part[n] == q->part && q->m->volume[n] > 0.0 && q->pocket_of_node[n] >= 0;
}

/* What is sorted is small, the nodes follow. */
typedef struct { double begin; uint32_t index; } place;

static int sooner_first(const void *left, const void *right)
{
  const place *a = left, *b = right;
  return a->begin != b->begin ? (a->begin < b->begin ? -1 : 1) : (a->index > b->index) - (a->index < b->index);
}

static status sort(clouding_history *h, clouding_crossing *found, message *msg)
{
  place *order = malloc((h->num + 1) * sizeof *order);
  if (!order)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for clear and white ice", h->num * sizeof *order);
  for (size_t i = 0; i < h->num; i++)
    order[i] = (place){found[i].begin, (uint32_t)i};
  qsort(order, h->num, sizeof *order, sooner_first);
  for (size_t i = 0; i < h->num; i++)
    h->crossings[i] = found[order[i].index];
  free(order);
  return STATUS_OK;
}

static status gather(clouding_history *h, const clouding_history_request *q, message *msg)
{
  size_t num = 0;
  for (size_t n = 0; n < q->m->num_nodes; n++)
    num += is_ours(q, n) && !isnan(q->freeze_time[n]);
  clouding_crossing *found = malloc((num + 1) * sizeof *found);
  h->crossings = malloc((num + 1) * sizeof *h->crossings);
  h->own = calloc(q->num_pockets + 1, sizeof *h->own);
  h->bare = calloc(q->num_pockets + 1, sizeof *h->bare);
  status code = STATUS_OK;
  if (!found || !h->crossings || !h->own || !h->bare)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory: about %zu bytes for clear and white ice", 2 * (num + 1) * sizeof *found);
  for (size_t n = 0; code == STATUS_OK && n < q->m->num_nodes; n++)
    if (is_ours(q, n)) {
      const double mass = q->density * q->m->volume[n];
      h->mass += mass;
      h->own[q->pocket_of_node[n]] += mass;
      if (isnan(q->freeze_time[n]))
        continue;
      clouding_crossing *c = &found[h->num++];
      describe(h, c, q, (int32_t)n);
      h->frozen += mass;
      h->end = h->num == 1 ? c->end : fmax(h->end, c->end);
    }
  if (code == STATUS_OK)
    code = sort(h, found, msg);
  free(found);
  return code;
}

/* Area of the nodes at an open surface. */
static status find_surface(clouding_history *h, const clouding_history_request *q, message *msg)
{
  if (!q->open_top)
    return STATUS_OK;
  double *area = calloc(q->m->num_nodes + 1, sizeof *area);
  if (!area)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for an open surface", q->m->num_nodes * sizeof *area);
  for (size_t i = 0; i < q->m->num_interfaces; i++) {
    const mesh_interface *f = &q->m->interfaces[i];
    if (f->part[0] == q->part && f->part[1] == MESH_VOID && f->patch == MESH_NONE && f->normal[2] > FACES_UP)
      area[f->node[0]] += f->area[0] * f->normal[2];
  }
  for (size_t i = 0; i < h->num; i++)
    h->crossings[i].surface = area[h->crossings[i].node];
  for (size_t n = 0; n < q->m->num_nodes; n++)
    if (is_ours(q, n))
      h->bare[q->pocket_of_node[n]] += area[n];
  free(area);
  return STATUS_OK;
}

status clouding_history_create(clouding_history *out, const clouding_history_request *q, message *msg)
{
  *out = (clouding_history){.pockets = q->pockets,
                            .num_pockets = q->num_pockets,
                            .density = q->density,
                            .pressure = q->pressure,
                            .open_top = q->open_top};
  const status code = gather(out, q, msg);
  return code == STATUS_OK ? find_surface(out, q, msg) : code;
}

/* ------------------------------------------------------------------------------------------------ bundles */

/* What two nodes of a time must have in common. */
typedef struct { int32_t pocket, speed, pressure, way; uint32_t index; } likeness;

static int compare(int32_t a, int32_t b) { return (a > b) - (a < b); }

static int alike_together(const void *left, const void *right)
{
  const likeness *a = left, *b = right;
  int order = compare(a->pocket, b->pocket);
  order = order ? order : compare(a->way, b->way);
  order = order ? order : compare(a->speed, b->speed);
  order = order ? order : compare(a->pressure, b->pressure);
  return order ? order : (a->index > b->index) - (a->index < b->index);
}

static bool are_alike(const likeness *a, const likeness *b)
{
  return a->pocket == b->pocket && a->way == b->way && a->speed == b->speed && a->pressure == b->pressure;
}

static likeness likeness_of(const clouding_crossing *c, size_t index)
{
  return (likeness){.pocket = c->pocket,
                    .speed = (int32_t)floor(log(c->speed) / SPEEDS),
                    .pressure = (int32_t)floor(log(c->pressure) / PRESSURES),
                    .way = c->normal_z <= -FRONT_FILM_LEVEL ? 0 : c->normal_z < FRONT_FILM_LEVEL ? 1 : 2,
                    .index = (uint32_t)index};
}

/* Means by mass; surfaces and masses add up. */
static void add_up(clouding_crossing *sum, const clouding_crossing *c)
{
  const double mass = sum->mass + c->mass, part = c->mass / mass;
  sum->begin += part * (c->begin - sum->begin);
  sum->end += part * (c->end - sum->end);
  sum->speed += part * (c->speed - sum->speed);
  sum->normal_z += part * (c->normal_z - sum->normal_z);
  sum->pressure += part * (c->pressure - sum->pressure);
  sum->saturation += part * (c->saturation - sum->saturation);
  sum->surface += c->surface;
  sum->mass = mass;
}

/* Nodes first to last - 1, which begin at about the same time. */
static void bundle_slot(clouding_history *out, const clouding_history *h, size_t first, size_t last, likeness *order)
{
  for (size_t i = first; i < last; i++)
    order[i - first] = likeness_of(&h->crossings[i], i);
  qsort(order, last - first, sizeof *order, alike_together);
  for (size_t i = 0; i < last - first; i++) {
    const clouding_crossing *c = &h->crossings[order[i].index];
    if (i > 0 && are_alike(&order[i], &order[i - 1])) {
      add_up(&out->crossings[out->num - 1], c);
    } else {
      out->crossings[out->num] = *c;
      out->crossings[out->num++].node = -1;
    }
  }
}

static void bundle_all(clouding_history *out, const clouding_history *h, likeness *order)
{
  double sum = 0.0, full = 1.0; /* slots */
  size_t first = 0;
  for (size_t i = 0; i < h->num; i++) {
    sum += h->crossings[i].mass / h->frozen * SLOTS;
    if (i + 1 < h->num && sum < full)
      continue;
    bundle_slot(out, h, first, i + 1, order);
    first = i + 1;
    full = floor(sum) + 1.0;
  }
}

status clouding_history_bundle(clouding_history *out, const clouding_history *h, message *msg)
{
  *out = *h;
  out->num = 0;
  out->crossings = malloc((h->num + 1) * sizeof *out->crossings);
  out->own = malloc((h->num_pockets + 1) * sizeof *out->own);
  out->bare = malloc((h->num_pockets + 1) * sizeof *out->bare);
  likeness *order = malloc((h->num + 1) * sizeof *order);
  clouding_crossing *bundles = malloc((h->num + 1) * sizeof *bundles);
  status code = STATUS_OK;
  if (!out->crossings || !out->own || !out->bare || !order || !bundles)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory: about %zu bytes for clear and white ice", 3 * h->num * sizeof *bundles);
  if (code == STATUS_OK) {
    memcpy(out->own, h->own, h->num_pockets * sizeof *out->own);
    memcpy(out->bare, h->bare, h->num_pockets * sizeof *out->bare);
    bundle_all(out, h, order);
    memcpy(bundles, out->crossings, out->num * sizeof *bundles);
    code = sort(out, bundles, msg);
  }
  free(order);
  free(bundles);
  return code;
}

void clouding_history_release(clouding_history *h)
{
  if (!h)
    return;
  free(h->crossings);
  free(h->own);
  free(h->bare);
  *h = (clouding_history){.num = 0};
}
