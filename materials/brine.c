/* Properties of liquid brine and of the ice line. */
#include "materials/brine.h"

#include <math.h>

#include "materials/brine_data.h"
#include "materials/water.h"

static const double coldest = -60.0, hottest = 60.0, hottest_antifreeze = 100.0; /* degC: where the fits are used */

/* Melinder 2010: y = sum C_ij x^i y^j, x = 100 w - w_m, y = t - t_m, in the order (0,0..3) (1,0..3) (2,0..3) (3,0..2) (4,0..1) (5,0). */
static double melinder(const brine_data *d, const double *c, double w, double t)
{
  const double x = 100.0 * w - d->middle_strength, y = t - d->middle_temperature;
  const double row0 = c[0] + y * (c[1] + y * (c[2] + y * c[3])), row1 = c[4] + y * (c[5] + y * (c[6] + y * c[7]));
  const double row2 = c[8] + y * (c[9] + y * (c[10] + y * c[11])), row3 = c[12] + y * (c[13] + y * c[14]);
  return row0 + x * (row1 + x * (row2 + x * (row3 + x * (c[15] + y * c[16] + x * c[17]))));
}

/* ---- the ice line ---- */

static double polynomial5(const double *a, double w)
{
  return w * (a[0] + w * (a[1] + w * (a[2] + w * (a[3] + w * a[4]))));
}

static double melinder_freezing(const brine_data *d, double w)
{
  const double *c = d->freezing, x = 100.0 * w - d->middle_strength;
  return c[0] + x * (c[1] + x * (c[2] + x * (c[3] + x * (c[4] + x * c[5]))));
}

/* degC at strength w, no check of range. Melinder's curve misses 0 degC at w = 0 by up to 0.02 K: below w = 0.02 it is bent
 * to meet it, so that the ice line has an inverse. */
static double ice_line(const brine_data *d, bool pitzer, double w)
{
  if (pitzer)
    return polynomial5(d->liquidus, w);
  if (w >= 0.02)
    return melinder_freezing(d, w);
  const double bend = 1.0 - w / 0.02;
  return melinder_freezing(d, w) - melinder_freezing(d, 0.0) * bend * bend;
}

/* Which curve a source means for a salt: the antifreezes have Melinder's only, KCl has none of his. False when there is none. */
static bool choose(const brine_data *d, brine_liquidus source, bool *pitzer)
{
  *pitzer = d && d->pitzer && (source == LIQUIDUS_TONER_CATLING);
  return d && (*pitzer || d->melinder);
}

double brine_onset(brine_salt salt, brine_liquidus source, double w)
{
  const brine_data *d = brine_data_of(salt);
  bool pitzer;
  if (!choose(d, source, &pitzer) || !(w >= 0.0 && w <= d->eutectic.mass_fraction * (1.0 + 1e-12)))
    return NAN;
  return ice_line(d, pitzer, w);
}

double brine_liquidus_fraction(brine_salt salt, brine_liquidus source, double temperature)
{
  const brine_data *d = brine_data_of(salt);
  bool pitzer;
  if (!choose(d, source, &pitzer) || !(temperature <= 0.0))
    return NAN;
  double low = 0.0, high = d->eutectic.mass_fraction;
  const double end = ice_line(d, pitzer, high);
  if (temperature < end)
    return temperature > end - 1e-9 ? high : NAN;
  /* Secant steps kept inside a bracket that shrinks every time: the curve falls and bends one way only. */
  double at_low = 0.0 - temperature, at_high = end - temperature;
  if (at_low == 0.0 || at_high == 0.0)
    return at_low == 0.0 ? low : high;
  for (int i = 0; i < 100 && high - low > 4e-16; i++) {
    double w = low + (high - low) * at_low / (at_low - at_high);
    if (!(w > low && w < high) || i % 3 == 2)
      w = 0.5 * (low + high);
    /* One Newton correction from the secant point. */
    const double slope = (ice_line(d, pitzer, w + 1e-7) - ice_line(d, pitzer, w - 1e-7)) / 2e-7;
    const double newton = w - (ice_line(d, pitzer, w) - temperature) / slope;
    if (newton > low && newton < high) {
      if (fabs(newton - w) < 1e-11)
        return newton;
      w = newton;
    }
    const double y = ice_line(d, pitzer, w) - temperature;
    if (y == 0.0)
      return w;
    if (y > 0.0) {
      low = w;
      at_low = y;
    } else {
      high = w;
      at_high = y;
    }
  }
  return 0.5 * (low + high);
}

