/* Coefficients of brines and antifreezes, read by materials/brine*.c only. */
#ifndef LASTWATER_BRINE_DATA_H
#define LASTWATER_BRINE_DATA_H

#include "materials/brine.h"

enum { MELINDER_TERMS = 18 };
typedef struct {
  const char *name;
  bool chloride;
  brine_eutectic_point eutectic;
  double strongest;             /* mass fraction up to which the property fits are used                    */
  double hydrate_salt, hydrate_specific_heat, hydrate_conductivity; /* second solid: share, J/(kg K), W/(m K) */
  bool pitzer;                  /* liquidus and latent are given                                           */
  double liquidus[5];           /* degC = sum a_i w^i, i = 1..5                                            */
  double latent[5];             /* J per kg of ice = sum b_i t^i, i = 0..4, along the liquidus             */
  bool melinder;                /* the rest is given                                                       */
  double middle_strength;       /* per cent                                                                */
  double middle_temperature;    /* degC                                                                    */
  double freezing[6];           /* degC = sum c_i (100 w - middle)^i                                       */
  double density[MELINDER_TERMS], specific_heat[MELINDER_TERMS], conductivity[MELINDER_TERMS]; /* SI                    */
  double log_viscosity[MELINDER_TERMS];                                                        /* ln of mPa s           */
} brine_data;

const brine_data *brine_data_of(brine_salt salt); /* NULL for a number that is no salt */

#endif
