#include "materials/phase_curve.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

/* Room for three columns of n doubles in one block; the first pointer owns it. */
static status columns_create(double **first, double **second, double **third, size_t n, message *msg)
{
  double *block = n <= SIZE_MAX / (3 * sizeof *block) ? malloc(3 * n * sizeof *block) : NULL;
  if (!block)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu rows of a material's curve", n);
  *first = block;
  *second = block + n;
  *third = block + 2 * n;
  return STATUS_OK;
}

void phase_curve_release(phase_curve *c)
{
  if (!c)
    return;
  free(c->temperature);
  free(c->guide);
  *c = (phase_curve){.temperature = NULL};
}

status phase_curve_path_create(phase_path *out, size_t num, message *msg)
{
  double *block = num <= SIZE_MAX / (4 * sizeof *block) ? malloc(4 * num * sizeof *block) : NULL;
  *out = (phase_path){.num = 0};
  if (!block)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu rows of a material's path", num);
  *out = (phase_path){num, block, block + num, block + 2 * num, block + 3 * num};
  return STATUS_OK;
}

void phase_curve_path_release(phase_path *p)
{
  free(p->enthalpy);
  *p = (phase_path){.num = 0};
}

/* Value of a column at an enthalpy between rows `row` and row + 1 (or beyond, at the ends). */
static double along(const phase_path *p, const double *column, size_t row, double enthalpy)
{
  const double share = (enthalpy - p->enthalpy[row]) / (p->enthalpy[row + 1] - p->enthalpy[row]);
  /* From the nearer row, so that a row that is met exactly is returned exactly. */
  const double rise = column[row + 1] - column[row];
  return share <= 0.5 ? column[row] + share * rise : column[row + 1] - (1.0 - share) * rise;
}

/* Where liquid_fraction leaves its lowest value and where it reaches its highest. */
static void find_phases(phase_curve *c, const phase_path *p)
{
  const double *f = p->liquid_fraction;
  size_t lowest = 0, highest = p->num - 1;
  while (lowest + 1 < p->num && f[lowest + 1] == f[0])
    lowest++;
  while (highest > 0 && f[highest - 1] == f[p->num - 1])
    highest--;
  if (f[0] == f[p->num - 1]) {
    c->solid_enthalpy = c->liquid_enthalpy = 0.0;
    c->freezing_temperature = 0.0;
    return;
  }
  c->solid_enthalpy = p->enthalpy[lowest];
  c->liquid_enthalpy = p->enthalpy[highest];
  c->freezing_temperature = p->temperature[highest];
}

/* guide[i]: the last bin whose cold edge is at or below the i-th of num_bins + 1 temperatures, evenly spaced from first to last edge. */
static status make_guide(phase_curve *c, message *msg)
{
  const double range = c->temperature[c->num_bins] - c->temperature[0];
  if (!(range > 0.0))
    return STATUS_OK;
  c->guide = malloc((c->num_bins + 1) * sizeof *c->guide);
  if (!c->guide)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for a material's curve of %zu bins", c->num_bins);
  c->guide_scale = (double)c->num_bins / range;
  size_t bin = 0;
  for (size_t i = 0; i <= c->num_bins; i++) {
    const double temperature = c->temperature[0] + (double)i / c->guide_scale;
    while (bin + 1 < c->num_bins && c->temperature[bin + 1] <= temperature)
      bin++;
    c->guide[i] = (uint32_t)bin;
  }
  return STATUS_OK;
}

status phase_curve_through(phase_curve *out, const phase_path *path, double anchor, double width, message *msg)
{
  *out = (phase_curve){.width = width};
  const double below = ceil((anchor - path->enthalpy[0]) / width), above = ceil((path->enthalpy[path->num - 1] - anchor) / width);
  const double bins = below + above;
  if (!(width > 0.0) || !(bins >= 1.0) || !(bins < 1e7))
    return message_set(msg, STATUS_BAD_INPUT, "a material's enthalpy runs from %g to %g J/m3, which is no range for bins of %g J/m3",
                       path->enthalpy[0], path->enthalpy[path->num - 1], width);
  out->num_bins = (size_t)bins;
  out->origin = anchor - below * width;
  const status s = columns_create(&out->temperature, &out->potential, &out->liquid_fraction, out->num_bins + 1, msg);
  if (s != STATUS_OK)
    return s;
  size_t row = 0;
  for (size_t edge = 0; edge <= out->num_bins; edge++) {
    const double enthalpy = anchor + ((double)edge - below) * width;
    while (row + 2 < path->num && path->enthalpy[row + 1] <= enthalpy)
      row++;
    out->temperature[edge] = along(path, path->temperature, row, enthalpy);
    out->potential[edge] = along(path, path->potential, row, enthalpy);
    out->liquid_fraction[edge] = along(path, path->liquid_fraction, row, enthalpy);
  }
  find_phases(out, path);
  const status guided = make_guide(out, msg);
  if (guided != STATUS_OK)
    phase_curve_release(out);
  return guided;
}

