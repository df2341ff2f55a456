#include "solver/clouding.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/clouding_water.h"

static const double WATER_DENSITY = 999.8;                    /* kg/m3 at 0 degC         */
static const double LARGEST_STEP = 0.05;                      /* of a pocket's liquid    */
static const double LARGEST_LOSS = 0.10;                      /* of a pocket's air       */
static const double VANISHED = 1e-6;                          /* of the body's mass      */
static const double SALT_PLANAR = 0.03, SALT_CELLULAR = 0.3;  /* share of the bulk's minerals that the ice keeps */
static const double SALT_SLOPE = 0.05;                        /* K per kg/m3: NaCl 0.0595, calcium bicarbonate 0.034 */
static const double STOP_AT = 0.8;                            /* of the onset of bubbles, of the salt limit */
static const double ONSET_ON = 0.05, ONSET_LASTS = 0.005; /* of the front; of the body's mass: corners that freeze in no time do not count */
static const double MOST_LIMIT = 1e-4;                    /* m/s: what holds next to no air may grow as it likes */
static const double MOST_GAPS = 0.05;                     /* of the ice since: a few slices do not end what holds */
static const double STOP_AFTER = 0.01;                    /* frozen share: before that there is nothing to keep */

/* What a pass keeps of a node. */
typedef struct {
  front_gas_layer layer;           /* of ...                                      */
  double film;                     /* m                                           */
  double salt_rise;                /* minerals at the front over those of the bulk */
  double frozen;                   /* kg so far                                    */
  double gas, dimming, salt, limit; /* kg * fraction, kg * extinction, kg of minerals, kg * m/s */
} place;

/* One node's share of the slice in hand. */
typedef struct {
  const clouding_crossing *at;
  place *of;
  double mass;              /* kg in the slice                         */
  double detached;
  front_gas_capture now;
  double trapped, bubbling; /* m3 STP, kg: in the slice so far         */
  int32_t next;
} share;

/* When something begins on the front and goes on. */
typedef struct {
  double time, share; /* s, frozen share; NAN: not going on */
  double mass;        /* kg since                           */
  bool certain;
} beginning;

/* Since when something holds: kg since, and of it those of slices in which it does not. time NAN: it does not hold. */
typedef struct { double time, share, mass, gaps; } lasting;

/* Of the slice in hand: kg of ice, and of it weighted by what is wanted for onset and stop. */
typedef struct {
  double mass, reach, bubbling, cellular, salty;
  double kind[3];     /* clear, hazy, white */
  double speed, limit; /* kg m/s            */
} slice;

typedef struct {
  const clouding_request *ask;
  const clouding_maps *maps;
  const clouding_crossing *crossings; /* [num] of the history */
  size_t num;
  place *places;          /* [num] */
  share *shares;          /* [num] */
  int32_t *active;        /* [num] */
  size_t num_active, next_crossing;
  clouding_waters waters;
  double *edges;          /* s */
  size_t num_edges, next_exchange, next_drive;
  front_film_setting film; /* as the water is driven now */
  double mass, frozen;
  double salt_limit;
  double kind[3];         /* kg of clear, hazy, white ice */
  slice now;
  beginning bubbles, cells;
  lasting stop, renew, cloudy;
  slice tenth[CLEAR_TENTHS];
  clouding_found found;
} pass;

/* ------------------------------------------------------------------------------------------------ slices */

static int by_value(const void *left, const void *right)
{
  const double a = *(const double *)left, b = *(const double *)right;
  return (a > b) - (a < b);
}

static void add_edge(pass *p, double time)
{
  if (time > p->edges[0] && time < p->ask->history->end)
    p->edges[p->num_edges++] = time;
}

