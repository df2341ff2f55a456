#include "solver/clouding.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "materials/air_in_water.h"

static const double WATER_DENSITY = 999.8, GRAVITY = 9.81;    /* kg/m3 at 0 degC, m/s2 */
static const double SLOWEST = 1e-9, FASTEST = 1e-4;           /* m/s                    */
static const double LARGEST_STEP = 0.01;                      /* of a pocket's liquid   */
static const double LARGEST_LOSS = 0.03;                      /* of a pocket's air      */
static const double VANISHED = 1e-6;                          /* of the body's mass     */
static const double EXCHANGE_AERATED = 3600.0;                /* s (0.3 h to 3 h)       */
static const double UPTAKE_STILL = 4e-6, UPTAKE_STIRRED = 2e-5; /* m/s (2e-6..1e-5, 1e-5..5e-5), from memory */
static const double SALT_PLANAR = 0.03, SALT_CELLULAR = 0.3;  /* share of the bulk's minerals that the ice keeps */
static const double SALT_SLOPE = 0.05;                        /* K per kg/m3: NaCl 0.0595, calcium bicarbonate 0.034 */
static const double STOP_AT = 0.8;
static const double ONSET_ON = 0.05, ONSET_LASTS = 0.005; /* of the front; of the body's mass: corners that freeze in no time do not count */

/* A node while the front crosses it. */
typedef struct {
  double begin, end;      /* s                         */
  double mass, speed;     /* kg, m/s                   */
  double normal_z;
  double saturation, pressure;
  double frozen;          /* kg so far                 */
  double surface;         /* m2 at an open surface     */
  double gas, dimming, salt; /* kg * fraction, kg * extinction, kg of minerals */
  int32_t node, pocket;
} crossing;

/* One node's share of the slice in hand. */
typedef struct {
  crossing *at;
  double mass;   /* kg in the slice */
  double film;   /* m */
  double detached;
  front_gas_capture now;
  int32_t next;
} share;

typedef struct {
  double own;        /* kg of liquid in nodes of this pocket itself                        */
  double liquid;     /* kg, with all that has not parted from it yet                       */
  double air, salt;  /* m3 STP, kg                                                         */
  double bubble;     /* m3 STP of free gas under its ice                                   */
  double bare, surface; /* m2 of open surface: of its own nodes, with all that has not parted yet */
  double front;      /* m2 */
  double freezing;   /* kg in the slice */
  int32_t live;      /* the pocket it is still part of */
  int32_t first;     /* share, -1 */
  bool parted, vanished;
} water;

/* When something begins on the front and goes on. */
typedef struct {
  double time, share; /* s, frozen share; NAN: not going on */
  double mass;        /* kg since                           */
  bool certain;
} beginning;

typedef struct {
  const clouding_request *ask;
  crossing *crossings;    /* [num] by rising begin */
  size_t num;
  share *shares;          /* [num] */
  int32_t *active;        /* [num] */
  size_t num_active, next_crossing;
  water *waters;          /* [num_pockets] */
  double *edges;          /* s */
  size_t num_edges, next_exchange;
  double mass, frozen, end;
  double salt_limit;
  double volume[3];       /* kg of clear, hazy, white ice */
  /* of the slice in hand, for onset and stop */
  double slice_mass, slice_reach, slice_bubbling, slice_cellular;
  beginning bubbles, cells;
  double slice_kind[3];
  clouding_found found;
} pass;

/* ------------------------------------------------------------------------------------------------ nodes */

/* Unit vector from ice to water: along each axis towards where it froze later, upwind. */
static void direction_of(const clouding_request *q, int32_t node, double n[3])
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

static void describe(pass *p, crossing *c, int32_t node)
{
  const clouding_request *q = p->ask;
  double n[3], speed = q->front_speed[node];
  direction_of(q, node, n);
  const double kept = isnan(speed) ? FASTEST : fmin(fmax(speed, SLOWEST), FASTEST);
  p->found.num_clamped += kept != speed;
  speed = kept;
  const double half = 0.5 * width_along(q->m, node, n) / speed;
  const double t = q->freeze_time[node];
  *c = (crossing){.node = node,
                  .pocket = q->pocket_of_node[node],
                  .mass = q->density * q->m->volume[node],
                  .speed = speed,
                  .normal_z = n[2],
                  .begin = fmax(t - half, fmin(q->start_time, t)),
                  .end = t + half,
                  .pressure = q->pressure + WATER_DENSITY * GRAVITY * fmax(q->surface_level - q->m->centroid[node][2], 0.0)};
  c->saturation = air_in_water_saturation(c->pressure);
}

