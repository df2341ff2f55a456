#include "solver/surface.h"

#include <math.h>

/* Surface temperatures are sought to this, K; the tangent's own error is of second order in it. */
static const double SETTLED = 1e-3;
enum { MOST_ROUNDS = 40 };
static const double MELTING_FILM = 0.005; /* of the way to the node: some hundredths of a millimetre */

static double conductivity(const phase_curve *c, double temperature, int side)
{
  if (!c->three_lines)
    return phase_curve_conductivity_at(c, temperature, side);
  const bool solid = temperature < c->freezing_temperature || (temperature == c->freezing_temperature && side < 0);
  return solid ? c->solid_potential_slope / c->solid_temperature_slope : c->liquid_potential_slope / c->liquid_temperature_slope;
}

/* The temperature at which the tangent of u at `temperature` (conductivity k) crosses zero. */
static double tangent_offset(const phase_curve *c, double temperature, double k)
{
  return c->three_lines ? c->freezing_temperature : temperature - phase_curve_potential_at(c, temperature) / k;
}

/* A film in moist air: convection, which moisture follows, and radiation. Below the dew point the surface takes A (h (T_e - T_s) + q_L(T_s)); with q_L replaced by its tangent, slope -c,
 * that is a film h + c to an effective temperature. Above it nothing is taken up; only a surface that is liquid itself
 * dries. */
static surface_side moist_film(const surface_end *end, double surface)
{
  const double film = 1.0 / end->reach;
  moist_air_room air = *end->moist;
  air.convection = moist_air_convective_part(film / end->area, end->temperature, surface);
  const double flux = moist_air_latent_flux(&air, surface);
  surface_side side = {.offset = end->temperature, .resistance = end->reach, .surface = surface};
  if (!(flux > 0.0 || end->wet) || !(air.convection > 0.0))
    return side;
  const double latent = end->area * moist_air_latent_coefficient(&air, surface);
  const double at_zero = end->area * flux + latent * surface; /* q_L = at_zero - latent T_s, W */
  side.offset = (film * end->temperature + at_zero) / (film + latent);
  side.resistance = 1.0 / (film + latent);
  side.moisture = at_zero - latent * side.offset; /* T_s = offset - Q resistance */
  side.moisture_share = latent * side.resistance;
  return side;
}

/* side < 0: heat leaves the end through its surface, so the surface is the colder; it decides the branch at a kink. */
static surface_side tangent(const surface_end *end, double surface, bool moving, int side)
{
  if (end->melts && moving)
    return (surface_side){.offset = end->curve->freezing_temperature, .resistance = end->reach * MELTING_FILM / conductivity(end->curve, surface, 1),
                          .surface = surface};
  if (end->kind == SURFACE_END_ENVIRONMENT && end->moist)
    return moist_film(end, surface);
  if (end->kind == SURFACE_END_ENVIRONMENT)
    return (surface_side){.offset = end->temperature, .resistance = end->reach, .surface = surface};
  const bool stirred = end->kind == SURFACE_END_STIRRED;
  const double at = stirred ? end->temperature : surface;
  const double k = conductivity(end->curve, at, side);
  const double offset = tangent_offset(end->curve, at, k);
  const double resistance = stirred ? end->reach : end->reach / (moving ? k * end->factor : k);
  return (surface_side){.slope = 1.0 / k, .offset = offset, .resistance = resistance, .surface = surface};
}

static double offered(const surface_end *end, const surface_side *side)
{
  return side->slope * end->potential + side->offset;
}

static bool same_branch(const surface_end *end, double a, double b, int side_a, int side_b)
{
  if (end->moist)
    return fabs(a - b) <= SETTLED;
  if (end->kind != SURFACE_END_NODE)
    return true;
  if (!end->curve->three_lines)
    return fabs(a - b) <= SETTLED && (a != b || side_a == side_b);
  return conductivity(end->curve, a, side_a) == conductivity(end->curve, b, side_b);
}