/* Slices of about equal mass, and one edge wherever pockets part, water is exchanged or what drives it changes. */
static void cut_slices(pass *p)
{
  const clouding_request *q = p->ask;
  const clouding_history *h = q->history;
  double sum = 0.0;
  size_t next = 0;
  if (p->num == 0)
    return;
  /* Mass against the time in which a node begins: crossed evenly from one beginning to the next. */
  for (size_t i = 0; i < p->num; i++) {
    const double from = p->crossings[i].begin, to = i + 1 < p->num ? p->crossings[i + 1].begin : h->end;
    while (next < q->num_slices && (double)next * h->frozen <= (sum + p->crossings[i].mass) * (double)q->num_slices) {
      const double part = ((double)next * h->frozen / (double)q->num_slices - sum) / p->crossings[i].mass;
      p->edges[p->num_edges++] = from + fmin(fmax(part, 0.0), 1.0) * (to - from);
      next++;
    }
    sum += p->crossings[i].mass;
  }
  for (size_t k = 0; k < h->num_pockets; k++)
    if (h->pockets[k].parent >= 0)
      add_edge(p, h->pockets[k].parted_at);
  for (size_t i = 0; i < q->num_exchanges; i++)
    add_edge(p, q->exchanges[i].time);
  for (size_t i = 0; i < q->num_drives; i++)
    add_edge(p, q->drives[i].time);
  p->edges[p->num_edges++] = h->end;
  qsort(p->edges, p->num_edges, sizeof *p->edges, by_value);
}

static double frozen_by(const clouding_crossing *c, double time)
{
  if (time >= c->end)
    return c->mass;
  if (time >= c->middle)
    return 0.5 * c->mass * (1.0 + (time - c->middle) / (c->end - c->middle));
  return time <= c->begin ? 0.0 : 0.5 * c->mass * (time - c->begin) / (c->middle - c->begin);
}

/* m2 of its open surface that ice covers once a part of the node is frozen. */
static double covered(const clouding_crossing *c, double part)
{
  if (part <= 0.0)
    return 0.0;
  return part >= c->shut[1] ? c->surface : part <= c->shut[0] ? 0.0 : c->surface * (part - c->shut[0]) / (c->shut[1] - c->shut[0]);
}

/* What freezes between two times, as a list per pocket. */
static void share_out(pass *p, double from, double to)
{
  const double density = p->ask->history->density;
  size_t left = 0;
  while (p->next_crossing < p->num && p->crossings[p->next_crossing].begin < to)
    p->active[p->num_active++] = (int32_t)p->next_crossing++;
  for (size_t k = 0; k < p->ask->history->num_pockets; k++) {
    p->waters.of[k].first = -1;
    p->waters.of[k].freezing = p->waters.of[k].front = 0.0;
  }
  for (size_t i = 0; i < p->num_active; i++) {
    const clouding_crossing *c = &p->crossings[p->active[i]];
    place *at = &p->places[p->active[i]];
    const double now = frozen_by(c, to), mass = now - at->frozen, before = covered(c, at->frozen / c->mass);
    clouding_water *own = &p->waters.of[c->pocket], *w = &p->waters.of[own->live];
    w->surface -= covered(c, frozen_by(c, 0.5 * (from + to)) / c->mass) - before; /* open in the middle of the slice */
    p->shares[i] = (share){.at = c, .of = at, .mass = mass, .next = w->first};
    w->first = (int32_t)i;
    w->freezing += mass;
    w->front += mass / (density * c->speed * (to - from));
    own->bare -= covered(c, now / c->mass) - before;
    own->own -= mass;
    at->frozen = now;
    if (c->end > to)
      p->active[left++] = p->active[i];
  }
  p->found.num_visits += p->num_active;
  p->num_active = left;
}

/* ------------------------------------------------------------------------------------------------ the front of a pocket */

static bool agitated(const pass *p) { return p->film.kind == MOTION_STIRRED || p->film.aerated; }

