#include "materials/brine_heat.h"

#include <math.h>

#include "materials/brine_data.h"
#include "materials/water.h"

static const double bin = 2e5;        /* J/m3, widest                                     */
static const double warmest = 60.0;   /* degC, end of the curve; continued beyond         */
static const double beyond = 30.0;    /* K below the eutectic, end of the curve           */
enum { SOLID = 60, LIQUID = 300 };    /* pieces of the path per branch                    */
enum { LEVER_CLOSED = 4000, LEVER_HELD = 800 }; /* a closed curve is made once, a mixed one whenever w changes */

/* Gauss-Legendre, 8 points on -1..1 (Abramowitz & Stegun 1964, Table 25.4). */
static const double gauss_x[4] = {0.1834346424956498, 0.5255324099163290, 0.7966664774136267, 0.9602898564975363};
static const double gauss_w[4] = {0.3626837833783620, 0.3137066458778873, 0.2223810344533745, 0.1012285362903763};

/* Integral of ice's specific heat from 0 degC. */
static double ice_enthalpy(double t)
{
  return t * (2096.761336 + t * (7.393938971 / 2.0 + t * (2.225727528e-3 / 3.0)));
}

/* Specific heat of the liquid; the fits end at 40 degC for salts, beyond they are continued. */
static double liquid_specific_heat(const brine_heat *b, double w, double t)
{
  return brine_specific_heat(b->salt, w, t);
}

static double strength_on_line(const brine_heat *b, double t)
{
  return t <= b->eutectic_temperature ? b->eutectic_strength : brine_liquidus_fraction(b->salt, b->source, t);
}

static double latent(const brine_heat *b, double t)
{
  return brine_effective_latent_heat(b->salt, t);
}

/* ds/dy with y = ln(-t), w being the strength on the line: the integrand ds/dt goes like 1/t towards 0 degC. */
static double salt_slope(const brine_heat *b, double t, double w)
{
  const double rise = (latent(b, t + 5e-4 * t) - latent(b, t - 5e-4 * t)) / (1e-3 * t);
  return t * (liquid_specific_heat(b, w, t) - water_ice_specific_heat(t) - rise) / w;
}

static double salt_slope_at(const brine_heat *b, double y)
{
  const double t = -exp(y);
  return salt_slope(b, t, strength_on_line(b, t));
}

static double gauss_salt(const brine_heat *b, double y0, double y1)
{
  const double middle = 0.5 * (y0 + y1), half = 0.5 * (y1 - y0);
  double sum = 0.0;
  for (int i = 0; i < 4; i++)
    sum += gauss_w[i] * (salt_slope_at(b, middle + half * gauss_x[i]) + salt_slope_at(b, middle - half * gauss_x[i]));
  return sum * half;
}

/* s at a temperature on the ice line: from the reference, in panels of at most a quarter in ln(-t). */
static double salt_enthalpy(const brine_heat *b, double t)
{
  const double y0 = log(-b->reference_temperature), y1 = log(-t);
  const int panels = 1 + (int)(fabs(y1 - y0) / 0.25);
  double sum = 0.0;
  for (int i = 0; i < panels; i++)
    sum += gauss_salt(b, y0 + (y1 - y0) * i / panels, y0 + (y1 - y0) * (i + 1) / panels);
  return sum;
}

/* Integral of the liquid's specific heat at strength w (smooth: one panel of 8 points per 25 K is exact to rounding). */
static double sensible(const brine_heat *b, double w, double from, double to)
{
  const int panels = 1 + (int)(fabs(to - from) / 25.0);
  double sum = 0.0;
  for (int p = 0; p < panels; p++) {
    const double low = from + (to - from) * p / panels, high = from + (to - from) * (p + 1) / panels;
    const double middle = 0.5 * (low + high), half = 0.5 * (high - low);
    for (int i = 0; i < 4; i++)
      sum += half * gauss_w[i] * (liquid_specific_heat(b, w, middle + half * gauss_x[i]) + liquid_specific_heat(b, w, middle - half * gauss_x[i]));
  }
  return sum;
}

