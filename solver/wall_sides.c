#include "solver/wall_sides.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

typedef struct { int32_t path, moist_path; double o, g, moist_o, moist_g; } surroundings_sum;

struct wall_sides {
  size_t num_links, num_patches, num_inner, num_sums;
  int32_t *order;       /* [num_patches] by the first node of each: threads share patches as they share the slabs of the grid */
  int32_t *rank;        /* [num_patches] where a patch is in that order        */
  size_t *first;        /* [num_patches + 1] by rank, of its sides before nodes */
  size_t *first_sum;    /* [num_patches + 1] of its sums over surroundings     */
  size_t *place;        /* [num_links] among the sides, or among the sums      */
  int32_t *node, *at;   /* [num_inner] before which, and its place              */
  double *a, *o, *g, *inverse_volume; /* [num_inner]                           */
  double *constant;     /* [num_patches] sum of all o, W                       */
  surroundings_sum *sum; /* [num_sums] by patch                                */
  size_t num_common, *first_common; /* [num_patches + 1] by patch, sides before nodes that other patches have, too */
  bool *is_common;      /* [num_inner]                                         */
  int32_t *common_node, *common_at; /* [num_common]                            */
  double *common_gain;  /* [num_common] work of an exchange                    */
};

enum { MANY = 4000 }; /* sides: fewer are not worth a second thread */

/* ------------------------------------------------------------------------------------------- making */

static void count_up(size_t *first, size_t num)
{
  for (size_t p = 0; p < num; p++)
    first[p + 1] += first[p];
}