static int sooner_first(const void *left, const void *right)
{
  const crossing *a = left, *b = right;
  return a->begin != b->begin ? (a->begin < b->begin ? -1 : 1) : a->node < b->node ? -1 : a->node > b->node;
}

static int by_value(const void *left, const void *right)
{
  const double a = *(const double *)left, b = *(const double *)right;
  return (a > b) - (a < b);
}

static bool is_ours(const clouding_request *q, size_t n)
{
  return q->m->part[n] == q->part && q->m->volume[n] > 0.0 && q->pocket_of_node[n] >= 0;
}

static status gather(pass *p, message *msg)
{
  const clouding_request *q = p->ask;
  size_t num = 0;
  for (size_t n = 0; n < q->m->num_nodes; n++)
    num += is_ours(q, n) && !isnan(q->freeze_time[n]);
  p->crossings = malloc((num + 1) * sizeof *p->crossings);
  p->shares = malloc((num + 1) * sizeof *p->shares);
  p->active = malloc((num + 1) * sizeof *p->active);
  p->waters = calloc(q->num_pockets + 1, sizeof *p->waters);
  p->edges = malloc((q->num_slices + q->num_pockets + q->num_exchanges + 2) * sizeof *p->edges);
  if (!p->crossings || !p->shares || !p->active || !p->waters || !p->edges)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: about %zu bytes for clear and white ice",
                       (num + 1) * (sizeof *p->crossings + sizeof *p->shares));
  for (size_t n = 0; n < q->m->num_nodes; n++)
    if (is_ours(q, n)) {
      p->mass += q->density * q->m->volume[n];
      p->waters[q->pocket_of_node[n]].own += q->density * q->m->volume[n];
      if (!isnan(q->freeze_time[n]))
        describe(p, &p->crossings[p->num++], (int32_t)n);
    }
  qsort(p->crossings, p->num, sizeof *p->crossings, sooner_first);
  return STATUS_OK;
}

/* Area of the nodes at an open surface. */
static status find_surface(pass *p, message *msg)
{
  const clouding_request *q = p->ask;
  if (!q->open_top)
    return STATUS_OK;
  double *area = calloc(q->m->num_nodes + 1, sizeof *area);
  if (!area)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for an open surface", q->m->num_nodes * sizeof *area);
  for (size_t i = 0; i < q->m->num_interfaces; i++) {
    const mesh_interface *f = &q->m->interfaces[i];
    if (f->part[0] == q->part && f->part[1] == MESH_VOID && f->patch == MESH_NONE && f->normal[2] > 0.7)
      area[f->node[0]] += f->area[0] * f->normal[2];
  }
  for (size_t i = 0; i < p->num; i++)
    p->crossings[i].surface = area[p->crossings[i].node];
  for (size_t i = 0; i < p->num; i++)
    p->waters[p->crossings[i].pocket].bare += p->crossings[i].surface;
  for (size_t n = 0; n < q->m->num_nodes; n++) /* what never froze */
    if (is_ours(q, n) && isnan(q->freeze_time[n]))
      p->waters[q->pocket_of_node[n]].bare += area[n];
  free(area);
  return STATUS_OK;
}