/* J/kg of a kilogram on the ice line with salt share S, of which f is liquid, given s there. */
static double on_line(const brine_heat *b, double t, double salt, double f, double s)
{
  return b->offset + ice_enthalpy(t) + f * latent(b, t) + salt * s;
}

status brine_heat_init(brine_heat *out, brine_salt salt, brine_liquidus source, mush_law mush, double density, double reference,
                       message *msg)
{
  *out = (brine_heat){.salt = salt, .source = source, .mush = mush, .density = density};
  const brine_eutectic_point e = brine_eutectic(salt);
  const char *name = brine_name(salt);
  out->eutectic_strength = e.mass_fraction;
  out->eutectic_temperature = brine_onset(salt, source, e.mass_fraction);
  if (isnan(e.mass_fraction))
    return message_set(msg, STATUS_BAD_INPUT, "unknown salt (number %d)", (int)salt);
  if (isnan(out->eutectic_temperature))
    return message_set(msg, STATUS_BAD_INPUT, "%s: the chosen source has no ice line of this salt; choose Toner & Catling", name);
  if (!(isfinite(density) && density > 0.0))
    return message_set(msg, STATUS_BAD_INPUT, "%s brine: density = %g kg/m3; it must be finite and above 0", name, density);
  if (!(reference >= 1e-3))
    return message_set(msg, STATUS_BAD_INPUT, "%s brine of strength %g %%; it must be at least 0.1 %%; weaker is water", name, 100.0 * reference);
  if (reference > e.mass_fraction) {
    if (e.latent_heat > 0.0)
      return message_set(msg, STATUS_BAD_INPUT,
                         "%s brine of strength %.4g %% lies above the eutectic (%.4g %%, %.4g degC): salt, not ice, falls out first; add water",
                         name, 100.0 * reference, 100.0 * e.mass_fraction, e.temperature);
    return message_set(msg, STATUS_BAD_INPUT, "%s of strength %.4g %% lies beyond the known ice line (to %.4g %%, %.4g degC); add water", name,
                       100.0 * reference, 100.0 * e.mass_fraction, e.temperature);
  }
  out->reference_temperature = brine_onset(salt, source, reference);
  out->offset = -(ice_enthalpy(out->reference_temperature) + latent(out, out->reference_temperature)
                  + sensible(out, reference, out->reference_temperature, 0.0));
  return STATUS_OK;
}

double brine_heat_at_onset(const brine_heat *b, double w, double held)
{
  const double t = brine_onset(b->salt, b->source, w);
  const double salt = held * w;
  return b->density * on_line(b, t, salt, salt / strength_on_line(b, t), salt_enthalpy(b, t));
}

/* ---- conductivity of a mush ---- */

/* Volume share of ice from its mass share. */
static double ice_volume_share(double ice, double ice_density, double liquid_density)
{
  const double solid = ice / ice_density, liquid = (1.0 - ice) / liquid_density;
  return solid / (solid + liquid);
}

/* Maxwell: a continuous phase with share `phi` of the other dispersed in it; or both side by side. */
static double blend(mush_law law, double continuous, double dispersed, double phi)
{
  if (law == MUSH_PARALLEL)
    return (1.0 - phi) * continuous + phi * dispersed;
  return continuous * (2.0 * continuous + dispersed - 2.0 * phi * (continuous - dispersed))
         / (2.0 * continuous + dispersed + phi * (continuous - dispersed));
}

/* Ice and brine of strength w on the ice line; below it only where there is no second solid (antifreezes keep their last liquid). */
static double mush_conductivity(const brine_heat *b, double t, double w, double salt)
{
  const double ice = 1.0 - salt / w, fit = fmax(t, -60.0);
  const double phi = ice_volume_share(ice, water_ice_density(t), brine_density(b->salt, w, fit));
  return blend(b->mush, brine_conductivity(b->salt, w, fit), water_ice_conductivity(ICE_ANDERSSON_INABA, t), phi);
}

