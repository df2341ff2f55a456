#include "geometry/shape_swept.h"

#include <math.h>
#include <stdlib.h>

#include "geometry/shape_class.h"

enum { STRETCH = 12 }; /* pieces of the path that share a box */

typedef struct {
  shape_shared shared;
  tube_path along;
  size_t num_boxes;
  double (*box)[2][3]; /* [num_boxes] low, high of STRETCH pieces each */
} store;

static void release_store(shape_shared *shared)
{
  store *k = (store *)shared;
  tube_path_release(&k->along);
  free(k->box);
  free(k);
}

static double to_box(const double box[2][3], const double p[3])
{
  double square = 0;
  for (int a = 0; a < 3; a++) {
    const double below = box[0][a] - p[a], above = p[a] - box[1][a], d = below > above ? below : above;
    if (d > 0) square += d * d;
  }
  return sqrt(square);
}

static tube_path stretch_of(const store *k, size_t box)
{
  const size_t first = box * STRETCH, last = first + STRETCH < k->along.num - 1 ? first + STRETCH : k->along.num - 1;
  return (tube_path){.num = last - first + 1, .point = k->along.point + first};
}

static double swept_distance(const shape *s, const double p[3])
{
  const store *k = (const store *)s->shared;
  size_t nearest = 0;
  double least = INFINITY;
  for (size_t b = 0; b < k->num_boxes; b++) {
    const double d = to_box((const double(*)[3])k->box[b], p);
    if (d < least) {
      least = d;
      nearest = b;
    }
  }
  const tube_path first = stretch_of(k, nearest);
  least = tube_path_distance(&first, p);
  for (size_t b = 0; b < k->num_boxes; b++) {
    if (b == nearest || to_box((const double(*)[3])k->box[b], p) >= least) continue;
    const tube_path one = stretch_of(k, b);
    const double d = tube_path_distance(&one, p);
    if (d < least) least = d;
  }
  return least - s->value[0];
}

static void swept_bounds(const shape *s, double low[3], double high[3])
{
  const store *k = (const store *)s->shared;
  for (int a = 0; a < 3; a++) {
    low[a] = INFINITY;
    high[a] = -INFINITY;
    for (size_t b = 0; b < k->num_boxes; b++) {
      low[a] = fmin(low[a], k->box[b][0][a] - s->value[0]);
      high[a] = fmax(high[a], k->box[b][1][a] + s->value[0]);
    }
  }
}

static void fill_boxes(store *k)
{
  for (size_t b = 0; b < k->num_boxes; b++) {
    const tube_path one = stretch_of(k, b);
    for (int a = 0; a < 3; a++) {
      k->box[b][0][a] = INFINITY;
      k->box[b][1][a] = -INFINITY;
      for (size_t i = 0; i < one.num; i++) {
        k->box[b][0][a] = fmin(k->box[b][0][a], one.point[i][a]);
        k->box[b][1][a] = fmax(k->box[b][1][a], one.point[i][a]);
      }
    }
  }
}

status shape_swept(shape **out, const tube_path *along, double radius, message *msg)
{
  if (!(radius > 0 && isfinite(radius))) return message_set(msg, STATUS_BAD_INPUT, "bent rod: radius %g m; it must be above 0", radius);
  store *k = calloc(1, sizeof *k);
  status code = k ? tube_path_create(&k->along, (const double(*)[3])along->point, along->num, msg)
                  : message_set(msg, STATUS_NO_MEMORY, "out of memory for a bent rod");
  if (code == STATUS_OK) {
    k->num_boxes = (k->along.num - 1 + STRETCH - 1) / STRETCH;
    k->box = malloc(k->num_boxes * sizeof *k->box);
    if (!k->box) code = message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a bent rod", k->num_boxes * sizeof *k->box);
  }
  if (code == STATUS_OK) {
    fill_boxes(k);
    shape_shared_start(&k->shared, release_store);
    code = shape_put(out, (shape){.distance = swept_distance, .bounds = swept_bounds, .shared = &k->shared, .value = {radius}}, msg);
  }
  if (code != STATUS_OK && k) release_store(&k->shared);
  return code;
}
