/* User tables against temperature. Within a row interval c, k and liquid_fraction are linear in T, so H and u are parabolas, sampled
 * finely; the end rows are continued with constant c, k and liquid_fraction. */
#include <math.h>

#include "materials/material.h"

static const double finest = 1e5;       /* J/m3 between rows of the path                 */
static const double bin = 2e5;          /* J/m3, widest bin                              */
static const double continued = 20.0;   /* K beyond either end row                       */
enum { MOST_BINS = 20000, MOST_PIECES = 2000 };

static status check(const char *name, const material_table *t, message *msg)
{
  if (t->num_rows < 1)
    return message_set(msg, STATUS_BAD_INPUT, "%s: the table has no rows; give at least one", name);
  if (!(isfinite(t->density) && t->density > 0.0))
    return message_set(msg, STATUS_BAD_INPUT, "%s: density = %g kg/m3; it must be finite and above 0", name, t->density);
  if (!(isfinite(t->latent_heat) && t->latent_heat >= 0.0))
    return message_set(msg, STATUS_BAD_INPUT, "%s: latent heat = %g J/m3; it must be finite and not below 0", name, t->latent_heat);
  for (size_t i = 0; i < t->num_rows; i++) {
    const double k = t->conductivity[i], c = t->volumetric_heat_capacity[i], f = t->liquid_fraction ? t->liquid_fraction[i] : 0.0;
    if (!isfinite(t->temperature[i]))
      return message_set(msg, STATUS_BAD_INPUT, "%s: row %zu: temperature is not a finite number", name, i + 1);
    if (!(isfinite(k) && k > 0.0))
      return message_set(msg, STATUS_BAD_INPUT, "%s: row %zu: conductivity = %g W/(m K); it must be finite and above 0", name, i + 1, k);
    if (!(isfinite(c) && c > 0.0))
      return message_set(msg, STATUS_BAD_INPUT, "%s: row %zu: heat capacity = %g J/(m3 K); it must be finite and above 0", name, i + 1, c);
    if (!(f >= 0.0 && f <= 1.0))
      return message_set(msg, STATUS_BAD_INPUT, "%s: row %zu: liquid fraction = %g; it must lie in 0 .. 1", name, i + 1, f);
    if (i == 0)
      continue;
    if (t->temperature[i] < t->temperature[i - 1])
      return message_set(msg, STATUS_BAD_INPUT, "%s: row %zu: temperature %g degC is below that of the row before (%g); sort the rows",
                         name, i + 1, t->temperature[i], t->temperature[i - 1]);
    if (t->liquid_fraction && f < t->liquid_fraction[i - 1])
      return message_set(msg, STATUS_BAD_INPUT, "%s: row %zu: liquid fraction falls from %g to %g as it gets warmer", name, i + 1,
                         t->liquid_fraction[i - 1], f);
    if (i >= 2 && t->temperature[i] == t->temperature[i - 2])
      return message_set(msg, STATUS_BAD_INPUT, "%s: row %zu: three rows at %g degC; two make an isothermal step", name, i + 1, t->temperature[i]);
  }
  return STATUS_OK;
}

static double fraction_at(const material_table *t, size_t row)
{
  return t->liquid_fraction ? t->liquid_fraction[row] : 0.0;
}

/* Straight pieces that row interval i..i+1 is cut into. */
static size_t pieces(const material_table *t, size_t i)
{
  const double span = t->temperature[i + 1] - t->temperature[i];
  if (span == 0.0)
    return 1;
  const double c = 0.5 * (t->volumetric_heat_capacity[i] + t->volumetric_heat_capacity[i + 1]);
  const double heat = c * span + t->latent_heat * (fraction_at(t, i + 1) - fraction_at(t, i));
  const bool straight = t->volumetric_heat_capacity[i] == t->volumetric_heat_capacity[i + 1] && t->conductivity[i] == t->conductivity[i + 1];
  return straight ? 1 : (size_t)fmin(fmax(ceil(heat / finest), 1.0), MOST_PIECES);
}

/* Rows of the path for interval i, starting from `row`, which is the state at table row i; returns the row of table row i + 1.
 * A step without heat (a jump of k or c alone) adds no row: enthalpy must rise. */
static size_t walk(phase_path *p, size_t row, const material_table *t, size_t i)
{
  const size_t num = pieces(t, i), from = row;
  const double span = t->temperature[i + 1] - t->temperature[i], step = span / (double)num;
  const double latent = t->latent_heat * (fraction_at(t, i + 1) - fraction_at(t, i));
  const double c0 = t->volumetric_heat_capacity[i], dc = t->volumetric_heat_capacity[i + 1] - c0;
  const double k0 = t->conductivity[i], dk = t->conductivity[i + 1] - k0;
  if (span == 0.0 && latent == 0.0)
    return row;
  for (size_t n = 1; n <= num; n++) {
    const double x = (double)n / (double)num, reach = step * (double)n;
    row++;
    p->temperature[row] = n == num ? t->temperature[i + 1] : t->temperature[i] + reach;
    p->enthalpy[row] = p->enthalpy[from] + reach * (c0 + 0.5 * dc * x) + latent * x;
    p->potential[row] = p->potential[from] + reach * (k0 + 0.5 * dk * x);
    p->liquid_fraction[row] = fraction_at(t, i) + x * (fraction_at(t, i + 1) - fraction_at(t, i));
  }
  return row;
}