status phase_curve_lines(phase_curve *out, const phase_curve *lines, double low, double high, message *msg)
{
  *out = *lines;
  out->three_lines = true;
  out->temperature = out->potential = out->liquid_fraction = NULL;
  out->guide = NULL;
  const double plateau = lines->liquid_enthalpy - lines->solid_enthalpy;
  const double solid = (lines->freezing_temperature - low) / lines->solid_temperature_slope;
  const double liquid = (high - lines->freezing_temperature) / lines->liquid_temperature_slope;
  /* Straight lines need few bins: 32 over the plateau, or 16 in all where there is none. */
  out->width = plateau > 0.0 ? plateau / 32.0 : (fabs(solid) + fabs(liquid)) / 16.0;
  const double below = fmax(1.0, ceil(solid / out->width)), above = fmax(1.0, ceil(liquid / out->width));
  const double flat = plateau > 0.0 ? 32.0 : 0.0, bins = below + flat + above;
  if (!(out->width > 0.0) || !(bins < 1e7))
    return message_set(msg, STATUS_BAD_INPUT, "latent heat of %g J/m3 is out of proportion to the heat capacity", plateau);
  out->num_bins = (size_t)bins;
  out->origin = lines->solid_enthalpy - below * out->width;
  const status s = columns_create(&out->temperature, &out->potential, &out->liquid_fraction, out->num_bins + 1, msg);
  if (s != STATUS_OK)
    return s;
  for (size_t edge = 0; edge <= out->num_bins; edge++) {
    /* Counted from the kinks, so that the edges on them are exact. */
    const double cold = ((double)edge - below) * out->width, warm = ((double)edge - below - flat) * out->width;
    const double passed = flat > 0.0 ? ((double)edge - below) / flat : 0.0;
    out->temperature[edge] = lines->freezing_temperature + lines->solid_temperature_slope * fmin(cold, 0.0)
                             + lines->liquid_temperature_slope * fmax(warm, 0.0);
    out->potential[edge] = lines->solid_potential_slope * fmin(cold, 0.0) + lines->liquid_potential_slope * fmax(warm, 0.0);
    out->liquid_fraction[edge] = fmin(fmax(passed, 0.0), 1.0);
  }
  return STATUS_OK;
}

/* The last bin whose cold edge is at or below the temperature (strict: below it); 0 and num_bins - 1 at the ends. The guide says
 * between which bins to look: one of its intervals to spare on either side covers what rounding may do. */
static size_t bin_at(const phase_curve *c, double temperature, bool strict)
{
  size_t low = 0, high = c->num_bins; /* temperature[low] qualifies or low == 0; temperature[high] does not */
  if (c->guide) {
    const double place = (temperature - c->temperature[0]) * c->guide_scale, last = (double)c->num_bins;
    const size_t at = (size_t)(place > 0.0 ? (place < last ? place : last) : 0.0);
    low = at > 0 ? c->guide[at - 1] : 0;
    high = at + 2 <= c->num_bins ? (size_t)c->guide[at + 2] + 1 : c->num_bins;
  }
  while (high - low > 1) {
    const size_t middle = low + (high - low) / 2;
    const bool qualifies = strict ? c->temperature[middle] < temperature : c->temperature[middle] <= temperature;
    if (qualifies)
      low = middle;
    else
      high = middle;
  }
  return low;
}

double phase_curve_enthalpy(const phase_curve *c, double temperature)
{
  if (c->three_lines) {
    const double above = temperature - c->freezing_temperature;
    return above < 0.0 ? c->solid_enthalpy + above / c->solid_temperature_slope
                       : c->liquid_enthalpy + above / c->liquid_temperature_slope;
  }
  const size_t bin = bin_at(c, temperature, false);
  const double share = (temperature - c->temperature[bin]) / (c->temperature[bin + 1] - c->temperature[bin]);
  return c->origin + ((double)bin + share) * c->width;
}

double phase_curve_potential_at(const phase_curve *c, double temperature)
{
  if (c->three_lines) {
    const double above = temperature - c->freezing_temperature;
    return above * phase_curve_conductivity_at(c, temperature, above < 0.0 ? -1 : 1);
  }
  const size_t bin = bin_at(c, temperature, false);
  const double share = (temperature - c->temperature[bin]) / (c->temperature[bin + 1] - c->temperature[bin]);
  return c->potential[bin] + share * (c->potential[bin + 1] - c->potential[bin]);
}

double phase_curve_conductivity_at(const phase_curve *c, double temperature, int side)
{
  if (c->three_lines) {
    const bool solid = temperature < c->freezing_temperature || (temperature == c->freezing_temperature && side < 0);
    return solid ? c->solid_potential_slope / c->solid_temperature_slope
                 : c->liquid_potential_slope / c->liquid_temperature_slope;
  }
  const size_t bin = bin_at(c, temperature, side < 0);
  return (c->potential[bin + 1] - c->potential[bin]) / (c->temperature[bin + 1] - c->temperature[bin]);
}

/* K: edges of a plateau differ by rounding; whether the bin below it counts must not hang on that. */
static const double ON_EDGE = 1e-9;

double phase_curve_steepest(const phase_curve *c, double low_temperature, double high_temperature)
{
  if (c->three_lines) {
    if (high_temperature < c->freezing_temperature)
      return c->solid_potential_slope;
    if (low_temperature > c->freezing_temperature)
      return c->liquid_potential_slope;
    return fmax(c->solid_potential_slope, c->liquid_potential_slope);
  }
  const size_t first = bin_at(c, low_temperature - ON_EDGE, true), last = bin_at(c, high_temperature, false);
  double rise = 0.0;
  for (size_t bin = first; bin <= last; bin++) {
    const double here = c->potential[bin + 1] - c->potential[bin];
    rise = here > rise ? here : rise;
  }
  return rise / c->width;
}