static void settle(const surface_end end[2], double resistance, const bool moving[2], surface_side side[2])
{
  double surface[2] = {end[0].temperature, end[1].temperature};
  int leaning = surface[0] >= surface[1] ? -1 : 1; /* of side 0; side 1 leans the other way */
  for (int round = 0; round < MOST_ROUNDS; round++) {
    side[0] = tangent(&end[0], surface[0], moving[0], leaning);
    side[1] = tangent(&end[1], surface[1], moving[1], -leaning);
    const double tau0 = offered(&end[0], &side[0]), tau1 = offered(&end[1], &side[1]);
    const double q = (tau0 - tau1) / (side[0].resistance + resistance + side[1].resistance);
    side[0].surface = tau0 - q * side[0].resistance;
    side[1].surface = tau1 + q * side[1].resistance;
    const int new_leaning = q > 0.0 ? -1 : q < 0.0 ? 1 : leaning;
    if (same_branch(&end[0], surface[0], side[0].surface, leaning, new_leaning) &&
        same_branch(&end[1], surface[1], side[1].surface, -leaning, -new_leaning))
      return;
    /* A table of many bins could make Newton's method hop to and fro: after some rounds go half way. */
    const double share = round < MOST_ROUNDS / 4 ? 1.0 : 0.5;
    surface[0] += share * (side[0].surface - surface[0]);
    surface[1] += share * (side[1].surface - surface[1]);
    leaning = new_leaning;
  }
}

static bool liquid_at(const surface_end *end, double surface)
{
  return surface > end->curve->freezing_temperature;
}

/* What stands behind an end that gives `heat`, W, whatever the other's tangent is. */
static void settle_behind(const surface_end *end, double heat, bool moving, surface_side *side)
{
  const int leaning = heat > 0.0 ? 1 : -1;
  for (int round = 0; round < MOST_ROUNDS; round++) {
    const double before = side->surface;
    side->surface = offered(end, side) + heat * side->resistance;
    if (same_branch(end, before, side->surface, leaning, leaning))
      return;
    *side = tangent(end, side->surface, moving, leaning);
  }
}

/* side: both at rest. Where liquid that moves would give more to ice at the freezing point, ice lies on the surface of `s` as thick as lets just that through. */
static void lay_ice(const surface_end end[2], int s, double resistance, bool other_moving, surface_side side[2])
{
  const surface_end *own = &end[s];
  surface_side *other = &side[1 - s];
  const double at_rest = (offered(own, &side[s]) - offered(&end[1 - s], other)) / (side[s].resistance + resistance + other->resistance);
  const double conductance = own->factor / own->reach, freezing = phase_curve_potential_at(own->curve, own->curve->freezing_temperature);
  const double heat = conductance * (own->potential - freezing);
  if (!(heat > at_rest))
    return;
  settle_behind(&end[1 - s], heat, other_moving, other);
  const double all = side[s].resistance + resistance + other->resistance;
  side[s].slope = conductance * all;
  side[s].offset = offered(&end[1 - s], other) - side[s].slope * freezing;
  side[s].surface = other->surface + heat * resistance;
}

/* Motion reaches the surface only while liquid stands there, or the ice on it. */
void surface_balance(const surface_end end[2], double resistance, surface_side side[2])
{
  bool moving[2];
  for (int s = 0; s < 2; s++)
    moving[s] = end[s].kind == SURFACE_END_NODE && end[s].factor > 1.0;
  settle(end, resistance, moving, side);
  for (int s = 0; s < 2; s++)
    if ((moving[s] && !liquid_at(&end[s], side[s].surface)) || (end[s].melts && liquid_at(&end[s], side[s].surface))) {
      moving[s] = end[s].melts;
      settle(end, resistance, moving, side);
      if (end[s].lays_ice)
        lay_ice(end, s, resistance, moving[1 - s], side);
    }
}
