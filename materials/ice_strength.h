/* How ice stretches, creeps, melts under pressure and breaks. SI units, degC. */
#ifndef LASTWATER_ICE_STRENGTH_H
#define LASTWATER_ICE_STRENGTH_H

/* Young's modulus of polycrystalline ice, Pa: 9.2e9 for quick loads, from the single-crystal constants of Gammon et al. 1983 (J. Glaciol. 29:433);
 * 6e9 over minutes (4e9 to 9e9: Sinha, Gold; from memory). Poisson's ratio 0.33, the same source. */
#define ICE_STRENGTH_MODULUS 9.3e9
#define ICE_STRENGTH_SLOW_MODULUS 6.0e9
#define ICE_STRENGTH_POISSON 0.33
/* 1/K, linear, at 0 degC: a third of the volume expansion of IAPWS R10-06. */
#define ICE_STRENGTH_EXPANSION 5.3e-5
/* Pa, in tension: 0.7e6 to 3.1e6, falling with grain size and volume (Petrovic 2003, J. Mater. Sci. 38:1); working value for blocks of
 * 0.1 m3 with grains of a centimetre (judgement, 0.8e6 to 1.6e6). */
#define ICE_STRENGTH_TENSILE 1.2e6
/* Volume of water over its volume as ice, less one: 999.84 / 916.7. */
#define ICE_STRENGTH_SWELLING 0.0907
/* 1/Pa, compressibility of water at 0 degC (IAPWS-95, rounded). */
#define ICE_STRENGTH_WATER_COMPRESSIBILITY 5.1e-10

/* A of Glen's law, strain rate = A tau^3, Pa^-3 s^-1, -50..0 degC: Cuffey & Paterson 2010, table 3.4, from memory; ln A linear between rows. */
double ice_strength_creep(double temperature);
/* Melting pressure of ice Ih, Pa, -22..0.01 degC: IAPWS R14-08(2011), from memory. */
double ice_strength_melting_pressure(double temperature);
/* The reverse, degC, for 611.657 Pa to 209 MPa. */
double ice_strength_melting_temperature(double pressure);

#endif
