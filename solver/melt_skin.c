#include "solver/melt_parts.h"

#include <math.h>
#include <string.h>

static const double WATER_DENSITY = 999.84;    /* kg/m3 at 0 degC, IAPWS SR6-08(2011) */
static const double CELL_SHARE = 0.25;         /* of a cell that the surface may pass in a step */
static const double SKIN_SHARE = 0.25;         /* of its own time constant that a cold surface cell may pass in a step */
static const double ICE_HEAT_CAPACITY = 1.9e6; /* J/(m3 K): only a scale of that time constant */

/* ---- the surface ---- */

typedef struct {       /* a cell with bare surface */
  size_t cell;
  double area, upward; /* m2; upward component of the unit normal */
} facet;

static facet facet_of(const melt *x, size_t cell)
{
  double normal[3];
  ice_surface_normal(&x->surface, cell, normal);
  return (facet){cell, x->scalar[FACTOR] * x->surface.area[cell], normal[2]};
}

static bool has_facet(const melt *x, size_t cell) { return x->surface.area[cell] > 0.0 && x->surface.bare[cell]; }

static double layer_volume(const melt *x, size_t k)
{
  const size_t layer = x->grid->num[0] * x->grid->num[1];
  return melt_inside_sum(x->volume + k * layer, layer);
}

/* A piece that floats: as much of it under water as weighs what it weighs. */
static double floating_line(const melt *x)
{
  const grid *g = x->grid;
  double left = x->ice->density * melt_inside_sum(x->volume, x->num_cells) / WATER_DENSITY;
  for (size_t k = 0; k < g->num[2]; k++) {
    const double v = layer_volume(x, k);
    if (v >= left && v > 0.0)
      return g->edges[2][k] + left / v * (g->edges[2][k + 1] - g->edges[2][k]);
    left -= v;
  }
  return g->edges[2][g->num[2]];
}

static melt_size size_of(const melt *x, double *bottom)
{
  const grid *g = x->grid;
  size_t low = g->num[2], high = 0;
  double volume = 0.0;
  for (size_t k = 0; k < g->num[2]; k++) {
    const double v = layer_volume(x, k);
    volume += v;
    if (v > 0.0) {
      low = k < low ? k : low;
      high = k + 1;
    }
  }
  *bottom = low < high ? g->edges[2][low] : 0.0;
  melt_size s = {.height = low < high ? g->edges[2][high] - g->edges[2][low] : 0.0};
  s.width = s.height > 0.0 ? sqrt(x->images * volume / s.height * 4.0 / 3.141592653589793) : 0.0; /* of a round piece of that section */
  return s;
}

melt_skin_films melt_skin_now(melt *x)
{
  double bottom;
  melt_size size = size_of(x, &bottom);
  const double melting = x->ice->curve.freezing_temperature;
  melt_skin_films f = {.waterline = -INFINITY};
  if (x->pool.present) {
    f.waterline = x->pool.floating ? floating_line(x) : x->pool.level;
    size.wetted_height = fmin(size.height, fmax(0.0, f.waterline - bottom));
    x->pool.temperature = x->scalar[POOL_TEMPERATURE];
    f.water_film = melt_around_water_film(&x->pool, &size, melting);
    x->scalar[WATERLINE] = f.waterline;
  }
  f.air_film[0] = melt_around_air_film(&x->air, &size, melting, 1.0);
  f.air_film[1] = melt_around_air_film(&x->air, &size, melting, 0.0);
  return f;
}

static double under_water(const grid *g, size_t cell, double waterline)
{
  size_t at[3];
  grid_cell_indices(g, cell, at);
  const double low = g->edges[2][at[2]], high = g->edges[2][at[2] + 1];
  return waterline <= low ? 0.0 : waterline >= high ? 1.0 : (waterline - low) / (high - low);
}

/* Share of a facet that heat can reach. A covered underside takes none; where no ice lies in the cell above, the facet is of a sheet thinner than a
 * cell, upper and lower face in one, of which the upper is bare. */
