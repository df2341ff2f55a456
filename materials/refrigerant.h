/* Refrigerants between about -50 and +60 degC: saturation, density, latent heat, enthalpy, as fits to the published
 * equations of state (R290 Lemmon, McLinden & Wagner 2009; R134a Tillner-Roth & Baehr 1994; R404A, R410A Lemmon 2003). Temperatures
 * degC, pressures Pa absolute. Outside -60..65 degC: NAN.
 *
 * R449A is an estimate: the saturation curves go through three points of an ideal mixture (24.3/24.7/25.3/25.7 % R32/R125/R1234yf/R134a,
 * Raoult's law, +-5 % in pressure); everything else is taken from R404A. refrigerant_is_estimate says so. */
#ifndef LASTWATER_REFRIGERANT_H
#define LASTWATER_REFRIGERANT_H

#include <stdbool.h>

typedef enum { REFRIGERANT_R290, REFRIGERANT_R134A, REFRIGERANT_R404A, REFRIGERANT_R410A, REFRIGERANT_R449A } refrigerant_kind;
typedef enum { REFRIGERANT_DEW, REFRIGERANT_BUBBLE } refrigerant_line;

const char *refrigerant_name(refrigerant_kind kind);      /* "R290", ...; NULL when unknown */
bool refrigerant_from_name(const char *name, refrigerant_kind *out); /* letters of either case */
bool refrigerant_is_estimate(refrigerant_kind kind);
bool refrigerant_is_flammable(refrigerant_kind kind);     /* safety class A3 or A2L of ISO 817 (R290: A3) */

/* Saturation both ways; error of the fits 0.004-0.07 %. */
double refrigerant_pressure(refrigerant_kind kind, refrigerant_line line, double temperature);
double refrigerant_temperature(refrigerant_kind kind, refrigerant_line line, double pressure);

double refrigerant_vapour_density(refrigerant_kind kind, double temperature); /* kg/m3, saturated, 0.2-0.5 %      */
double refrigerant_liquid_density(refrigerant_kind kind, double temperature); /* kg/m3, saturated, 0.1 %          */
double refrigerant_latent_heat(refrigerant_kind kind, double temperature);    /* J/kg, 0.1 %                      */
double refrigerant_liquid_enthalpy(refrigerant_kind kind, double temperature); /* J/kg, 0 at 0 degC, 0.5 kJ/kg     */
double refrigerant_vapour_specific_heat(refrigerant_kind kind, double temperature); /* J/(kg K), saturated, -40..5 degC, 0.2 % */
/* Exponent k of re-expansion and compression between two dew temperatures: k0 + k1 te + k2 tc. */
double refrigerant_isentropic_exponent(refrigerant_kind kind, double evaporating, double condensing);

#endif
