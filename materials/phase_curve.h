/* The thermodynamic curve of one material: temperature, Kirchhoff potential and liquid fraction as
 * functions of volumetric enthalpy, piecewise linear on bins of equal width in enthalpy.
 *
 *   enthalpy H     J/m3; H = 0 for the material fully solid at its freezing point (water), or for the liquid
 *                  at 0 degC (brine), or at 0 degC (everything else): each maker says which
 *   temperature T  degC, never falling with H
 *   potential u    W/m, u = integral of k dT; u = 0 at the temperature where liquid_fraction leaves 1 (the onset
 *                  of freezing), or at 0 degC for a material that does not freeze. A function of T alone.
 *   liquid_fraction 0..1 by mass
 *
 * The flux between two nodes of one material a distance d apart is (u_left - u_right) / d, W/m2.
 * Below the first and above the last bin the end bins are continued; every maker lets them carry heat
 * (temperature rises across them) and holds liquid_fraction constant over them. */
#ifndef LASTWATER_PHASE_CURVE_H
#define LASTWATER_PHASE_CURVE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "io/status.h"

typedef struct {
  double origin;      /* J/m3, enthalpy of the first edge */
  double width;       /* J/m3 per bin, > 0                */
  size_t num_bins;    /* >= 1                             */
  double *temperature, *potential, *liquid_fraction; /* [num_bins + 1] values at the edges, owned */
  uint32_t *guide;    /* [num_bins + 1] from temperature to bin, owned; NULL: none. Even steps of 1 / guide_scale, K */
  double guide_scale; /* 1/K */
  /* A curve of at most three straight lines (constant properties): u = solid_slope * min(H - solid_enthalpy, 0)
   * + liquid_slope * max(H - liquid_enthalpy, 0), and T likewise about freezing_temperature. Kernels use it
   * without a table; the bins then agree with it to rounding. */
  bool three_lines;
  double solid_enthalpy, liquid_enthalpy; /* J/m3: liquid_fraction leaves 0 / reaches 1; equal if it never freezes */
  double freezing_temperature;            /* degC, at liquid_enthalpy                                                */
  double solid_potential_slope, liquid_potential_slope;     /* du/dH, m2/s   */
  double solid_temperature_slope, liquid_temperature_slope; /* dT/dH, K m3/J */
} phase_curve;

/* Where an enthalpy lies: bin number and the share of that bin passed (below 0 or above 1 in the end bins). */
static inline size_t phase_curve_bin(const phase_curve *c, double enthalpy, double *share)
{
  const double place = (enthalpy - c->origin) / c->width, last = (double)(c->num_bins - 1);
  const double inside = place > 0.0 ? (place < last ? place : last) : 0.0;
  const size_t bin = (size_t)inside;
  *share = place - (double)bin;
  return bin;
}

static inline double phase_curve_temperature(const phase_curve *c, double enthalpy) /* degC */
{
  if (c->three_lines) {
    const double below = enthalpy - c->solid_enthalpy, above = enthalpy - c->liquid_enthalpy;
    return c->freezing_temperature + c->solid_temperature_slope * (below < 0.0 ? below : 0.0)
           + c->liquid_temperature_slope * (above > 0.0 ? above : 0.0);
  }
  double share;
  const size_t bin = phase_curve_bin(c, enthalpy, &share);
  return c->temperature[bin] + share * (c->temperature[bin + 1] - c->temperature[bin]);
}

/* Of three lines only: for loops over many enthalpies. */
static inline double phase_curve_lines_potential(const phase_curve *c, double enthalpy) /* W/m */
{
  const double below = enthalpy - c->solid_enthalpy, above = enthalpy - c->liquid_enthalpy;
  return c->solid_potential_slope * (below < 0.0 ? below : 0.0) + c->liquid_potential_slope * (above > 0.0 ? above : 0.0);
}

static inline double phase_curve_potential(const phase_curve *c, double enthalpy) /* W/m */
{
  if (c->three_lines)
    return phase_curve_lines_potential(c, enthalpy);
  double share;
  const size_t bin = phase_curve_bin(c, enthalpy, &share);
  return c->potential[bin] + share * (c->potential[bin + 1] - c->potential[bin]);
}

/* 0..1; 0 everywhere for a material that never freezes (solid_enthalpy == liquid_enthalpy). */
static inline double phase_curve_liquid_fraction(const phase_curve *c, double enthalpy)
{
  if (c->three_lines) {
    const double range = c->liquid_enthalpy - c->solid_enthalpy, passed = enthalpy - c->solid_enthalpy;
    return range > 0.0 && passed > 0.0 ? (passed < range ? passed / range : 1.0) : 0.0;
  }
  double share;
  const size_t bin = phase_curve_bin(c, enthalpy, &share);
  return c->liquid_fraction[bin] + share * (c->liquid_fraction[bin + 1] - c->liquid_fraction[bin]);
}
/* Inverse: the enthalpy at a temperature; on a plateau (T = freezing point) the liquid end. */
double phase_curve_enthalpy(const phase_curve *c, double temperature);
/* Potential at a temperature (unique, also on a plateau), W/m. */
double phase_curve_potential_at(const phase_curve *c, double temperature);
/* Conductivity k = du/dT, W/(m K), at a temperature; side < 0 takes the colder, >= 0 the warmer side of a kink. */
double phase_curve_conductivity_at(const phase_curve *c, double temperature, int side);
/* Largest du/dH over the bins between two temperatures, m2/s: what bounds an explicit step. */
double phase_curve_steepest(const phase_curve *c, double low_temperature, double high_temperature);

/* For the makers of materials. A path: rows of enthalpy (rising), temperature, potential and liquid fraction (not falling), as
 * close together as straight lines between them are good. Owned by the maker. */
typedef struct {
  size_t num;
  double *enthalpy, *temperature, *potential, *liquid_fraction; /* [num] */
} phase_path;
status phase_curve_path_create(phase_path *out, size_t num, message *msg);
void phase_curve_path_release(phase_path *p);
/* The curve through a path of at least two rows: bin edges lie at anchor + integer * width and reach past both ends of the path,
 * whose end segments are continued (liquid fraction must be constant there). Fills the arrays, origin, width and num_bins, and
 * solid_enthalpy, liquid_enthalpy, freezing_temperature from the path; three_lines is false. */
status phase_curve_through(phase_curve *out, const phase_path *path, double anchor, double width, message *msg);
/* A curve of constant properties: all fields from solid_enthalpy on are read from `lines`; bins are laid so that both kinks lie on
 * edges and agree with the lines to rounding, from about `low` to `high` degC. */
status phase_curve_lines(phase_curve *out, const phase_curve *lines, double low, double high, message *msg);
void phase_curve_release(phase_curve *c); /* frees the arrays */

#endif