/* Below the eutectic: ice with the second solid dispersed in it; its density taken as 1.7 times water's (from memory, rough). */
static double solid_conductivity(const brine_heat *b, const brine_data *d, double t, double salt)
{
  if (d->hydrate_salt == 0.0)
    return mush_conductivity(b, t, strength_on_line(b, t), salt);
  const double phi = 1.0 - ice_volume_share(1.0 - salt / d->hydrate_salt, water_ice_density(t), 1700.0);
  return blend(b->mush, water_ice_conductivity(ICE_ANDERSSON_INABA, t), d->hydrate_conductivity, phi);
}

static double solid_specific_heat(const brine_heat *b, const brine_data *d, double t, double salt)
{
  if (d->hydrate_salt == 0.0) {
    const double f = salt / b->eutectic_strength;
    return (1.0 - f) * water_ice_specific_heat(t) + f * brine_specific_heat(b->salt, b->eutectic_strength, fmax(t, -60.0));
  }
  const double hydrate = salt / d->hydrate_salt;
  return (1.0 - hydrate) * water_ice_specific_heat(t) + hydrate * d->hydrate_specific_heat;
}

/* ---- the path: solid, eutectic, lever rule, layer of ice (held < 1), liquid, from cold to warm ---- */

/* Row numbers at which the branches begin. */
typedef struct { size_t eutectic, lever, onset, liquid, num; } branches;

static branches lay_out(const brine_heat *b, const brine_data *d, double onset, double held)
{
  branches r = {.eutectic = SOLID};
  r.lever = r.eutectic + (d->eutectic.latent_heat > 0.0 ? 1 : 0);
  r.onset = r.lever + (onset > b->eutectic_temperature + 1e-6 ? (held < 1.0 ? LEVER_HELD : LEVER_CLOSED) : 0);
  r.liquid = r.onset + (held < 1.0 ? 1 : 0);
  r.num = r.liquid + LIQUID + 1;
  return r;
}

static void walk_liquid(phase_path *p, const brine_heat *b, branches r, double w)
{
  const double onset = p->temperature[r.liquid], step = (warmest - onset) / LIQUID;
  for (size_t i = r.liquid; i < r.num - 1; i++) {
    const double t = onset + step * (double)(i - r.liquid);
    const double k = (brine_conductivity(b->salt, w, t) + 4.0 * brine_conductivity(b->salt, w, t + 0.5 * step)
                      + brine_conductivity(b->salt, w, fmin(t + step, warmest))) / 6.0;
    const double c = (brine_specific_heat(b->salt, w, t) + 4.0 * brine_specific_heat(b->salt, w, t + 0.5 * step)
                      + brine_specific_heat(b->salt, w, fmin(t + step, warmest))) / 6.0;
    p->temperature[i + 1] = i + 2 == r.num ? warmest : t + step;
    p->enthalpy[i + 1] = p->enthalpy[i] + b->density * c * step;
    p->potential[i + 1] = p->potential[i] + k * step;
    p->liquid_fraction[i + 1] = 1.0;
  }
}

/* From the onset down to the eutectic in equal steps of ln(-t). Returns latent heat released on the way, J/kg. */
static double walk_lever(phase_path *p, const brine_heat *b, branches r, double salt)
{
  if (r.onset == r.lever)
    return 0.0;
  const double first = log(-p->temperature[r.onset]), step = (log(-b->eutectic_temperature) - first) / (double)(r.onset - r.lever);
  double s = salt_enthalpy(b, p->temperature[r.onset]), released = 0.0;
  double y = first, t = p->temperature[r.onset], k = mush_conductivity(b, t, strength_on_line(b, t), salt), slope = salt_slope_at(b, first);
  for (size_t i = r.onset; i > r.lever; i--) { /* the strength, which is searched for, once at every place */
    const bool last = i - 1 == r.lever;
    const double next_y = first + step * (double)(r.onset - i + 1), next = last ? b->eutectic_temperature : -exp(next_y), middle = 0.5 * (t + next);
    const double next_w = strength_on_line(b, next), next_slope = last ? salt_slope_at(b, next_y) : salt_slope(b, next, next_w);
    const double next_k = mush_conductivity(b, next, next_w, salt), middle_k = mush_conductivity(b, middle, strength_on_line(b, middle), salt);
    /* Three points by Simpson in y: steps of a few thousandths. */
    s += (next_y - y) / 6.0 * (slope + 4.0 * salt_slope_at(b, 0.5 * (y + next_y)) + next_slope);
    p->temperature[i - 1] = next;
    p->liquid_fraction[i - 1] = salt / next_w;
    p->enthalpy[i - 1] = b->density * on_line(b, next, salt, p->liquid_fraction[i - 1], s);
    p->potential[i - 1] = p->potential[i] + (next - t) * (k + 4.0 * middle_k + next_k) / 6.0;
    released += (p->liquid_fraction[i] - p->liquid_fraction[i - 1]) * latent(b, 0.5 * (t + next));
    t = next;
    y = next_y;
    k = next_k;
    slope = next_slope;
  }
  return released;
}