/* The film at every node; what follows from it is worked out where it has changed. */
static void set_films(pass *p, const clouding_water *w, double time)
{
  const clouding_request *q = p->ask;
  const double bulk = q->bulk_temperature.num ? schedule_at(&q->bulk_temperature, time) : 0.0;
  const double room = w->front > 0.0 ? 0.5 * w->liquid / WATER_DENSITY / w->front : INFINITY;
  double film[3]; /* under ice, upright, above ice: the film knows no more of the way a front faces */
  for (int way = 0; way < 3; way++)
    film[way] = w->first >= 0 ? fmin(front_film_at(&p->film, bulk, way - 1.0), room) : room;
  for (int32_t s = w->first; s >= 0; s = p->shares[s].next) {
    share *x = &p->shares[s];
    const double n = x->at->normal_z, here = film[n <= -FRONT_FILM_LEVEL ? 0 : n < FRONT_FILM_LEVEL ? 1 : 2];
    x->detached = q->detached * front_gas_detached(n, agitated(p));
    if (here == x->of->film)
      continue;
    x->of->film = here;
    x->of->layer = front_gas_layer_of(&q->gas, x->at->speed, here);
    x->of->salt_rise = q->minerals > 0.0 ? front_gas_salt_rise(x->at->speed, here, q->gas.diffusivity) : 1.0;
  }
}

/* What the front would take of a pocket whose bulk holds `bulk`, m3 STP of air per kg, if the whole slice froze so; slope: d air / d bulk. */
typedef struct { double air, slope, freed, reach, bubbling; } intake;

static intake look_at_front(pass *p, const clouding_water *w, double bulk)
{
  const front_gas_constants *gas = &p->ask->gas;
  intake sum = {.air = 0.0};
  for (int32_t s = w->first; s >= 0; s = p->shares[s].next) {
    share *x = &p->shares[s];
    x->now = front_gas_at(gas, &x->of->layer, bulk, x->at->saturation);
    sum.reach += x->mass * fmin(x->now.supersaturation / gas->onset, 1.0);
    if (!(x->now.share > 0.0))
      continue;
    sum.bubbling += x->mass;
    sum.air += x->mass * x->now.captured;
    sum.slope += x->mass * x->now.slope;
    sum.freed += x->mass * x->now.captured * x->detached;
  }
  return sum;
}

/* Air taken changes the bulk: with the bulk of mid-step, found from its slope, a step is exact to second order and never overshoots. */
static double damping(const clouding_water *w, const intake *in, double step, double part)
{
  return 1.0 / (1.0 + 0.5 * part * in->slope / (w->liquid - 0.5 * step));
}

static void shut_in_air(pass *p, clouding_water *w, const intake *in, double step, double part, bool open)
{
  p->now.reach += part * in->reach;
  p->now.bubbling += part * in->bubbling;
  if (!(in->air > 0.0))
    return;
  const double weight = part * damping(w, in, step, part);
  for (int32_t s = w->first; s >= 0; s = p->shares[s].next) {
    share *x = &p->shares[s];
    x->trapped += weight * x->mass * x->now.captured * (1.0 - x->detached);
    x->bubbling += part * x->mass * x->now.share;
  }
  w->air -= weight * in->air;
  p->found.air.in_ice += weight * (in->air - in->freed);
  *(open ? &p->found.air.through_top : &w->bubble) += weight * in->freed;
}

/* kg of minerals per kg of water in the bulk. */
static void shut_in_salt(pass *p, clouding_water *w, double bulk, double part)
{
  double taken = 0.0;
  if (!(bulk > 0.0))
    return;
  for (int32_t s = w->first; s >= 0; s = p->shares[s].next) {
    const share *x = &p->shares[s];
    const double at_front = bulk * WATER_DENSITY * x->of->salt_rise, mass = part * x->mass;
    const double kept = (at_front > p->salt_limit ? SALT_CELLULAR : SALT_PLANAR) * bulk * mass;
    p->now.cellular += at_front > p->salt_limit ? mass : 0.0;
    p->now.salty += mass * fmin(at_front / p->salt_limit, 1.0);
    x->of->salt += kept;
    taken += kept;
  }
  w->salt -= taken;
  p->found.salt.in_ice += taken;
}

static void note_kind(pass *p, int kind, double mass)
{
  p->kind[kind] += mass;
  p->now.kind[kind] += mass;
}