static void place_inner(wall_sides *s, const wall_link *links, const double *inverse_volume, const int32_t *place, size_t *filled)
{
  for (size_t l = 0; l < s->num_links; l++)
    if (links[l].i >= 0) {
      const size_t at = s->first[s->rank[links[l].patch]] + filled[links[l].patch]++;
      s->place[l] = at;
      s->node[at] = links[l].i;
      s->at[at] = place[links[l].i];
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

/* A node that sides of two patches stand before takes its heat from one after the other, in their order: when all else is done. */
static bool find_common(wall_sides *s)
{
  enum { NOBODY = -1, MANY_PATCHES = -2 };
  int32_t most = 0;
  for (size_t n = 0; n < s->num_inner; n++)
    most = s->node[n] > most ? s->node[n] : most;
  int32_t *owner = malloc(((size_t)most + 1) * sizeof *owner);
  for (size_t i = 0; owner && i <= (size_t)most; i++)
    owner[i] = NOBODY;
  for (size_t p = 0; owner && p < s->num_patches; p++)
    for (size_t n = s->first[s->rank[p]]; n < s->first[s->rank[p] + 1]; n++) {
      int32_t *whose = &owner[s->node[n]];
      *whose = *whose == NOBODY || *whose == (int32_t)p ? (int32_t)p : MANY_PATCHES;
    }
  for (size_t p = 0; owner && p < s->num_patches; p++) {
    s->first_common[p] = s->num_common;
    for (size_t n = s->first[s->rank[p]]; n < s->first[s->rank[p] + 1]; n++) {
      s->is_common[n] = owner[s->node[n]] == MANY_PATCHES;
      if (s->is_common[n]) {
        s->common_node[s->num_common] = s->node[n];
        s->common_at[s->num_common++] = s->at[n];
      }
    }
  }
  s->first_common[s->num_patches] = s->num_common;
  free(owner);
  return owner != NULL;
}

typedef struct { int32_t node, patch; } first_node;

static int by_node(const void *a, const void *b)
{
  const first_node *x = a, *y = b;
  return x->node != y->node ? (x->node > y->node) - (x->node < y->node) : (x->patch > y->patch) - (x->patch < y->patch);
}

static bool find_order(wall_sides *s, const wall_link *links)
{
  first_node *at = malloc((s->num_patches + 1) * sizeof *at);
  for (size_t p = 0; at && p < s->num_patches; p++)
    at[p] = (first_node){.node = INT32_MAX, .patch = (int32_t)p};
  for (size_t l = 0; at && l < s->num_links; l++)
    if (links[l].i >= 0 && links[l].i < at[links[l].patch].node)
      at[links[l].patch].node = links[l].i;
  if (at)
    qsort(at, s->num_patches, sizeof *at, by_node);
  for (size_t rank = 0; at && rank < s->num_patches; rank++) {
    s->order[rank] = at[rank].patch;
    s->rank[at[rank].patch] = (int32_t)rank;
  }
  free(at);
  return at != NULL;
}

static bool allocate(wall_sides *s, const wall_link *links)
{
  s->order = calloc(s->num_patches + 1, sizeof *s->order);
  s->rank = calloc(s->num_patches + 1, sizeof *s->rank);
  s->first = calloc(s->num_patches + 1, sizeof *s->first);
  s->first_sum = calloc(s->num_patches + 1, sizeof *s->first_sum);
  s->place = calloc(s->num_links + 1, sizeof *s->place);
  s->constant = calloc(s->num_patches + 1, sizeof *s->constant);
  if (!s->order || !s->rank || !s->first || !s->first_sum || !s->place || !s->constant || !find_order(s, links))
    return false;
  for (size_t l = 0; l < s->num_links; l++) {
    if (links[l].i >= 0)
      s->first[s->rank[links[l].patch] + 1]++;
    else
      s->first_sum[links[l].patch + 1]++;
  }
  count_up(s->first, s->num_patches);
  count_up(s->first_sum, s->num_patches);
  s->num_inner = s->first[s->num_patches];
  double **array[] = {&s->a, &s->o, &s->g, &s->inverse_volume, &s->common_gain};
  s->node = calloc(s->num_inner + 1, sizeof *s->node);
  s->at = calloc(s->num_inner + 1, sizeof *s->at);
  bool ok = s->node && s->at;
  for (size_t n = 0; n < sizeof array / sizeof *array; n++)
    ok = (*array[n] = calloc(s->num_inner + 1, sizeof(double))) != NULL && ok;
  s->first_common = calloc(s->num_patches + 1, sizeof *s->first_common);
  s->is_common = calloc(s->num_inner + 1, sizeof *s->is_common);
  s->common_node = calloc(s->num_inner + 1, sizeof *s->common_node);
  s->common_at = calloc(s->num_inner + 1, sizeof *s->common_at);
  s->sum = calloc(s->first_sum[s->num_patches] + 1, sizeof *s->sum);
  return s->first_common && s->is_common && s->common_node && s->common_at && s->sum && ok;
}

status wall_sides_create(wall_sides **out, const wall_link *links, size_t num_links, size_t num_patches, const double *inverse_volume,
                         const int32_t *place, message *msg)
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
    place_inner(s, links, inverse_volume, place, filled);
    memset(filled, 0, num_patches * sizeof *filled);
    place_outer(s, links, filled);
    pack_sums(s, links, filled, packed);
    ok = find_common(s);
  }
  if (ok) {
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
  void *owned[] = {x->first, x->first_sum, x->place, x->node, x->at, x->common_at, x->a, x->o, x->g, x->inverse_volume, x->constant, x->sum,
                   x->order, x->rank, x->first_common, x->is_common, x->common_node, x->common_gain};
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

static void offer_of(const wall_sides *s, const double *potential, size_t rank, double *right)
{
  double sum = s->constant[s->order[rank]];
  for (size_t n = s->first[rank]; n < s->first[rank + 1]; n++)
    sum += s->a[n] * potential[s->at[n]];
  right[s->order[rank]] += sum;
}

/* Per side 12 bytes read in order and 8 of the potential where they lie; 2 operations. A parallel region costs time even where it has one thread. */
void wall_sides_offer(const wall_sides *s, const double *potential, double *right)
{
  if (s->num_inner < MANY) {
    for (size_t rank = 0; rank < s->num_patches; rank++)
      offer_of(s, potential, rank, right);
    return;
  }
#pragma omp parallel for schedule(static)
  for (size_t rank = 0; rank < s->num_patches; rank++)
    offer_of(s, potential, rank, right);
}

/* Heat out of the node of a side into the wall. */
static inline double heat_of(const wall_sides *s, const double *potential, double temperature, size_t n)
{
  return s->a[n] * potential[s->at[n]] + s->o[n] - s->g[n] * temperature;
}

/* Of the sides of a patch before nodes, some of which other patches have, too. */
static double exchange_at_edge(const wall_sides *s, const double *potential, double temperature, double scale, size_t rank, double *target, const int32_t *to)
{
  size_t common = s->first_common[s->order[rank]];
  double all = 0.0;
  for (size_t n = s->first[rank]; n < s->first[rank + 1]; n++) {
    const double q = heat_of(s, potential, temperature, n), gain = scale * q * s->inverse_volume[n];
    all += q;
    if (s->is_common[n])
      s->common_gain[common++] = gain;
    else
      target[to[n]] -= gain;
  }
  return all;
}

/* Of the sides of one that has its nodes alone. */
static double exchange_within(const wall_sides *s, const double *potential, double temperature, double scale, size_t rank, double *target, const int32_t *to)
{
  double all = 0.0;
  for (size_t n = s->first[rank]; n < s->first[rank + 1]; n++) {
    const double q = heat_of(s, potential, temperature, n);
    all += q;
    target[to[n]] -= scale * q * s->inverse_volume[n];
  }
  return all;
}

/* One patch. Per side 36 bytes read in order, 8 of the potential and 16 of the target where they lie; 8 operations. */
static void exchange_of(const wall_sides *s, const double *potential, const double *temperature, double scale, size_t rank, double *heat,
                        double *target, const int32_t *to)
{
  const size_t patch = (size_t)s->order[rank];
  const double T = temperature[patch];
  const bool at_edge = s->first_common[patch] < s->first_common[patch + 1];
  double all = at_edge ? exchange_at_edge(s, potential, T, scale, rank, target, to) : exchange_within(s, potential, T, scale, rank, target, to);
  for (size_t n = s->first_sum[patch]; n < s->first_sum[patch + 1]; n++)
    all += s->sum[n].o - s->sum[n].g * T;
  heat[patch] += all;
}

/* What surroundings give, in the order of the patches; neighbours mostly share a path: its sum is kept in hand. The heat is found once more:
 * to have it from another processor takes longer. */
static void book(const wall_sides *s, const double *temperature, double *path_rate)
{
  int32_t path = 0;
  double in_hand = path_rate[path];
  for (size_t p = 0; p < s->num_patches; p++) {
    const double T = temperature[p];
    for (size_t n = s->first_sum[p]; n < s->first_sum[p + 1]; n++) {
      const surroundings_sum *e = &s->sum[n];
      const double q = e->o - e->g * T, moisture = e->moist_path >= 0 ? e->moist_o - e->moist_g * T : 0.0;
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
  }
  path_rate[path] = in_hand;
}

void wall_sides_exchange(const wall_sides *s, const double *potential, const double *temperature, double scale, double *heat,
                         double *target, bool by_place, double *path_rate)
{
  const int32_t *to = by_place ? s->at : s->node, *common_to = by_place ? s->common_at : s->common_node;
  if (s->num_inner < MANY) {
    for (size_t rank = 0; rank < s->num_patches; rank++)
      exchange_of(s, potential, temperature, scale, rank, heat, target, to);
  } else {
#pragma omp parallel for schedule(static)
    for (size_t rank = 0; rank < s->num_patches; rank++)
      exchange_of(s, potential, temperature, scale, rank, heat, target, to);
  }
  for (size_t n = 0; n < s->num_common; n++)
    target[common_to[n]] -= s->common_gain[n];
  book(s, temperature, path_rate);
}