/* Slices of about equal mass, and one edge wherever pockets part or water is exchanged. */
static void cut_slices(pass *p)
{
  const clouding_request *q = p->ask;
  double total = 0.0, sum = 0.0;
  size_t next = 0;
  for (size_t i = 0; i < p->num; i++) {
    total += p->crossings[i].mass;
    p->end = i ? fmax(p->end, p->crossings[i].end) : p->crossings[i].end;
  }
  if (p->num == 0)
    return;
  /* Mass against the time in which a node begins: crossed evenly from one beginning to the next. */
  for (size_t i = 0; i < p->num; i++) {
    const double from = p->crossings[i].begin, to = i + 1 < p->num ? p->crossings[i + 1].begin : p->end;
    while (next < q->num_slices && (double)next * total <= (sum + p->crossings[i].mass) * (double)q->num_slices) {
      const double part = ((double)next * total / (double)q->num_slices - sum) / p->crossings[i].mass;
      p->edges[p->num_edges++] = from + fmin(fmax(part, 0.0), 1.0) * (to - from);
      next++;
    }
    sum += p->crossings[i].mass;
  }
  for (size_t k = 0; k < q->num_pockets; k++)
    if (q->pockets[k].parent >= 0 && q->pockets[k].parted_at > p->edges[0] && q->pockets[k].parted_at < p->end)
      p->edges[p->num_edges++] = q->pockets[k].parted_at;
  for (size_t i = 0; i < q->num_exchanges; i++)
    if (q->exchanges[i].time > p->edges[0] && q->exchanges[i].time < p->end)
      p->edges[p->num_edges++] = q->exchanges[i].time;
  p->edges[p->num_edges++] = p->end;
  qsort(p->edges, p->num_edges, sizeof *p->edges, by_value);
}

/* ------------------------------------------------------------------------------------------------ pockets */

static int32_t live_at(const pass *p, int32_t k, double time)
{
  const pocket *all = p->ask->pockets;
  while (all[k].parent >= 0 && all[k].parted_at > time)
    k = all[k].parent;
  return k;
}

/* Those that part at `time` take their share of the air and minerals of the water they leave. */
static void part_waters(pass *p, double time)
{
  const size_t num = p->ask->num_pockets;
  for (size_t k = 0; k < num; k++)
    p->waters[k].liquid = p->waters[k].surface = 0.0;
  for (size_t k = 0; k < num; k++) {
    p->waters[k].live = live_at(p, (int32_t)k, time);
    p->waters[p->waters[k].live].liquid += p->waters[k].own;
    p->waters[p->waters[k].live].surface += p->waters[k].bare;
  }
  for (size_t k = num; k-- > 0;) { /* children first: each takes its part of its parent's, which still holds its elders' */
    water *w = &p->waters[k];
    if (w->parted || w->live != (int32_t)k)
      continue;
    w->parted = true;
    if (p->ask->pockets[k].parent < 0) {
      w->air = p->ask->air * w->liquid;
      w->salt = p->ask->minerals / WATER_DENSITY * w->liquid;
      p->found.air.initial += w->air;
      p->found.salt.initial += w->salt;
      continue;
    }
    /* The nearest elder that held this water until now. */
    int32_t from = p->ask->pockets[k].parent;
    while (!p->waters[from].parted && p->ask->pockets[from].parent >= 0)
      from = p->ask->pockets[from].parent;
    water *elder = &p->waters[from];
    double held = w->liquid; /* of everything that parts from this elder now, and of itself */
    for (size_t j = 0; j < num; j++)
      if ((int32_t)j == from || (j < k && !p->waters[j].parted && p->waters[j].live == (int32_t)j)) {
        int32_t top = (int32_t)j;
        while (top != from && !p->waters[top].parted && p->ask->pockets[top].parent >= 0)
          top = p->ask->pockets[top].parent;
        held += top == from ? p->waters[j].liquid : 0.0;
      }
    const double taken = held > 0.0 ? w->liquid / held : 0.0;
    w->air = taken * elder->air;
    w->salt = taken * elder->salt;
    elder->air -= w->air;
    elder->salt -= w->salt;
  }
}

/* Fresh water for a share of the old. */
static void make_way(double *held, double *gone, double part, double fresh)
{
  const double change = part * (*held - fresh);
  *held -= change;
  *gone += change;
}

static void exchange_water(pass *p, double time)
{
  const clouding_request *q = p->ask;
  for (; p->next_exchange < q->num_exchanges && q->exchanges[p->next_exchange].time <= time; p->next_exchange++)
    for (size_t k = 0; k < q->num_pockets; k++) {
      water *w = &p->waters[k];
      if (w->live != (int32_t)k || w->vanished || !(w->liquid > 0.0))
        continue;
      make_way(&w->air, &p->found.air.exchanged, q->exchanges[p->next_exchange].share, q->air * w->liquid);
      make_way(&w->salt, &p->found.salt.exchanged, q->exchanges[p->next_exchange].share, q->minerals / WATER_DENSITY * w->liquid);
    }
}

