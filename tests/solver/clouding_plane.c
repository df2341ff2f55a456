#include "clouding_plane.h"

#include <check.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

static const double STEP = 2.0, BULK_EVERY = 60.0; /* s */
static const double ICE = 916.7, WATER = 999.8, LATENT = 333550.0, CONDUCTIVITY = 2.22, SPECIFIC_HEAT = 4200.0;
static const double D = 1.0e-9, D_SALT = 0.7e-9, SATURATION = 29.14e-6; /* m2/s, m2/s, m3 STP/kg */
static const double PI = 3.14159265358979323846;

double clouding_plane_still(double bulk)
{
  static const double at[] = {0, 0.5, 1, 2, 4, 6, 8, 10, 15, 20}, h[] = {100, 106, 127, 147, 148, 123, 182, 242, 357, 453};
  int i = 0;
  while (i < 8 && bulk > at[i + 1])
    i++;
  return h[i] + (h[i + 1] - h[i]) * (bulk - at[i]) / (at[i + 1] - at[i]);
}

/* Heat carried over to mass by (Pr / Sc)^(1/3) = 0.196; conductivity of water 0.561 W/(m K). */
double clouding_plane_still_film(double bulk)
{
  return fmin(1.1e-3, 0.196 * 0.561 / clouding_plane_still(bulk));
}

/* Per m2. */
typedef struct {
  const clouding_plane *of;
  clouding_plane_found *found;
  size_t num, passed, most_bulk;
  double whole, ice; /* m of ice in the end, so far */
  double time, bulk; /* s, degC                     */
  double air, salt;  /* m3 STP over SATURATION, kg  */
  double cloud;      /* 1/m, of what grows now      */
  bool renewed;
} front;

static double water_left(const front *f)
{
  return ICE * (f->whole - f->ice);
}

static void note_bulk(front *f)
{
  clouding_plane_found *out = f->found;
  if (f->time < BULK_EVERY * (double)out->num_bulk)
    return;
  if (out->num_bulk == f->most_bulk) {
    f->most_bulk = 2 * f->most_bulk + 1024;
    out->bulk_time = realloc(out->bulk_time, f->most_bulk * sizeof(double));
    out->bulk = realloc(out->bulk, f->most_bulk * sizeof(double));
  }
  out->bulk_time[out->num_bulk] = f->time;
  out->bulk[out->num_bulk++] = f->bulk;
}

/* Heat for one step; returns the speed of the front. */
static double grow(front *f)
{
  const clouding_plane *c = f->of;
  const double to_front = isnan(c->h_water) ? clouding_plane_still(f->bulk) : c->h_water;
  const double out = c->cold / (1.0 / c->h + f->ice / CONDUCTIVITY), given = to_front * f->bulk;
  const double speed = fmax(out - given, 0.0) / (ICE * LATENT);
  const double lost = speed > 0.0 || f->ice > 0.0 ? given : (c->cold + f->bulk) / (1.0 / c->h + 1.0 / to_front);
  note_bulk(f);
  f->bulk = fmax(f->bulk - STEP * lost / (SPECIFIC_HEAT * water_left(f)), 0.0);
  return speed;
}

static void first(double *when, bool holds, const front *f)
{
  if (holds && isnan(*when))
    *when = f->ice / f->whole;
}

/* Per kg that freezes, over SATURATION. */
static double capture(front *f, double speed, double film)
{
  const double w = speed * ICE / WATER, shut = exp(-w * film / D), held = f->air / water_left(f);
  const double chi = fmin(fmax((held / shut - 2.5) / 2.5, 0.0), 1.0);
  const double captured = chi * fmax(0.0, (held - 1.3 * shut) / (1.0 - shut));
  f->cloud = 0.0;
  first(&f->found->onset, chi > 0.0, f);
  if (captured > 0.0) {
    const double gas = captured * SATURATION * ICE, local = gas / chi, spacing = fmin(fmax(3.0 * D / w, 30e-6), 8e-3);
    f->cloud = 1.5 * gas / (spacing * (speed < 5e-6 ? sqrt(4.0 * local / PI) : cbrt(6.0 * local / PI)));
  }
  return captured;
}

static double minerals_kept(front *f, double speed, double film)
{
  const double held = f->salt / water_left(f), rise = exp(speed * ICE / WATER * film * cbrt(D_SALT / D) / D_SALT);
  const bool cells = held * WATER * rise > 1.5;
  first(&f->found->minerals, cells, f);
  return (cells ? 0.3 : 0.03) * held;
}

static void renew(front *f)
{
  if (!(f->of->renewed > 0.0) || f->renewed || f->ice < f->of->renewed * f->whole)
    return;
  f->renewed = true;
  f->air = f->of->air * water_left(f);
  f->salt = f->of->minerals / WATER * water_left(f);
}

static void breathe(front *f)
{
  const double left = water_left(f);
  if (f->of->breathing > 0.0)
    f->air = left + (f->air - left) * exp(-STEP / f->of->breathing);
}

/* What grows in one step. */
static void freeze(front *f, double speed)
{
  const clouding_plane *c = f->of;
  const double grown = speed * STEP, mass = ICE * grown;
  const double film = fmin(isnan(c->film) ? c->film_of(f->bulk) : c->film, 0.5 * water_left(f) / WATER);
  renew(f);
  f->air -= mass * capture(f, speed, film);
  f->salt -= mass * minerals_kept(f, speed, film);
  first(&f->found->above_3, f->cloud > 3.0, f);
  first(&f->found->above_10, f->cloud > 10.0, f);
  first(&f->found->above_30, f->cloud > 30.0, f);
  f->found->clear += f->cloud < 1.0 ? grown / f->whole : 0.0;
  f->found->optical_depth += f->cloud * grown;
  for (; f->passed < f->num && ((double)f->passed + 0.5) * f->whole / (double)f->num <= f->ice + grown; f->passed++) {
    f->found->time[f->passed] = f->time + (((double)f->passed + 0.5) * f->whole / (double)f->num - f->ice) / speed;
    f->found->speed[f->passed] = speed;
  }
  f->ice += grown;
}

void clouding_plane_follow(clouding_plane_found *found, const clouding_plane *c, size_t num)
{
  *found = (clouding_plane_found){.onset = NAN,
                                  .above_3 = NAN,
                                  .above_10 = NAN,
                                  .above_30 = NAN,
                                  .minerals = NAN,
                                  .time = malloc(num * sizeof(double)),
                                  .speed = malloc(num * sizeof(double))};
  ck_assert(found->time && found->speed);
  front f = {.of = c,
             .found = found,
             .num = num,
             .whole = c->depth * WATER / ICE,
             .bulk = c->warm,
             .air = c->air * WATER * c->depth,
             .salt = c->minerals * c->depth};
  while (f.ice < f.whole * (1.0 - 1e-4)) {
    const double speed = grow(&f);
    if (speed > 0.0) {
      freeze(&f, speed);
      breathe(&f);
    }
    f.time += STEP;
  }
  found->hours = f.time / 3600.0;
}

void clouding_plane_release(clouding_plane_found *found)
{
  free(found->time);
  free(found->speed);
  free(found->bulk_time);
  free(found->bulk);
  *found = (clouding_plane_found){.num_bulk = 0};
}
