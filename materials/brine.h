/* Brines and antifreeze: strength, onset of freezing, ice and heat over the freezing range. */
#ifndef LASTWATER_BRINE_H
#define LASTWATER_BRINE_H

#include "materials/material.h"

typedef enum { BRINE_CACL2, BRINE_NACL, BRINE_MGCL2, BRINE_KCL, BRINE_ETHYLENE_GLYCOL, BRINE_PROPYLENE_GLYCOL, BRINE_ETHANOL } brine_salt;
typedef enum { LIQUIDUS_TONER_CATLING, LIQUIDUS_MELINDER } brine_liquidus;
typedef enum { MUSH_MAXWELL, MUSH_PARALLEL } mush_law;

/* w: mass fraction of anhydrous salt; temperatures degC. Out of range: NAN. */
double brine_onset(brine_salt salt, brine_liquidus source, double mass_fraction);          /* degC            */
double brine_liquidus_fraction(brine_salt salt, brine_liquidus source, double temperature); /* w on the liquidus */
double brine_effective_latent_heat(brine_salt salt, double temperature);                    /* J per kg ice     */
double brine_density(brine_salt salt, double mass_fraction, double temperature);            /* kg/m3            */
double brine_specific_heat(brine_salt salt, double mass_fraction, double temperature);      /* J/(kg K)         */
double brine_conductivity(brine_salt salt, double mass_fraction, double temperature);       /* W/(m K)          */
double brine_viscosity(brine_salt salt, double mass_fraction, double temperature);          /* Pa s             */
/* Eutectic: mass fraction, temperature degC, latent heat J per kg of eutectic. */
typedef struct { double mass_fraction, temperature, latent_heat; } brine_eutectic_point;
brine_eutectic_point brine_eutectic(brine_salt salt);
const char *brine_name(brine_salt salt); /* "CaCl2", ... */
bool brine_is_chloride(brine_salt salt);

/* Closed brine: constant salt in every kilogram, lever rule, T-dependent effective latent heat, eutectic remainder.
 * H = 0 for the liquid at 0 degC. Refused above the eutectic, with the reason. */
status brine_closed(material *out, brine_salt salt, brine_liquidus source, double mass_fraction, mush_law mush, message *msg);

/* Mixed brine: one liquid strength w for the whole body. At T_liq(w) ice forms isothermally until it holds
 * `held_brine` (0.05..0.5, by mass) of brine; below, the held brine follows the lever rule. Same zero of H at the same
 * density (that of the fill), so that a node's H is kept when w changes. liquid_fraction is the liquid mass share. */
status brine_mixed(material *out, brine_salt salt, brine_liquidus source, double mass_fraction, double density, double held_brine,
                   mush_law mush, message *msg);

/* Ice mass share of `closed` brine of overall strength w0 at temperature (0 above onset). */
double brine_ice_fraction(brine_salt salt, brine_liquidus source, double w0, double temperature);

#endif