static bool is_open(const pass *p, int32_t k, double time)
{
  const pocket *own = &p->ask->pockets[k];
  return p->ask->open_top && (isnan(own->closed_at) || time < own->closed_at);
}

/* ------------------------------------------------------------------------------------------------ one slice */

static double frozen_by(const crossing *c, double time)
{
  return time >= c->end ? c->mass : time <= c->begin ? 0.0 : c->mass * (time - c->begin) / (c->end - c->begin);
}

/* What freezes between two times, as a list per pocket. */
static void share_out(pass *p, double from, double to)
{
  size_t kept = 0;
  while (p->next_crossing < p->num && p->crossings[p->next_crossing].begin < to)
    p->active[p->num_active++] = (int32_t)p->next_crossing++;
  for (size_t k = 0; k < p->ask->num_pockets; k++) {
    p->waters[k].first = -1;
    p->waters[k].freezing = p->waters[k].front = 0.0;
  }
  for (size_t i = 0; i < p->num_active; i++) {
    crossing *c = &p->crossings[p->active[i]];
    const double now = frozen_by(c, to), mass = now - c->frozen;
    water *w = &p->waters[p->waters[c->pocket].live];
    p->shares[kept] = (share){.at = c, .mass = mass, .next = w->first};
    w->first = (int32_t)kept;
    w->freezing += mass;
    w->front += mass / (p->ask->density * c->speed * (to - from));
    c->frozen = now;
    p->waters[c->pocket].own -= mass;
    p->waters[c->pocket].bare -= c->surface * mass / c->mass;
    p->active[kept] = p->active[i];
    kept++;
  }
  size_t left = 0;
  for (size_t i = 0; i < kept; i++)
    if (p->crossings[p->active[i]].end > to)
      p->active[left++] = p->active[i];
  p->num_active = left;
}

static void set_films(pass *p, const water *w, double time)
{
  const double bulk = p->ask->bulk_temperature.num ? schedule_at(&p->ask->bulk_temperature, time) : 0.0;
  const bool agitated = p->ask->film.kind == MOTION_STIRRED || p->ask->film.aerated;
  const double room = w->front > 0.0 ? 0.5 * w->liquid / WATER_DENSITY / w->front : INFINITY;
  double film[3]; /* under ice, upright, above ice: the film knows no more of the way a front faces */
  for (int way = 0; way < 3; way++)
    film[way] = w->first >= 0 ? fmin(front_film_at(&p->ask->film, bulk, way - 1.0), room) : room;
  for (int32_t s = w->first; s >= 0; s = p->shares[s].next) {
    share *x = &p->shares[s];
    x->film = film[x->at->normal_z <= -FRONT_FILM_LEVEL ? 0 : x->at->normal_z < FRONT_FILM_LEVEL ? 1 : 2];
    x->detached = p->ask->detached * front_gas_detached(x->at->normal_z, agitated);
  }
}

/* Air that the front would take from a pocket whose bulk holds `bulk`, m3 STP, when the share `part` of the slice freezes. */
static double look_at_front(pass *p, const water *w, double bulk, double part)
{
  double taken = 0.0;
  for (int32_t s = w->first; s >= 0; s = p->shares[s].next) {
    share *x = &p->shares[s];
    x->now = front_gas_at(&p->ask->gas, bulk, x->at->saturation, x->at->speed, x->film);
    taken += x->now.captured * x->mass * part;
  }
  return taken;
}

static void note_kind(pass *p, int kind, double mass)
{
  p->volume[kind] += mass;
  p->slice_kind[kind] += mass;
}

