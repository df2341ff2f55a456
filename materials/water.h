/* Properties of liquid water and of ice Ih at 0.1 MPa, against temperature in degC. Outside the stated range: the same formula. */
#ifndef LASTWATER_WATER_H
#define LASTWATER_WATER_H

#include "materials/material.h"

/* J/kg at 0 degC: enthalpy of water (IAPWS SR6-08) minus that of ice (IAPWS R10-06). */
#define WATER_LATENT_HEAT 333420.0
/* kg/m3 at 0 degC, IAPWS R10-06(2009): the density by which mesh volume turns into mass. */
#define WATER_ICE_DENSITY 916.7219264

/* Liquid, -10..60 degC. */
double water_specific_heat(double temperature); /* J/(kg K), IAPWS SR6-08 (fit, 0.022 J/(kg K) to 40 degC; above within 0.02 %) */
double water_conductivity(double temperature);  /* W/(m K), IAPWS SR6-08 Eq. 8                                                 */
double water_viscosity(double temperature);     /* Pa s, IAPWS SR6-08 Eq. 7                                                    */
double water_density(double temperature);       /* kg/m3, IAPWS SR6-08 (fit, 3e-4 kg/m3, -10..40 degC; above within 0.03 %)     */
double water_expansion(double temperature);     /* 1/K, -(d density / dT) / density; negative below 3.98 degC                  */
double water_prandtl(double temperature);
double water_diffusivity(double temperature);   /* m2/s */
/* Density difference of buoyancy near the maximum: (max density - density) / max density = 9.297173e-6 |t - 4.029325|^1.894816,
 * fresh water at 1 bar, 0..20 degC (Gebhart & Mollendorf 1977, Deep-Sea Res. 24:831). 0 at the maximum. */
double water_density_defect(double temperature);

/* Ice, -60..0 degC. */
double water_ice_density(double temperature);       /* kg/m3, IAPWS R10-06 (fit, 1e-4)           */
double water_ice_specific_heat(double temperature); /* J/(kg K), IAPWS R10-06 (fit, 0.071)       */
double water_ice_conductivity(ice_law law, double temperature); /* W/(m K); laws differ by +-4 %  */
const char *water_ice_law_name(ice_law law);        /* author and year */
/* J/kg: enthalpy of supercooled water minus that of ice at one temperature, -20..0 degC (SR6-08 minus R10-06, fit, 9 J/kg). */
double water_supercooled_latent_heat(double temperature);

#endif