double brine_effective_latent_heat(brine_salt salt, double temperature)
{
  const brine_data *d = brine_data_of(salt);
  if (!d || !(temperature <= 0.0 && temperature >= coldest))
    return NAN;
  if (d->pitzer) {
    const double *b = d->latent;
    return b[0] + temperature * (b[1] + temperature * (b[2] + temperature * (b[3] + temperature * b[4])));
  }
  /* No heat of dilution is known here: pure water's, continued straight below -20 degC (3 % more error per 10 K). */
  const double kink = -20.0;
  if (temperature >= kink)
    return water_supercooled_latent_heat(temperature);
  const double slope = 2128.802002 + kink * (2.0 * -4.184189225 + kink * 3.0 * 0.1210662613);
  return water_supercooled_latent_heat(kink) + slope * (temperature - kink);
}

double brine_ice_fraction(brine_salt salt, brine_liquidus source, double w0, double temperature)
{
  const double onset = brine_onset(salt, source, w0);
  if (isnan(onset) || isnan(temperature))
    return NAN;
  return temperature >= onset ? 0.0 : 1.0 - w0 / brine_liquidus_fraction(salt, source, temperature);
}

/* ---- properties of the liquid ---- */

static const brine_data *in_range(brine_salt salt, double w, double t)
{
  const brine_data *d = brine_data_of(salt);
  const double hot = d && d->chloride ? hottest : hottest_antifreeze;
  return d && w >= 0.0 && w <= d->strongest && t >= coldest && t <= hot ? d : NULL;
}

/* KCl: Laliberte 2009, J. Chem. Eng. Data 54:1725, with water of IAPWS SR6-08; t degC. */
static double kcl_density(double w, double t)
{
  static const double c[] = {-0.855928945959145, 6.04073571306402, 2.81787416217166, 0.0253924645877338, 2681.61723465886};
  const double apparent = (w + c[2] + c[3] * t) / ((c[0] * w + c[1]) * exp(1e-6 * (t + c[4]) * (t + c[4])));
  return 1.0 / ((1.0 - w) / water_density(t) + w * apparent);
}

static double kcl_specific_heat(double w, double t)
{
  static const double a[] = {-1.63952917771592, -0.00779461704655488, 0.328422657249137, -3.76872441235535, 0.34049805034805, -0.147984783420473};
  if (w == 0.0)
    return water_specific_heat(t);
  const double salt = a[0] * exp(a[1] * t + a[2] * exp(0.01 * t) + a[3] * w) + a[4] * pow(w, a[5]); /* kJ/(kg K) */
  return (1.0 - w) * water_specific_heat(t) + w * 1000.0 * salt;
}

static double kcl_viscosity(double w, double t)
{
  static const double v[] = {6.48805967116487, 1.31753131265255, -0.777820552977139, 0.0927156022360008, -1.30020256174307, 2.08120731758225};
  const double water = (t + 246.0) / ((0.05594 * t + 5.2842) * t + 137.37); /* mPa s */
  const double salt = exp((v[0] * pow(w, v[1]) + v[2]) / (v[3] * t + 1.0)) / (v[4] * pow(w, v[5]) + 1.0);
  return 1e-3 * exp((1.0 - w) * log(water) + w * log(salt));
}

/* Increments of Riedel 1951, c in mol/L (from memory, +-3 %). */
static double kcl_conductivity(double w, double t)
{
  const double molar = w * kcl_density(w, t) / 74.5513;
  return (0.598 + (-7.560e-3 - 5.466e-3) * molar) * water_conductivity(t) / 0.598;
}

double brine_density(brine_salt salt, double w, double t)
{
  const brine_data *d = in_range(salt, w, t);
  return !d ? NAN : d->melinder ? melinder(d, d->density, w, t) : kcl_density(w, t);
}

double brine_specific_heat(brine_salt salt, double w, double t)
{
  const brine_data *d = in_range(salt, w, t);
  return !d ? NAN : d->melinder ? melinder(d, d->specific_heat, w, t) : kcl_specific_heat(w, t);
}

double brine_conductivity(brine_salt salt, double w, double t)
{
  const brine_data *d = in_range(salt, w, t);
  return !d ? NAN : d->melinder ? melinder(d, d->conductivity, w, t) : kcl_conductivity(w, t);
}

double brine_viscosity(brine_salt salt, double w, double t)
{
  const brine_data *d = in_range(salt, w, t);
  return !d ? NAN : d->melinder ? 1e-3 * exp(melinder(d, d->log_viscosity, w, t)) : kcl_viscosity(w, t);
}

/* ---- names ---- */

brine_eutectic_point brine_eutectic(brine_salt salt)
{
  const brine_data *d = brine_data_of(salt);
  return d ? d->eutectic : (brine_eutectic_point){NAN, NAN, NAN};
}

const char *brine_name(brine_salt salt)
{
  const brine_data *d = brine_data_of(salt);
  return d ? d->name : "unknown salt";
}

bool brine_is_chloride(brine_salt salt)
{
  const brine_data *d = brine_data_of(salt);
  return d && d->chloride;
}
