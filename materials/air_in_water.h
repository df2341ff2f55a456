/* Air dissolved in fresh water, and how fast it spreads. Contents in m3 of gas at 0 degC and 101325 Pa (STP) per kg of water. */
#ifndef LASTWATER_AIR_IN_WATER_H
#define LASTWATER_AIR_IN_WATER_H

/* Water in balance with moist air at 101325 Pa, 0..40 degC: N2, O2 and Ar of Weiss 1970 (Deep-Sea Res. 17:721), coefficients from memory. */
double air_in_water_balance(double temperature);
/* c_s: content of water at 0 degC under air of a total pressure, Pa absolute: Henry's law from 29.14e-6 at 101325 Pa.
 * 0 at or below the vapour pressure of water (611 Pa). */
double air_in_water_saturation(double pressure);
/* m2/s: of oxygen, Han & Bartels 1996 (J. Phys. Chem. 100:5597), from memory; nitrogen is within 5 % of it. 0..95 degC. */
double air_in_water_oxygen_diffusivity(double temperature);

/* What the water has been through before it is poured. */
typedef enum {
  AIR_TAP,      /* mains pressure, cold: 0.9 (0.8 to 1.1) of c_s; common practice, no source           */
  AIR_STOOD,    /* left to stand: in balance with the room's air at its own temperature               */
  AIR_BOILED,   /* boiled 5 to 10 min and cooled covered: 0.15 (0.05 to 0.25); common practice         */
  AIR_DEGASSED, /* stirred under vacuum: 0.10 (0.05 to 0.15); common practice                          */
  AIR_AERATED   /* as stood, and air is blown through it while it freezes                             */
} air_treatment;
/* Share of c_s (101325 Pa) that water of a temperature, poured at a site's pressure, holds after a treatment. */
double air_in_water_treated(air_treatment treatment, double temperature, double pressure);

#endif