/* The bubbles in what froze of each node: the share `part` of what the slice asked for. */
static void look_at_ice(pass *p, const clouding_water *w, double part)
{
  for (int32_t s = w->first; s >= 0; s = p->shares[s].next) {
    const share *x = &p->shares[s];
    const double mass = part * x->mass;
    double extinction = 0.0;
    if (x->trapped > 0.0 && mass > 0.0) {
      const front_gas_bubbles b =
          front_gas_bubbles_of(&p->ask->gas, x->trapped / mass, x->bubbling / mass, x->at->speed, x->at->pressure);
      extinction = b.extinction;
      x->of->gas += mass * b.fraction;
      x->of->dimming += mass * extinction;
    }
    note_kind(p, extinction < CLOUDING_CLEAR ? 0 : extinction <= CLOUDING_WHITE ? 1 : 2, mass);
  }
}

/* How fast it grew and how fast it might have, with the bulk at the beginning of the slice. */
static void note_growth(pass *p, const clouding_water *w)
{
  const double bulk = w->air / w->liquid;
  for (int32_t s = w->first; s >= 0; s = p->shares[s].next) {
    const share *x = &p->shares[s];
    const double limit = bulk > 0.0 ? fmin(front_gas_clear_speed(&p->ask->gas, bulk, x->at->saturation, x->of->film), MOST_LIMIT) : MOST_LIMIT;
    x->of->limit += x->mass * limit;
    p->now.speed += x->mass * x->at->speed;
    p->now.limit += x->mass * limit;
  }
}

/* A step small enough for the air that it takes. */
static intake step_of(pass *p, const clouding_water *w, double *step)
{
  for (int attempt = 0;; attempt++) {
    const intake in = look_at_front(p, w, w->air / (w->liquid - 0.5 * *step));
    const double part = *step / w->freezing, taken = in.air * part * damping(w, &in, *step, part);
    if (taken <= LARGEST_LOSS * w->air || attempt == 40)
      return in;
    *step *= fmax(0.9 * LARGEST_LOSS * w->air / taken, 0.1);
  }
}

static void freeze_water(pass *p, clouding_water *w, int32_t k, double from, double to)
{
  const double least = VANISHED * p->mass;
  double done = 0.0; /* kg of w->freezing */
  const bool open = clouding_water_is_open(&p->waters, k, from, p->film.aerated);
  set_films(p, w, from);
  if (!(w->freezing > 0.0) && open)
    clouding_water_breathe(&p->waters, w, &p->film, to - from);
  if (p->maps && w->freezing > 0.0 && w->liquid > least)
    note_growth(p, w);
  while (done < w->freezing && !w->vanished) {
    double step = fmin(w->freezing - done, LARGEST_STEP * w->liquid);
    if (w->liquid <= least) {
      clouding_water_vanish(&p->waters, w);
      break;
    }
    const intake in = step_of(p, w, &step);
    if (done + step >= w->freezing * (1.0 - 1e-12))
      step = w->freezing - done;
    const double part = step / w->freezing;
    shut_in_salt(p, w, w->salt / (w->liquid - 0.5 * step), part);
    shut_in_air(p, w, &in, step, part, open);
    w->liquid -= step;
    done += step;
    if (open)
      clouding_water_breathe(&p->waters, w, &p->film, (to - from) * part);
  }
  if (done > 0.0)
    look_at_ice(p, w, done / w->freezing);
  if (w->vanished) { /* the last drops: where the rest of the air and minerals is, white whatever it looks like */
    note_kind(p, 2, w->freezing - done);
    p->now.reach += w->freezing - done;
  }
  p->now.mass += w->freezing;
  p->frozen += w->freezing;
}

/* ------------------------------------------------------------------------------------------------ when */