static void deposit(pass *p, water *w, double part, double salt_bulk, bool open)
{
  for (int32_t s = w->first; s >= 0; s = p->shares[s].next) {
    share *x = &p->shares[s];
    crossing *c = x->at;
    const double mass = x->mass * part, taken = x->now.captured * mass, freed = x->detached * taken;
    p->slice_mass += mass;
    p->slice_reach += mass * fmin(x->now.supersaturation / p->ask->gas.onset, 1.0);
    if (x->now.share > 0.0)
      p->slice_bubbling += mass;
    double extinction = 0.0;
    if (x->now.captured > 0.0 && x->detached < 1.0) {
      const front_gas_bubbles b =
          front_gas_bubbles_of(&p->ask->gas, x->now.captured * (1.0 - x->detached), x->now.share, c->speed, c->pressure);
      extinction = b.extinction;
      c->gas += mass * b.fraction;
      c->dimming += mass * extinction;
    }
    note_kind(p, extinction < CLOUDING_CLEAR ? 0 : extinction <= CLOUDING_WHITE ? 1 : 2, mass);
    w->air -= taken;
    p->found.air.in_ice += taken - freed;
    if (open)
      p->found.air.through_top += freed;
    else
      w->bubble += freed;
    if (!(salt_bulk > 0.0))
      continue;
    const double at_front = front_gas_salt_at(salt_bulk * WATER_DENSITY, c->speed, x->film, p->ask->gas.diffusivity);
    const bool cellular = at_front > p->salt_limit;
    if (cellular)
      p->slice_cellular += mass;
    const double kept = (cellular ? SALT_CELLULAR : SALT_PLANAR) * salt_bulk * mass;
    c->salt += kept;
    w->salt -= kept;
    p->found.salt.in_ice += kept;
  }
}

static void breathe(pass *p, water *w, double seconds, bool open)
{
  if (!open || !(w->liquid > 0.0) || (!(w->surface > 1e-12) && !p->ask->film.aerated))
    return;
  const double uptake = p->ask->film.kind == MOTION_STIRRED ? UPTAKE_STIRRED : UPTAKE_STILL;
  const double span = p->ask->film.aerated ? EXCHANGE_AERATED : w->liquid / WATER_DENSITY / (uptake * w->surface);
  const double balance = air_in_water_saturation(p->ask->pressure) * w->liquid;
  const double after = balance + (w->air - balance) * exp(-seconds / span);
  p->found.air.through_top += w->air - after;
  w->air = after;
}

/* The rest, with whatever bubble lay under the ice, stays with the last water. */
static void vanish(pass *p, water *w)
{
  w->vanished = true;
  p->found.air.in_void += w->air + w->bubble;
  p->found.salt.in_void += w->salt;
  w->air = w->bubble = w->salt = 0.0;
}

static void freeze_water(pass *p, water *w, int32_t k, double from, double to)
{
  const double least = VANISHED * p->mass;
  double done = 0.0; /* kg of w->freezing */
  const bool open = is_open(p, k, from);
  set_films(p, w, from);
  if (!(w->freezing > 0.0))
    breathe(p, w, to - from, open);
  while (done < w->freezing && !w->vanished) {
    double step = fmin(w->freezing - done, LARGEST_STEP * w->liquid), taken;
    if (w->liquid <= least) {
      vanish(p, w);
      break;
    }
    for (int attempt = 0;; attempt++) {
      taken = look_at_front(p, w, w->air / (w->liquid - 0.5 * step), step / w->freezing);
      if (taken <= LARGEST_LOSS * w->air || attempt == 40)
        break;
      step *= fmax(0.9 * LARGEST_LOSS * w->air / taken, 0.1);
    }
    if (done + step >= w->freezing * (1.0 - 1e-12))
      step = w->freezing - done;
    deposit(p, w, step / w->freezing, w->salt / (w->liquid - 0.5 * step), open);
    w->liquid -= step;
    p->frozen += step;
    breathe(p, w, (to - from) * step / w->freezing, open);
    done += step;
    p->found.num_parts_of_slices++;
  }
  if (w->vanished) { /* the last drops: where the rest of the air and minerals is, white whatever it looks like */
    note_kind(p, 2, w->freezing - done);
    p->slice_mass += w->freezing - done;
    p->frozen += w->freezing - done;
  }
}

/* ------------------------------------------------------------------------------------------------ when */

static void note_beginning(const pass *p, beginning *b, double mass, double time, double frozen)
{
  if (b->certain)
    return;
  if (mass < ONSET_ON * p->slice_mass) {
    *b = (beginning){.time = NAN, .share = NAN};
    return;
  }
  if (isnan(b->share)) {
    b->time = time;
    b->share = frozen;
  }
  b->mass += mass;
  b->certain = b->mass >= ONSET_LASTS * p->mass;
}

