#include "solver/wall_sides.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

typedef struct { int32_t path, moist_path; double o, g, moist_o, moist_g; } surroundings_sum;

struct wall_sides {
  size_t num_links, num_patches, num_inner, num_sums;
  size_t *first;        /* [num_patches + 1] of its sides before nodes         */
  size_t *first_sum;    /* [num_patches + 1] of its sums over surroundings     */
  size_t *place;        /* [num_links] among the sides, or among the sums      */
  int32_t *node;        /* [num_inner]                                         */
  double *a, *o, *g, *inverse_volume; /* [num_inner]                           */
  double *constant;     /* [num_patches] sum of all o, W                       */
  surroundings_sum *sum; /* [num_sums] by patch                                */
};

/* ------------------------------------------------------------------------------------------- making */

static void count_up(size_t *first, size_t num)
{
  for (size_t p = 0; p < num; p++)
    first[p + 1] += first[p];
}

static void place_inner(wall_sides *s, const wall_link *links, const double *inverse_volume, size_t *filled)
{
  for (size_t l = 0; l < s->num_links; l++)
    if (links[l].i >= 0) {
      const size_t at = s->first[links[l].patch] + filled[links[l].patch]++;
      s->place[l] = at;
      s->node[at] = links[l].i;
      s->inverse_volume[at] = inverse_volume[links[l].i];
    }
}

/* Links of a patch to the surroundings of one path share a sum. `filled` counts the sums of each patch, from zero; there is room for as
 * many as it has links. */
static void place_outer(wall_sides *s, const wall_link *links, size_t *filled)
{
  for (size_t l = 0; l < s->num_links; l++) {
    const wall_link *k = &links[l];
    if (k->i >= 0)
      continue;
    const size_t first = s->first_sum[k->patch];
    size_t n = 0;
    while (n < filled[k->patch] && (s->sum[first + n].path != k->path || s->sum[first + n].moist_path != k->moist_path))
      n++;
    if (n == filled[k->patch])
      filled[k->patch]++;
    s->sum[first + n] = (surroundings_sum){.path = k->path, .moist_path = k->moist_path};
    s->place[l] = first + n;
  }
}

/* Closes the gaps that place_outer left. */
static void pack_sums(wall_sides *s, const wall_link *links, const size_t *filled, size_t *packed)
{
  size_t num = 0;
  for (size_t p = 0; p < s->num_patches; p++) {
    packed[p] = num;
    memmove(s->sum + num, s->sum + s->first_sum[p], filled[p] * sizeof *s->sum);
    num += filled[p];
  }
  for (size_t l = 0; l < s->num_links; l++)
    if (links[l].i < 0)
      s->place[l] = s->place[l] - s->first_sum[links[l].patch] + packed[links[l].patch];
  memcpy(s->first_sum, packed, s->num_patches * sizeof *packed);
  s->first_sum[s->num_patches] = s->num_sums = num;
}

static bool allocate(wall_sides *s, const wall_link *links)
{
  s->first = calloc(s->num_patches + 1, sizeof *s->first);
  s->first_sum = calloc(s->num_patches + 1, sizeof *s->first_sum);
  s->place = calloc(s->num_links + 1, sizeof *s->place);
  s->constant = calloc(s->num_patches + 1, sizeof *s->constant);
  if (!s->first || !s->first_sum || !s->place || !s->constant)
    return false;
  for (size_t l = 0; l < s->num_links; l++) {
    size_t *first = links[l].i >= 0 ? s->first : s->first_sum;
    first[links[l].patch + 1]++;
  }
  count_up(s->first, s->num_patches);
  count_up(s->first_sum, s->num_patches);
  s->num_inner = s->first[s->num_patches];
  double **array[] = {&s->a, &s->o, &s->g, &s->inverse_volume};
  bool ok = (s->node = calloc(s->num_inner + 1, sizeof *s->node)) != NULL;
  for (size_t n = 0; n < sizeof array / sizeof *array; n++)
    ok = (*array[n] = calloc(s->num_inner + 1, sizeof(double))) != NULL && ok;
  return (s->sum = calloc(s->first_sum[s->num_patches] + 1, sizeof *s->sum)) != NULL && ok;
}