static double bare_share(const melt *x, const facet *at)
{
  if (!x->underside_covered || at->upward >= -0.7)
    return 1.0;
  size_t place[3];
  grid_cell_indices(x->grid, at->cell, place);
  const bool under_ice = place[2] + 1 < x->grid->num[2] && x->surface.share[grid_cell(x->grid, place[0], place[1], place[2] + 1)] > 0.0;
  return under_ice ? 0.0 : 0.5;
}

/* Heat from the air to a facet at a surface temperature, W/m2. */
static melt_flux from_air(const melt *x, const melt_skin_films *f, const facet *at, double surface)
{
  return melt_around_air(&x->air, f->air_film[at->upward > 0.7 ? 0 : 1], surface);
}

/* Heat from air and water to a facet of which both have their part, W/m2. */
static double from_both(const melt *x, const melt_skin_films *f, const facet *at, double surface)
{
  const double wet = under_water(x->grid, at->cell, f->waterline);
  const melt_flux air = from_air(x, f, at, surface), water = melt_around_water(&x->pool, f->water_film, surface);
  return bare_share(x, at) * ((wet < 1.0 ? (1.0 - wet) * melt_around_total(&air) : 0.0) + (wet > 0.0 ? wet * melt_around_total(&water) : 0.0));
}

/* W/(m2 K) from the middle of the ice in a cell to its surface. */
static double skin_conductance(const melt *x, const facet *f)
{
  const double k = phase_curve_conductivity_at(&x->ice->curve, x->temperature[f->cell], -1);
  const double depth = 0.5 * fmax(x->volume[f->cell], 0.25 * x->surface.cell_volume[f->cell]) / f->area; /* half the ice behind it */
  return k / depth;
}

/* Temperature of the surface in air: where the heat that arrives equals the heat that the ice behind takes; at most the melting point. */
static double surface_temperature(const melt *x, const melt_skin_films *f, const facet *at, double inward)
{
  const double melting = x->ice->curve.freezing_temperature, inside = x->temperature[at->cell];
  double low = fmin(inside, melting) - 40.0, high = melting;
  melt_flux q = from_air(x, f, at, melting);
  if (melt_around_total(&q) >= inward * (melting - inside))
    return melting;
  for (int i = 0; i < 50; i++) {
    const double middle = 0.5 * (low + high);
    q = from_air(x, f, at, middle);
    if (melt_around_total(&q) > inward * (middle - inside))
      low = middle;
    else
      high = middle;
  }
  return 0.5 * (low + high);
}

static double thinnest(const grid *g, size_t cell)
{
  double thin = INFINITY;
  for (int axis = 0; axis < 3; axis++)
    if (g->num[axis] > 1)
      thin = fmin(thin, melt_inside_extent(g, cell, axis));
  return thin;
}

/* How deep the middle of the piece lies, m, at least a fortieth of a cell: towards its end a piece is met by ever shorter steps. */
static double deepest(const melt *x)
{
  double depth = 0.0, thin = INFINITY;
  for (size_t i = 0; i < x->num_cells; i++)
    if (x->surface.share[i] > 0.0) {
      thin = fmin(thin, thinnest(x->grid, i));
      depth = fmax(depth, 0.5 * thin - x->surface.distance[i]);
    }
  return fmax(depth, 0.025 * thin / CELL_SHARE);
}

/* The surface passes a quarter of a cell (or of what is left) at most; a cold surface cell a quarter of its own time constant. */
double melt_skin_step(melt *x, const melt_skin_films *f, bool cold, double most)
{
  const double melting = x->ice->curve.freezing_temperature;
  const double depth = deepest(x);
  double step = most;
  for (size_t i = 0; i < x->num_cells; i++) {
    if (!has_facet(x, i))
      continue;
    const facet at = facet_of(x, i);
    const double q = from_both(x, f, &at, melting), film = from_both(x, f, &at, melting - 1.0) - q, thin = thinnest(x->grid, i);
    if (q > 0.0)
      step = fmin(step, CELL_SHARE * fmin(thin, depth) * x->ice->latent_heat / q);
    if (cold && film > 0.0)
      step = fmin(step, SKIN_SHARE * thin * ICE_HEAT_CAPACITY / film);
  }
  return cold ? fmin(step, melt_inside_longest(x)) : step;
}

