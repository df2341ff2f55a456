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
 * Below the first and above the last bin the end bins are continued. */
#ifndef LASTWATER_PHASE_CURVE_H
#define LASTWATER_PHASE_CURVE_H

#include <stdbool.h>
#include <stddef.h>

#include "io/status.h"

typedef struct {
  double origin;      /* J/m3, enthalpy of the first edge */
  double width;       /* J/m3 per bin, > 0                */
  size_t num_bins;    /* >= 1                             */
  double *temperature, *potential, *liquid_fraction; /* [num_bins + 1] values at the edges, owned */
  /* A curve of at most three straight lines (constant properties): u = solid_slope * min(H - solid_enthalpy, 0)
   * + liquid_slope * max(H - liquid_enthalpy, 0), and T likewise about freezing_temperature. Kernels use it
   * without a table; the bins then agree with it to rounding. */
  bool three_lines;
  double solid_enthalpy, liquid_enthalpy; /* J/m3: liquid_fraction leaves 0 / reaches 1; equal if it never freezes */
  double freezing_temperature;            /* degC, at liquid_enthalpy                                                */
  double solid_potential_slope, liquid_potential_slope;     /* du/dH, m2/s   */
  double solid_temperature_slope, liquid_temperature_slope; /* dT/dH, K m3/J */
} phase_curve;

double phase_curve_temperature(const phase_curve *c, double enthalpy);     /* degC */
double phase_curve_potential(const phase_curve *c, double enthalpy);       /* W/m  */
double phase_curve_liquid_fraction(const phase_curve *c, double enthalpy); /* 0..1 */
/* Inverse: the enthalpy at a temperature; on a plateau (T = freezing point) the liquid end. */
double phase_curve_enthalpy(const phase_curve *c, double temperature);
/* Potential at a temperature (unique, also on a plateau), W/m. */
double phase_curve_potential_at(const phase_curve *c, double temperature);
/* Conductivity k = du/dT, W/(m K), at a temperature; side < 0 takes the colder, >= 0 the warmer side of a kink. */
double phase_curve_conductivity_at(const phase_curve *c, double temperature, int side);
/* Largest du/dH over the bins between two temperatures, m2/s: what bounds an explicit step. */
double phase_curve_steepest(const phase_curve *c, double low_temperature, double high_temperature);
void phase_curve_release(phase_curve *c); /* frees the arrays */

#endif
