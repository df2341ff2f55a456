#include "solver/clouding_water.h"

#include <math.h>
#include <stdlib.h>

#include "materials/air_in_water.h"

static const double WATER_DENSITY = 999.8;                      /* kg/m3 at 0 degC        */
static const double EXCHANGE_AERATED = 3600.0;                  /* s (0.3 h to 3 h)       */
static const double UPTAKE_STILL = 4e-6, UPTAKE_STIRRED = 2e-5; /* m/s (2e-6..1e-5, 1e-5..5e-5), from memory */

/* At first all is in the roots; what is shut off from the beginning on parts from them then. */
static void pour(clouding_waters *all)
{
  const pocket *tree = all->history->pockets;
  for (size_t k = all->history->num_pockets; k-- > 0;) {
    clouding_water *w = &all->of[k];
    w->air += all->air * w->own;
    w->salt += all->salt * w->own;
    w->parted = tree[k].parent < 0;
    if (w->parted) {
      all->air_books->initial += w->air;
      all->salt_books->initial += w->salt;
    } else {
      all->of[tree[k].parent].air += w->air;
      all->of[tree[k].parent].salt += w->salt;
      w->air = w->salt = 0.0;
    }
  }
}

status clouding_water_create(clouding_waters *out, const clouding_request *q, clouding_books *air, clouding_books *salt, message *msg)
{
  const clouding_history *h = q->history;
  *out = (clouding_waters){.history = h,
                           .of = calloc(h->num_pockets + 1, sizeof(clouding_water)),
                           .air = q->air,
                           .salt = q->minerals / WATER_DENSITY,
                           .air_books = air,
                           .salt_books = salt};
  if (!out->of)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the water of pockets", h->num_pockets * sizeof(clouding_water));
  for (size_t k = 0; k < h->num_pockets; k++) {
    out->of[k].own = h->own[k];
    out->of[k].bare = h->bare[k];
  }
  pour(out);
  return STATUS_OK;
}

void clouding_water_release(clouding_waters *all)
{
  free(all->of);
  all->of = NULL;
}

static int32_t live_at(const clouding_waters *all, int32_t k, double time)
{
  const pocket *tree = all->history->pockets;
  while (tree[k].parent >= 0 && tree[k].parted_at > time)
    k = tree[k].parent;
  return k;
}

/* The nearest elder of k that has parted itself, and so held this water until now. */
static int32_t elder_of(const clouding_waters *all, int32_t k)
{
  const pocket *tree = all->history->pockets;
  int32_t from = tree[k].parent;
  while (!all->of[from].parted)
    from = tree[from].parent;
  return from;
}

/* kg held by the elder `from` of k: its own, and of all that parts from it now and has not taken its part yet. */
static double held_by(const clouding_waters *all, size_t k, int32_t from)
{
  double held = all->of[k].liquid;
  for (size_t j = 0; j < all->history->num_pockets; j++) {
    const clouding_water *w = &all->of[j];
    if ((int32_t)j == from || (j < k && !w->parted && w->live == (int32_t)j && elder_of(all, (int32_t)j) == from))
      held += w->liquid;
  }
  return held;
}

void clouding_water_part(clouding_waters *all, double time)
{
  const size_t num = all->history->num_pockets;
  for (size_t k = 0; k < num; k++)
    all->of[k].liquid = all->of[k].surface = 0.0;
  for (size_t k = 0; k < num; k++) {
    all->of[k].live = live_at(all, (int32_t)k, time);
    all->of[all->of[k].live].liquid += all->of[k].own;
    all->of[all->of[k].live].surface += all->of[k].bare;
  }
  for (size_t k = num; k-- > 0;) { /* children first: each takes its part of its parent's, which still holds its elders' */
    clouding_water *w = &all->of[k];
    if (w->parted || w->live != (int32_t)k)
      continue;
    const int32_t from = elder_of(all, (int32_t)k);
    clouding_water *elder = &all->of[from];
    const double held = held_by(all, k, from), taken = held > 0.0 ? w->liquid / held : 0.0;
    w->parted = true;
    w->air = taken * elder->air;
    w->salt = taken * elder->salt;
    elder->air -= w->air;
    elder->salt -= w->salt;
  }
}

static void make_way(double *held, double *gone, double share, double fresh)
{
  const double change = share * (*held - fresh);
  *held -= change;
  *gone += change;
}

void clouding_water_exchange(clouding_waters *all, double share)
{
  for (size_t k = 0; k < all->history->num_pockets; k++) {
    clouding_water *w = &all->of[k];
    if (w->live != (int32_t)k || w->vanished || !(w->liquid > 0.0))
      continue;
    make_way(&w->air, &all->air_books->exchanged, share, all->air * w->liquid);
    make_way(&w->salt, &all->salt_books->exchanged, share, all->salt * w->liquid);
  }
}

bool clouding_water_is_open(const clouding_waters *all, int32_t k, double time, bool aerated)
{
  const pocket *own = &all->history->pockets[k];
  return all->history->open_top && (aerated || isnan(own->closed_at) || time < own->closed_at);
}

void clouding_water_breathe(clouding_waters *all, clouding_water *w, const front_film_setting *film, double seconds)
{
  if (!(w->liquid > 0.0) || (!(w->surface > 1e-12) && !film->aerated))
    return;
  const double uptake = film->kind == MOTION_STIRRED ? UPTAKE_STIRRED : UPTAKE_STILL;
  const double span = film->aerated ? EXCHANGE_AERATED : w->liquid / WATER_DENSITY / (uptake * w->surface);
  const double balance = air_in_water_saturation(all->history->pressure) * w->liquid;
  const double after = balance + (w->air - balance) * exp(-seconds / span);
  all->air_books->through_top += w->air - after;
  w->air = after;
}

void clouding_water_vanish(clouding_waters *all, clouding_water *w)
{
  w->vanished = true;
  all->air_books->in_void += w->air + w->bubble;
  all->salt_books->in_void += w->salt;
  w->air = w->bubble = w->salt = 0.0;
}

void clouding_water_settle(clouding_waters *all, double least)
{
  for (size_t k = 0; k < all->history->num_pockets; k++) {
    clouding_water *w = &all->of[k];
    if (w->liquid > least) {
      all->air_books->in_liquid += w->air + w->bubble;
      all->salt_books->in_liquid += w->salt;
    } else {
      clouding_water_vanish(all, w);
    }
  }
}
