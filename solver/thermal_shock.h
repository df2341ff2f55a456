/* Will ice crack when what surrounds it is suddenly colder or warmer?
 *
 * A block of one temperature whose surroundings step by dT: the largest tension is psi E alpha dT / (1 - nu), at the skin when chilled, in the
 * middle when warmed (cylinder: along its axis). psi against the Biot number h R / k, R half the thickness or the radius: computed
 * independently, one-dimensional conduction with thermoelastic superposition; the sphere's middle at infinite Biot number, 0.386, is the classical
 * value. Creep eases slow changes, so the effective modulus of minutes is used; 0.47 MPa per kelvin. */
#ifndef LASTWATER_THERMAL_SHOCK_H
#define LASTWATER_THERMAL_SHOCK_H

#include <stdbool.h>

#include "solver/pocket_pressure.h"

typedef enum { SHOCK_SLAB, SHOCK_CYLINDER, SHOCK_SPHERE } shock_shape;

/* psi, dimensionless; Biot number > 0 (below 0.1 in proportion, above 200 towards the limit as 1 / biot). chilled: skin; else the middle, warmed. */
double thermal_shock_factor(shock_shape shape, double biot, bool chilled);

typedef struct {
  shock_shape shape;
  double half;         /* m, half the thickness or the radius                    */
  double temperature;  /* degC, of the ice                                       */
  double surroundings; /* degC                                                   */
  double film;         /* W/(m2 K)                                               */
} thermal_shock_step;
typedef struct {
  double tension;      /* Pa */
  double index;        /* tension / tensile strength */
  crack_risk risk;
  double safe_step;    /* K: what stays below half the strength: chilled, of ice above its surroundings; warmed, of ice below 0 degC */
} thermal_shock;
/* Ice warms to 0 degC at most: warmer surroundings do no more than a skin that is at 0 degC at once. */
thermal_shock thermal_shock_of(const thermal_shock_step *s);

/* s until the middle of a slab follows its skin: 0.405 R^2 / alpha, and rho c R / h for the film (first eigenvalue of the slab). */
double thermal_shock_tempering(double half, double film);

#endif
