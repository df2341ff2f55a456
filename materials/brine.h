/* Brines and antifreeze: strength, onset of freezing, ice and heat over the freezing range. */
#ifndef LASTWATER_BRINE_H
#define LASTWATER_BRINE_H

#include "materials/material.h"

typedef enum { BRINE_CACL2, BRINE_NACL, BRINE_MGCL2, BRINE_KCL, BRINE_ETHYLENE_GLYCOL, BRINE_PROPYLENE_GLYCOL, BRINE_ETHANOL } brine_salt;
typedef enum { LIQUIDUS_TONER_CATLING, LIQUIDUS_MELINDER } brine_liquidus;
typedef enum { MUSH_MAXWELL, MUSH_PARALLEL } mush_law;

/* w: mass fraction of anhydrous salt (or of the pure antifreeze); temperatures degC. Out of range: NAN.
 * Strength 0 to the eutectic for the ice line (antifreezes: to 0.60, where its data end) and somewhat beyond for the liquid; the
 * liquid from -60 to 60 degC (antifreezes 100). Fits hold from the ice line to 40 degC (antifreezes 100), beyond they are continued.
 * Sources: ice line Toner & Catling 2017 or Melinder 2010 (the antifreezes always, KCl never); liquid Melinder 2010 (density
 * 0.6 %, specific heat 1.5 %, conductivity 2 %, viscosity 5.5 % above 10 degC, MgCl2 10 %, cold strong CaCl2 up to 24 % too thin), KCl
 * Laliberte 2009. Effective latent heat: along the ice line, 2 %. */
double brine_onset(brine_salt salt, brine_liquidus source, double mass_fraction);          /* degC            */
double brine_liquidus_fraction(brine_salt salt, brine_liquidus source, double temperature); /* w on the liquidus */
double brine_effective_latent_heat(brine_salt salt, double temperature);                    /* J per kg ice     */
double brine_density(brine_salt salt, double mass_fraction, double temperature);            /* kg/m3            */
double brine_specific_heat(brine_salt salt, double mass_fraction, double temperature);      /* J/(kg K)         */
double brine_conductivity(brine_salt salt, double mass_fraction, double temperature);       /* W/(m K)          */
double brine_viscosity(brine_salt salt, double mass_fraction, double temperature);          /* Pa s             */
/* Eutectic: mass fraction, temperature degC, latent heat J per kg of eutectic. Antifreezes: the end of the known ice line, latent heat 0
 * (no second solid; what is liquid there stays liquid). */
typedef struct { double mass_fraction, temperature, latent_heat; } brine_eutectic_point;
brine_eutectic_point brine_eutectic(brine_salt salt);
const char *brine_name(brine_salt salt); /* "CaCl2", ... */
bool brine_is_chloride(brine_salt salt);

/* Closed brine: constant salt in every kilogram, lever rule, T-dependent effective latent heat, eutectic remainder.
 * H = 0 for the liquid at 0 degC; density: the liquid at 0 degC, for all states. Refused above the eutectic, with the reason.
 * Onset and eutectic lie on bin edges (the onset and one of both when they are closer than 2e6 J/m3). material.latent_heat: all that
 * is released from liquid to solid. */
status brine_closed(material *out, brine_salt salt, brine_liquidus source, double mass_fraction, mush_law mush, message *msg);

/* The same at another strength, sharing zero and density with the fill of strength `reference` (the closed material's density): H of a kilogram
 * is kept when water or salt comes to it. */
status brine_closed_at(material *out, brine_salt salt, brine_liquidus source, double mass_fraction, double reference, double density, mush_law mush,
                       message *msg);

/* Mixed brine: one liquid strength w for the whole body. At T_liq(w) ice forms isothermally until it holds
 * `held_brine` (0.05..0.5, by mass) of brine; below, the held brine follows the lever rule. liquid_fraction is the liquid mass share.
 * Enthalpies of different w share one zero, set by `density` (that of the fill: brine_density(w_fill, 0 degC), the closed
 * material's): H = 0 for the fill at 0 degC. So a node's H is kept when w changes, and a bath at one temperature has the H of closed
 * brine of its overall strength, heat of dilution included. */
status brine_mixed(material *out, brine_salt salt, brine_liquidus source, double mass_fraction, double density, double held_brine,
                   mush_law mush, message *msg);

/* The salt balance of a mixed bath, without building its curve. At strength w the curve's layer of ice runs straight from
 * held_enthalpy (liquid_fraction = held_brine) to liquid_enthalpy (liquid_fraction 1), to rounding. Held brine keeps its salt
 * when it freezes on below that, so a node carries  w * brine_layer_share(H) * density * V  of salt, and the w of a bath is the root of
 *     sum over nodes of  w * brine_layer_share(H; w) * density * V  =  salt.
 * Above held_brine the share is the liquid fraction, and this is w = salt / (mass - ice). */
typedef struct {
  double held_brine;
  double onset;                          /* degC */
  double liquid_enthalpy, held_enthalpy; /* J/m3 */
} brine_layer;
status brine_mixed_layer(brine_layer *out, brine_salt salt, brine_liquidus source, double mass_fraction, double density,
                         double held_brine, message *msg);
static inline double brine_layer_share(const brine_layer *l, double enthalpy)
{
  const double passed = (enthalpy - l->held_enthalpy) / (l->liquid_enthalpy - l->held_enthalpy);
  return passed <= 0.0 ? l->held_brine : passed >= 1.0 ? 1.0 : l->held_brine + (1.0 - l->held_brine) * passed;
}

/* Ice mass share of `closed` brine of overall strength w0 at temperature (0 above onset). */
double brine_ice_fraction(brine_salt salt, brine_liquidus source, double w0, double temperature);

#endif