/* Potential or enthalpy of the path at a temperature, on the warm side of a step (straight between rows). */
static double at_temperature(const phase_path *p, const double *column, double temperature)
{
  size_t i = 0;
  while (i + 2 < p->num && p->temperature[i + 1] <= temperature)
    i++;
  return column[i] + (column[i + 1] - column[i]) * (temperature - p->temperature[i]) / (p->temperature[i + 1] - p->temperature[i]);
}

/* Sensible heat between table temperature row 0 and t (negative below). */
static double sensible(const material_table *t, double temperature)
{
  double heat = 0.0, here = t->temperature[0], c = t->volumetric_heat_capacity[0];
  for (size_t i = 0; i + 1 < t->num_rows && here < temperature; i++) {
    const double span = t->temperature[i + 1] - t->temperature[i];
    const double reach = fmin(temperature, t->temperature[i + 1]) - t->temperature[i];
    if (span > 0.0) {
      const double dc = t->volumetric_heat_capacity[i + 1] - t->volumetric_heat_capacity[i];
      heat += reach * (t->volumetric_heat_capacity[i] + 0.5 * dc * reach / span);
    }
    here = t->temperature[i] + reach;
    c = t->volumetric_heat_capacity[i + 1];
  }
  return heat + c * (temperature - here);
}

/* Width and anchor of the bins: the largest isothermal step, if any, is cut into a whole number of bins. */
static void choose_bins(const phase_path *p, double *anchor, double *width)
{
  const double range = p->enthalpy[p->num - 1] - p->enthalpy[0];
  double step = 0.0;
  *anchor = p->enthalpy[0];
  for (size_t i = 0; i + 1 < p->num; i++)
    if (p->temperature[i] == p->temperature[i + 1] && p->enthalpy[i + 1] - p->enthalpy[i] > step) {
      step = p->enthalpy[i + 1] - p->enthalpy[i];
      *anchor = p->enthalpy[i + 1];
    }
  *width = fmax(fmin(bin, range / 1000.0), range / MOST_BINS);
  if (step >= *width)
    *width = step / ceil(step / *width);
}

status material_from_table(material *out, const char *name, const material_table *t, message *msg)
{
  *out = (material){.density = t->density, .latent_heat = t->latent_heat};
  status s = check(name, t, msg);
  if (s != STATUS_OK)
    return s;
  (void)snprintf(out->name, sizeof out->name, "%s", name);
  (void)snprintf(out->source, sizeof out->source, "table of the user, %zu rows", t->num_rows);
  const size_t last = t->num_rows - 1;
  size_t num = 3;
  for (size_t i = 0; i < last; i++)
    num += pieces(t, i);

  phase_path path;
  s = phase_curve_path_create(&path, num, msg);
  if (s != STATUS_OK)
    return s;
  path.temperature[0] = t->temperature[0] - continued;
  path.enthalpy[0] = 0.0;
  path.potential[0] = 0.0;
  path.liquid_fraction[0] = path.liquid_fraction[1] = fraction_at(t, 0);
  path.temperature[1] = t->temperature[0];
  path.enthalpy[1] = continued * t->volumetric_heat_capacity[0];
  path.potential[1] = continued * t->conductivity[0];
  size_t row = 1;
  for (size_t i = 0; i < last; i++)
    row = walk(&path, row, t, i);
  path.temperature[row + 1] = t->temperature[last] + continued;
  path.enthalpy[row + 1] = path.enthalpy[row] + continued * t->volumetric_heat_capacity[last];
  path.potential[row + 1] = path.potential[row] + continued * t->conductivity[last];
  path.liquid_fraction[row + 1] = path.liquid_fraction[row];
  path.num = row + 2;

  /* Zeros: H = 0 for the liquid at 0 degC, u = 0 where liquid_fraction leaves 1 (0 degC if it never does). */
  size_t onset = path.num - 1;
  while (onset > 0 && path.liquid_fraction[onset - 1] == 1.0)
    onset--;
  const bool freezes = t->latent_heat > 0.0 && onset > 0 && path.liquid_fraction[onset] == 1.0;
  const double zero_u = freezes ? path.potential[onset] : at_temperature(&path, path.potential, 0.0);
  const double zero_h = path.enthalpy[1] - (t->latent_heat * (fraction_at(t, 0) - 1.0) - sensible(t, 0.0));
  for (size_t i = 0; i < path.num; i++) {
    path.potential[i] -= zero_u;
    path.enthalpy[i] -= zero_h;
  }
  double anchor, width;
  choose_bins(&path, &anchor, &width);
  s = phase_curve_through(&out->curve, &path, anchor, width, msg);
  phase_curve_path_release(&path);
  return s;
}
