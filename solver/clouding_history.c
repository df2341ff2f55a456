#include "solver/clouding_history.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/clouding_crossing.h"
#include "solver/front_film.h"

static const double SPEEDS = 0.04, PRESSURES = 0.01, SLOTS = 256.0; /* of bundles */
static const double FACES_UP = 0.7;                                 /* normal z of a surface that lets air through */

static bool is_ours(const clouding_history_request *q, size_t n)
{
  return q->m->part[n] == q->part && q->m->volume[n] > 0.0 && q->pocket_of_node[n] >= 0;
}

/* What is sorted is small, the nodes follow. */
typedef struct {
  double begin;
  uint32_t index;
} place;

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

/* m2 of every node that face up to the room. */
static status find_open_areas(double **out, const clouding_history_request *q, message *msg)
{
  double *area = calloc(q->m->num_nodes + 1, sizeof *area);
  if (!area)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for an open surface", q->m->num_nodes * sizeof *area);
  for (size_t i = 0; q->open_top && i < q->m->num_interfaces; i++) {
    const mesh_interface *f = &q->m->interfaces[i];
    if (f->part[0] == q->part && f->part[1] == MESH_VOID && f->patch == MESH_NONE && f->normal[2] > FACES_UP)
      area[f->node[0]] += f->area[0] * f->normal[2];
  }
  *out = area;
  return STATUS_OK;
}

/* Crossings as they come, as many as there are. */
typedef struct {
  clouding_crossing *all;
  size_t room;
} heap;

static status make_room(heap *found, size_t num, message *msg)
{
  if (num + CLOUDING_CROSSING_PARTS <= found->room)
    return STATUS_OK;
  const size_t room = found->room + found->room / 2 + 1024;
  clouding_crossing *all = realloc(found->all, room * sizeof *all);
  if (!all)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for clear and white ice", room * sizeof *all);
  *found = (heap){all, room};
  return STATUS_OK;
}

static status gather(clouding_history *h, heap *found, const clouding_history_request *q, const double *open_area,
                     message *msg)
{
  status code = STATUS_OK;
  for (size_t n = 0; code == STATUS_OK && n < q->m->num_nodes; n++) {
    if (!is_ours(q, n))
      continue;
    const double mass = q->density * q->m->volume[n];
    h->mass += mass;
    h->own[q->pocket_of_node[n]] += mass;
    h->bare[q->pocket_of_node[n]] += open_area[n];
    if (isnan(q->freeze_time[n]))
      continue;
    code = make_room(found, h->num, msg);
    if (code != STATUS_OK)
      break;
    double end;
    h->num += clouding_crossing_describe(&found->all[h->num], &end, &h->num_clamped, q, (int32_t)n, open_area[n]);
    h->end = h->frozen > 0.0 ? fmax(h->end, end) : end;
    h->frozen += mass;
  }
  return code;
}

static status fill(clouding_history *h, const clouding_history_request *q, message *msg)
{
  heap found = {NULL, 0};
  double *open_area = NULL;
  h->own = calloc(q->num_pockets + 1, sizeof *h->own);
  h->bare = calloc(q->num_pockets + 1, sizeof *h->bare);
  status code = STATUS_OK;
  if (!h->own || !h->bare)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for pockets", q->num_pockets * sizeof *h->own);
  if (code == STATUS_OK)
    code = find_open_areas(&open_area, q, msg);
  if (code == STATUS_OK)
    code = gather(h, &found, q, open_area, msg);
  free(open_area);
  if (code == STATUS_OK) {
    h->crossings = malloc((h->num + 1) * sizeof *h->crossings);
    code = h->crossings ? sort(h, found.all, msg)
                        : message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for clear and white ice",
                                      h->num * sizeof *h->crossings);
  }
  free(found.all);
  return code;
}

status clouding_history_create(clouding_history *out, const clouding_history_request *q, message *msg)
{
  *out = (clouding_history){.pockets = q->pockets,
                            .num_pockets = q->num_pockets,
                            .density = q->density,
                            .pressure = q->pressure,
                            .open_top = q->open_top};
  return fill(out, q, msg);
}

/* ------------------------------------------------------------------------------------------------ bundles */

/* What two nodes of a time must have in common. */
typedef struct {
  int32_t pocket, speed, pressure, way;
  uint32_t index;
} likeness;

static int compare(int32_t a, int32_t b)
{
  return (a > b) - (a < b);
}

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
                    .way = c->normal_z <= -FRONT_FILM_LEVEL ? 0
                           : c->normal_z < FRONT_FILM_LEVEL ? 1
                                                            : 2,
                    .index = (uint32_t)index};
}

/* Means by mass, of what surfaces do by area; surfaces and masses add up. */
static void add_up(clouding_crossing *sum, const clouding_crossing *c)
{
  const double mass = sum->mass + c->mass, part = c->mass / mass;
  sum->begin += part * (c->begin - sum->begin);
  sum->middle += part * (c->middle - sum->middle);
  sum->end += part * (c->end - sum->end);
  sum->speed += part * (c->speed - sum->speed);
  sum->normal_z += part * (c->normal_z - sum->normal_z);
  sum->pressure += part * (c->pressure - sum->pressure);
  sum->saturation += part * (c->saturation - sum->saturation);
  sum->surface += c->surface;
  for (int i = 0; i < 2 && sum->surface > 0.0; i++)
    sum->shut[i] += c->surface / sum->surface * (c->shut[i] - sum->shut[i]);
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
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory: about %zu bytes for clear and white ice",
                       3 * h->num * sizeof *bundles);
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