static void walk_solid(phase_path *p, const brine_heat *b, const brine_data *d, branches r, double salt)
{
  const double step = beyond / SOLID;
  for (size_t i = r.eutectic; i > 0; i--) {
    const double t = p->temperature[i], low = t - step, middle = t - 0.5 * step;
    const double c = (solid_specific_heat(b, d, t, salt) + 4.0 * solid_specific_heat(b, d, middle, salt) + solid_specific_heat(b, d, low, salt)) / 6.0;
    const double k = (solid_conductivity(b, d, t, salt) + 4.0 * solid_conductivity(b, d, middle, salt) + solid_conductivity(b, d, low, salt)) / 6.0;
    p->temperature[i - 1] = low;
    p->enthalpy[i - 1] = p->enthalpy[i] - b->density * c * step;
    p->potential[i - 1] = p->potential[i] - k * step;
    p->liquid_fraction[i - 1] = p->liquid_fraction[i];
  }
}

/* Bins: the layer of ice (mixed) or the lever range (closed) is a whole number of bins, so that its ends lie on edges. */
static double bin_width(double range)
{
  return range > 10.0 * bin ? range / ceil(range / bin) : bin;
}

status brine_heat_curve(phase_curve *out, const brine_heat *b, double w, double held, double *latent_out, message *msg)
{
  const brine_data *d = brine_data_of(b->salt);
  const double onset = brine_onset(b->salt, b->source, w), salt = held * w;
  const branches r = lay_out(b, d, onset, held);
  phase_path p;
  status s = phase_curve_path_create(&p, r.num, msg);
  if (s != STATUS_OK)
    return s;
  p.temperature[r.liquid] = p.temperature[r.onset] = onset;
  p.potential[r.liquid] = p.potential[r.onset] = 0.0;
  p.enthalpy[r.liquid] = brine_heat_at_onset(b, w, 1.0);
  p.liquid_fraction[r.liquid] = 1.0;
  if (held < 1.0) {
    p.enthalpy[r.onset] = brine_heat_at_onset(b, w, held);
    p.liquid_fraction[r.onset] = held;
  }
  walk_liquid(&p, b, r, w);
  double released = (1.0 - held) * latent(b, onset) + walk_lever(&p, b, r, salt);
  if (r.eutectic != r.lever) {
    const double remainder = p.liquid_fraction[r.lever];
    p.temperature[r.eutectic] = p.temperature[r.lever];
    p.potential[r.eutectic] = p.potential[r.lever];
    p.enthalpy[r.eutectic] = p.enthalpy[r.lever] - b->density * remainder * d->eutectic.latent_heat;
    p.liquid_fraction[r.eutectic] = 0.0;
    released += remainder * d->eutectic.latent_heat;
  }
  walk_solid(&p, b, d, r, salt);
  const double range = p.enthalpy[r.liquid] - p.enthalpy[held < 1.0 ? r.onset : r.lever];
  s = phase_curve_through(out, &p, p.enthalpy[r.liquid], bin_width(range), msg);
  phase_curve_path_release(&p);
  if (latent_out)
    *latent_out = b->density * released;
  return s;
}