/* Ice that was warmed beyond melting in the step before: all of the surface recedes by what that heat melts. */
static void spread_surplus(melt *x, double step, double *surplus)
{
  *surplus = 0.0;
  for (size_t i = 0; i < x->num_cells; i++)
    if (x->heat[i] > 0.0) {
      *surplus += x->heat[i];
      x->heat[i] = 0.0;
    }
  const double more = x->scalar[AREA] > 0.0 ? *surplus / (x->scalar[AREA] * step * x->ice->latent_heat) : 0.0;
  for (size_t i = 0; more > 0.0 && i < x->num_cells; i++)
    if (has_facet(x, i))
      x->speed[i] += more;
}

/* What the surface takes, W/m2: by what it came from; of it into the ice behind; and what melts. */
typedef struct {
  melt_flux from;
  double into, melting;
} facet_heat;

static facet_heat heat_in_air(const melt *x, const melt_skin_films *f, const facet *at, double inward)
{
  const double melting = x->ice->curve.freezing_temperature, surface = surface_temperature(x, f, at, inward);
  facet_heat h = {.from = from_air(x, f, at, surface)};
  const double all = melt_around_total(&h.from);
  h.into = surface < melting ? all : fmin(fmax(inward * (surface - x->temperature[at->cell]), 0.0), fmax(all, 0.0));
  h.melting = fmax(0.0, all - h.into);
  return h;
}

/* Water freezes on ice that takes more than the film brings. What the ice takes over the step falls off as it warms. */
static facet_heat heat_in_water(const melt *x, const melt_skin_films *f, const facet *at, double inward, double step)
{
  const double melting = x->ice->curve.freezing_temperature, inside = x->temperature[at->cell], film = f->water_film;
  const double across = x->pool.temperature < melting ? film * inward / (film + inward) : inward; /* a pool that is ice to the bottom */
  const double times = across * at->area * step / (ICE_HEAT_CAPACITY * x->lumped[melt_inside_owner(x, at->cell)]);
  const double into = across * (fmin(melting, x->pool.temperature) - inside) * (times > 1e-6 ? -expm1(-times) / times : 1.0);
  const double brought = film * fmax(x->pool.temperature - melting, 0.0);
  return (facet_heat){.from.water = fmax(brought, into), .into = into, .melting = fmax(0.0, brought - into)};
}

static void take_heat(melt *x, const facet *at, const facet_heat *h, double share, double step, melt_flux *sums)
{
  const double area = share * at->area;
  x->source[melt_inside_owner(x, at->cell)] += h->into * area * step;
  x->speed[at->cell] += share * h->melting / x->ice->latent_heat;
  sums->dry += h->from.dry * area * step;
  sums->moisture += h->from.moisture * area * step;
  sums->water += h->from.water * area * step;
}

void melt_skin_heat(melt *x, const melt_skin_films *f, double step, melt_flux *sums, double *surplus)
{
  memset(x->source, 0, x->num_cells * sizeof *x->source);
  memset(x->speed, 0, x->num_cells * sizeof *x->speed);
  *sums = (melt_flux){0};
  x->scalar[AREA] = 0.0;
  for (size_t i = 0; i < x->num_cells; i++) {
    if (!has_facet(x, i))
      continue;
    const facet at = facet_of(x, i);
    const double inward = skin_conductance(x, &at), bare = bare_share(x, &at), wet = under_water(x->grid, i, f->waterline);
    x->scalar[AREA] += at.area;
    if (wet < 1.0) {
      const facet_heat h = heat_in_air(x, f, &at, inward);
      take_heat(x, &at, &h, bare * (1.0 - wet), step, sums);
    }
    if (wet > 0.0) {
      const facet_heat h = heat_in_water(x, f, &at, inward, step);
      take_heat(x, &at, &h, bare * wet, step, sums);
    }
  }
  spread_surplus(x, step, surplus);
}