static void note_slice(pass *p, double from, double share_before)
{
  clouding_found *f = &p->found;
  if (!(p->slice_mass > 0.0))
    return;
  note_beginning(p, &p->bubbles, p->slice_bubbling, from, share_before);
  note_beginning(p, &p->cells, p->slice_cellular, from, share_before);
  if (p->slice_reach < STOP_AT * p->slice_mass) {
    f->stop_time = f->stop_share = NAN;
  } else if (isnan(f->stop_time)) {
    f->stop_time = from;
    f->stop_share = share_before;
  }
  if (p->slice_kind[0] > 0.5 * p->slice_mass)
    f->hazy_share = f->white_share = NAN;
  else if (isnan(f->hazy_share))
    f->hazy_share = share_before;
  if (p->slice_kind[2] >= 0.5 * p->slice_mass && isnan(f->white_share))
    f->white_share = share_before;
}

static void march(pass *p)
{
  for (size_t e = 0; e + 1 < p->num_edges; e++) {
    const double from = p->edges[e], to = p->edges[e + 1], before = p->frozen / p->mass;
    if (!(to > from))
      continue;
    part_waters(p, from);
    exchange_water(p, from);
    share_out(p, from, to);
    p->slice_mass = p->slice_reach = p->slice_bubbling = p->slice_cellular = 0.0;
    memset(p->slice_kind, 0, sizeof p->slice_kind);
    for (size_t k = 0; k < p->ask->num_pockets; k++)
      if (p->waters[k].live == (int32_t)k)
        freeze_water(p, &p->waters[k], (int32_t)k, from, to);
    note_slice(p, from, before);
  }
}

/* ------------------------------------------------------------------------------------------------ the whole */

static void settle(pass *p)
{
  clouding_found *f = &p->found;
  const double ice = p->volume[0] + p->volume[1] + p->volume[2];
  for (size_t k = 0; k < p->ask->num_pockets; k++) {
    water *w = &p->waters[k];
    if (w->liquid > VANISHED * p->mass) {
      f->air.in_liquid += w->air + w->bubble;
      f->salt.in_liquid += w->salt;
    } else {
      vanish(p, w);
    }
  }
  f->onset_time = p->bubbles.time;
  f->onset_share = p->bubbles.share;
  f->salt_time = p->cells.time;
  f->salt_share = p->cells.share;
  f->clear = ice > 0.0 ? p->volume[0] / ice : NAN;
  f->hazy = ice > 0.0 ? p->volume[1] / ice : NAN;
  f->white = ice > 0.0 ? p->volume[2] / ice : NAN;
  if (f->stop_share < 0.01)
    f->stop_time = f->stop_share = NAN;
}

static void write_maps(const pass *p, double *gas_fraction, double *extinction, double *mineral)
{
  for (size_t i = 0; i < p->num; i++) {
    const crossing *c = &p->crossings[i];
    if (gas_fraction)
      gas_fraction[c->node] = c->gas / c->mass;
    if (extinction)
      extinction[c->node] = c->dimming / c->mass;
    if (mineral)
      mineral[c->node] = c->salt / c->mass * p->ask->density;
  }
}

status clouding_find(clouding_found *found, double *gas_fraction, double *extinction, double *mineral, const clouding_request *request,
                     message *msg)
{
  pass p = {.ask = request,
            .bubbles = {.time = NAN, .share = NAN},
            .cells = {.time = NAN, .share = NAN},
            .salt_limit = front_gas_salt_limit(FRONT_GAS_SALT_DIFFUSIVITY, SALT_SLOPE)};
  p.found = (clouding_found){.onset_time = NAN, .onset_share = NAN, .hazy_share = NAN, .white_share = NAN, .stop_time = NAN,
                             .stop_share = NAN, .salt_time = NAN, .salt_share = NAN};
  status code = gather(&p, msg);
  if (code == STATUS_OK)
    code = find_surface(&p, msg);
  if (code == STATUS_OK) {
    cut_slices(&p);
    march(&p);
    settle(&p);
    write_maps(&p, gas_fraction, extinction, mineral);
    *found = p.found;
  }
  free(p.crossings);
  free(p.shares);
  free(p.active);
  free(p.waters);
  free(p.edges);
  return code;
}

double clouding_books_error(const clouding_books *b)
{
  const double scale = b->initial + fabs(b->through_top) + fabs(b->exchanged);
  return scale > 0.0 ? fabs(b->initial - b->in_ice - b->through_top - b->exchanged - b->in_void - b->in_liquid) / scale : 0.0;
}