status wall_sides_create(wall_sides **out, const wall_link *links, size_t num_links, size_t num_patches, const double *inverse_volume,
                         message *msg)
{
  wall_sides *s = calloc(1, sizeof *s);
  size_t *filled = calloc(num_patches + 1, sizeof *filled), *packed = calloc(num_patches + 1, sizeof *packed);
  bool ok = s && filled && packed;
  if (ok) {
    s->num_links = num_links;
    s->num_patches = num_patches;
    ok = allocate(s, links);
  }
  if (ok) {
    place_inner(s, links, inverse_volume, filled);
    memset(filled, 0, num_patches * sizeof *filled);
    place_outer(s, links, filled);
    pack_sums(s, links, filled, packed);
    *out = s;
  } else if (s) {
    wall_sides_destroy(&s);
  }
  free(filled);
  free(packed);
  return ok ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for the sides of %zu wall patches", num_patches);
}

void wall_sides_destroy(wall_sides **s)
{
  if (!*s)
    return;
  wall_sides *x = *s;
  void *owned[] = {x->first, x->first_sum, x->place, x->node, x->a, x->o, x->g, x->inverse_volume, x->constant, x->sum};
  for (size_t n = 0; n < sizeof owned / sizeof *owned; n++)
    free(owned[n]);
  free(x);
  *s = NULL;
}

/* ------------------------------------------------------------------------------------------- coefficients */

void wall_sides_refresh(wall_sides *s, const wall_link *links)
{
  memset(s->constant, 0, s->num_patches * sizeof *s->constant);
  for (size_t n = 0; n < s->num_sums; n++)
    s->sum[n] = (surroundings_sum){.path = s->sum[n].path, .moist_path = s->sum[n].moist_path};
  for (size_t l = 0; l < s->num_links; l++) {
    const wall_link *k = &links[l];
    const size_t at = s->place[l];
    s->constant[k->patch] += k->o;
    if (k->i >= 0) {
      s->a[at] = k->a;
      s->o[at] = k->o;
      s->g[at] = k->g;
      continue;
    }
    surroundings_sum *sum = &s->sum[at];
    sum->o += k->o;
    sum->g += k->g;
    sum->moist_o += k->m0 + k->m1 * k->o;
    sum->moist_g += k->m1 * k->g;
  }
}

/* ------------------------------------------------------------------------------------------- the march */

static double offer_of(const wall_sides *s, const double *potential, size_t patch)
{
  double sum = s->constant[patch];
  for (size_t n = s->first[patch]; n < s->first[patch + 1]; n++)
    sum += s->a[n] * potential[s->node[n]];
  return sum;
}

/* Per side 12 bytes read in order and 8 of the potential where they lie; 2 operations. A parallel region costs time even where it has one thread. */
void wall_sides_offer(const wall_sides *s, const double *potential, double *right)
{
  enum { MANY = 20000 }; /* sides: fewer are not worth a second thread */
  if (s->num_inner < MANY) {
    for (size_t p = 0; p < s->num_patches; p++)
      right[p] += offer_of(s, potential, p);
    return;
  }
#pragma omp parallel for schedule(static)
  for (size_t p = 0; p < s->num_patches; p++)
    right[p] += offer_of(s, potential, p);
}

/* Per side 36 bytes read in order, 8 of the potential and 16 of the target where they lie; 8 operations. Neighbours mostly share a path: its
 * sum is kept in hand. */
void wall_sides_exchange(const wall_sides *s, const double *potential, const double *temperature, double scale, double *heat,
                         double *target, double *path_rate)
{
  int32_t path = 0;
  double in_hand = path_rate[path];
  for (size_t p = 0; p < s->num_patches; p++) {
    const double T = temperature[p];
    double all = 0.0;
    for (size_t n = s->first[p]; n < s->first[p + 1]; n++) {
      const double q = s->a[n] * potential[s->node[n]] + s->o[n] - s->g[n] * T;
      all += q;
      target[s->node[n]] -= scale * q * s->inverse_volume[n];
    }
    for (size_t n = s->first_sum[p]; n < s->first_sum[p + 1]; n++) {
      const surroundings_sum *e = &s->sum[n];
      const double q = e->o - e->g * T, moisture = e->moist_path >= 0 ? e->moist_o - e->moist_g * T : 0.0;
      all += q;
      if (e->path != path) {
        path_rate[path] = in_hand;
        path = e->path;
        in_hand = path_rate[path];
      }
      in_hand += q - moisture;
      if (e->moist_path == path)
        in_hand += moisture;
      else if (e->moist_path >= 0)
        path_rate[e->moist_path] += moisture;
    }
    heat[p] += all;
  }
  path_rate[path] = in_hand;
}
