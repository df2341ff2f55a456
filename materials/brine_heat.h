/* Enthalpy of ice and brine in equilibrium, shared by the closed and the mixed brine.
 *
 * Per kg, at temperature T on the ice line (liquid strength w_l(T), latent heat L(T) = partial enthalpy of water in the
 * brine minus that of ice), with f kg of liquid, S = f w_l kg of salt and 1 - f of ice:
 *     h = h_ice(T) + f L(T) + S s(T),      ds/dT = (c_brine(w_l, T) - c_ice(T) - dL/dT) / w_l(T),
 * s = partial enthalpy of the salt minus that of water. This is the exact integral of
 *     dh = [(1-f) c_ice + f c_brine] dT + L df       at constant S = f w_l,
 * so a bath may exchange salt between its nodes and still keep its heat. The salt's own zero is free (salt is conserved);
 * s = 0 at the onset of the reference strength, where exchange of salt at constant enthalpy then leaves the temperature
 * unmoved to first order. h = 0 for the liquid of the reference strength at 0 degC. */
#ifndef LASTWATER_BRINE_HEAT_H
#define LASTWATER_BRINE_HEAT_H

#include "materials/brine.h"

typedef struct {
  brine_salt salt;
  brine_liquidus source;
  mush_law mush;
  double density;        /* kg/m3, turns J/kg into J/m3                         */
  double eutectic_strength, eutectic_temperature; /* end of the ice line in use */
  double reference_temperature; /* degC, onset of the reference strength        */
  double offset;         /* J/kg added so that h = 0 as above                    */
} brine_heat;

/* STATUS_BAD_INPUT with the reason when the strength is not on the ice line. */
status brine_heat_init(brine_heat *out, brine_salt salt, brine_liquidus source, mush_law mush, double density, double reference,
                       message *msg);
/* Enthalpy J/m3 of the liquid of strength w at its own onset, and of ice there that holds the share `held` of it. */
double brine_heat_at_onset(const brine_heat *b, double w, double held);
/* The curve of a node whose liquid has strength w above its onset, and which holds `held` of it when that starts to follow the
 * lever rule (1: closed brine). latent (may be NULL): J/m3 released as latent heat from liquid to solid. */
status brine_heat_curve(phase_curve *out, const brine_heat *b, double w, double held, double *latent, message *msg);

#endif