static void note_beginning(const pass *p, beginning *b, double mass, double time, double frozen)
{
  if (b->certain)
    return;
  if (mass < ONSET_ON * p->now.mass) {
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

/* From when on to the end, but for short gaps. */
static void note_lasting(lasting *l, bool holds, double mass, double time, double frozen)
{
  if (isnan(l->time)) {
    if (holds)
      *l = (lasting){.time = time, .share = frozen, .mass = mass};
    return;
  }
  l->mass += mass;
  l->gaps += holds ? 0.0 : mass;
  if (l->gaps > MOST_GAPS * l->mass)
    l->time = l->share = NAN;
}

static void note_tenth(pass *p, double share_before)
{
  slice *t = &p->tenth[(int)fmin(fmax(share_before * CLEAR_TENTHS, 0.0), CLEAR_TENTHS - 1)];
  t->mass += p->now.mass;
  t->speed += p->now.speed;
  t->limit += p->now.limit;
}

static void note_slice(pass *p, double from, double share_before)
{
  clouding_found *f = &p->found;
  const double mass = p->now.mass;
  if (!(mass > 0.0))
    return;
  note_beginning(p, &p->bubbles, p->now.bubbling, from, share_before);
  note_beginning(p, &p->cells, p->now.cellular, from, share_before);
  const bool near = p->now.reach >= STOP_AT * mass;
  note_lasting(&p->stop, near, mass, from, share_before);
  note_lasting(&p->cloudy, p->now.kind[0] <= 0.5 * mass, mass, from, share_before);
  note_lasting(&p->renew, near || p->now.salty >= STOP_AT * mass, mass, from, share_before);
  if (p->now.kind[0] > 0.5 * mass)
    f->hazy_share = f->white_share = NAN;
  else if (isnan(f->hazy_share))
    f->hazy_share = share_before;
  if (p->now.kind[2] >= 0.5 * mass && isnan(f->white_share))
    f->white_share = share_before;
  note_tenth(p, share_before);
}

static void exchange_water(pass *p, double time)
{
  const clouding_request *q = p->ask;
  for (; p->next_exchange < q->num_exchanges && q->exchanges[p->next_exchange].time <= time; p->next_exchange++)
    clouding_water_exchange(&p->waters, q->exchanges[p->next_exchange].share);
}

/* Water whose stirrer stands moves by itself. */
static void drive_water(pass *p, double time)
{
  const clouding_request *q = p->ask;
  if (q->thickness.num > 0)
    p->film.thickness = schedule_at(&q->thickness, time);
  for (; p->next_drive < q->num_drives && q->drives[p->next_drive].time <= time; p->next_drive++) {
    const clouding_drive *d = &q->drives[p->next_drive];
    p->film.kind = q->film.kind == MOTION_STIRRED && !d->stirred ? MOTION_STILL : q->film.kind;
    p->film.aerated = q->film.aerated && d->aerated;
  }
}

static void march(pass *p)
{
  for (size_t e = 0; e + 1 < p->num_edges; e++) {
    const double from = p->edges[e], to = p->edges[e + 1], before = p->frozen / p->mass;
    if (!(to > from))
      continue;
    clouding_water_part(&p->waters, from);
    exchange_water(p, from);
    drive_water(p, from);
    share_out(p, from, to);
    p->now = (slice){.mass = 0.0};
    for (size_t k = 0; k < p->ask->history->num_pockets; k++)
      if (p->waters.of[k].live == (int32_t)k)
        freeze_water(p, &p->waters.of[k], (int32_t)k, from, to);
    note_slice(p, from, before);
  }
}

/* ------------------------------------------------------------------------------------------------ the whole */

static status allocate(pass *p, message *msg)
{
  const clouding_request *q = p->ask;
  p->places = malloc((p->num + 1) * sizeof *p->places);
  p->shares = malloc((p->num + 1) * sizeof *p->shares);
  p->active = malloc((p->num + 1) * sizeof *p->active);
  p->edges = malloc((q->num_slices + q->history->num_pockets + q->num_exchanges + q->num_drives + 2) * sizeof *p->edges);
  if (!p->places || !p->shares || !p->active || !p->edges)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: about %zu bytes for clear and white ice",
                       (p->num + 1) * (sizeof *p->places + sizeof *p->shares));
  for (size_t i = 0; i < p->num; i++)
    p->places[i] = (place){.film = -1.0};
  return clouding_water_create(&p->waters, q, &p->found.air, &p->found.salt, msg);
}

static void release(pass *p)
{
  clouding_water_release(&p->waters);
  free(p->places);
  free(p->shares);
  free(p->active);
  free(p->edges);
}

/* A front that was near from the start and yet made clear ice: until the ice that grows is mostly cloudy. */
static void settle_time(const pass *p, const lasting *l, double *time, double *frozen)
{
  const lasting *used = l->share < STOP_AFTER ? &p->cloudy : l;
  *time = used->share >= STOP_AFTER ? used->time : NAN;
  *frozen = used->share >= STOP_AFTER ? used->share : NAN;
}

static void settle(pass *p)
{
  clouding_found *f = &p->found;
  const double ice = p->kind[0] + p->kind[1] + p->kind[2];
  clouding_water_settle(&p->waters, VANISHED * p->mass);
  f->onset_time = p->bubbles.time;
  f->onset_share = p->bubbles.share;
  f->salt_time = p->cells.time;
  f->salt_share = p->cells.share;
  f->clear = ice > 0.0 ? p->kind[0] / ice : NAN;
  f->hazy = ice > 0.0 ? p->kind[1] / ice : NAN;
  f->white = ice > 0.0 ? p->kind[2] / ice : NAN;
  settle_time(p, &p->stop, &f->stop_time, &f->stop_share);
  settle_time(p, &p->renew, &f->renew_time, &f->renew_share);
  for (int i = 0; i < CLEAR_TENTHS; i++) {
    const slice *t = &p->tenth[i];
    f->growth[i] = (clouding_growth){t->mass > 0.0 && p->maps ? t->speed / t->mass : NAN, t->mass > 0.0 && p->maps ? t->limit / t->mass : NAN};
  }
}

/* A node may come in parts. */
static void put(double *map, const clouding_crossing *c, double value, bool afresh)
{
  if (map)
    map[c->node] = (afresh ? 0.0 : map[c->node]) + c->share * value;
}

static void write_maps(const pass *p)
{
  for (int afresh = 1; p->maps && afresh >= 0; afresh--)
    for (size_t i = 0; i < p->num; i++) {
      const clouding_crossing *c = &p->crossings[i];
      const double part = afresh ? 0.0 : 1.0 / c->mass;
      put(p->maps->gas_fraction, c, part * p->places[i].gas, afresh);
      put(p->maps->extinction, c, part * p->places[i].dimming, afresh);
      put(p->maps->mineral, c, part * p->places[i].salt * p->ask->history->density, afresh);
      put(p->maps->limit, c, part * p->places[i].limit, afresh);
    }
}

status clouding_find(clouding_found *found, const clouding_maps *maps, const clouding_request *request, message *msg)
{
  pass p = {.ask = request,
            .maps = maps,
            .crossings = request->history->crossings,
            .num = request->history->num,
            .mass = request->history->mass,
            .film = request->film,
            .bubbles = {.time = NAN, .share = NAN},
            .cells = {.time = NAN, .share = NAN},
            .stop = {.time = NAN, .share = NAN},
            .renew = {.time = NAN, .share = NAN},
            .cloudy = {.time = NAN, .share = NAN},
            .salt_limit = front_gas_salt_limit(FRONT_GAS_SALT_DIFFUSIVITY, SALT_SLOPE)};
  p.found = (clouding_found){.onset_time = NAN, .onset_share = NAN, .hazy_share = NAN, .white_share = NAN, .stop_time = NAN,
                             .stop_share = NAN, .salt_time = NAN, .salt_share = NAN, .renew_time = NAN, .renew_share = NAN};
  const status code = allocate(&p, msg);
  if (code == STATUS_OK) {
    cut_slices(&p);
    march(&p);
    settle(&p);
    write_maps(&p);
    *found = p.found;
  }
  release(&p);
  return code;
}

double clouding_books_error(const clouding_books *b)
{
  const double scale = b->initial + fabs(b->through_top) + fabs(b->exchanged);
  return scale > 0.0 ? fabs(b->initial - b->in_ice - b->through_top - b->exchanged - b->in_void - b->in_liquid) / scale : 0.0;
}
