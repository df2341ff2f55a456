/* Thickness of the film of still water before a freezing front, through which what the ice rejects must diffuse.
 *
 * Each motion that thins the film gives a transfer coefficient D / thickness; several act as the cube root of the sum of cubes. */
#ifndef LASTWATER_FRONT_FILM_H
#define LASTWATER_FRONT_FILM_H

#include "solver/rig.h"

/* Stirred or blown through with air, specific power in W/kg: Calderbank & Moo-Young 1961 (Chem. Eng. Sci. 16:39), from memory,
 * k = 0.13 (eps nu)^(1/4) Sc^(-2/3), Sc = nu / D. m. */
double front_film_stirred(double specific_power, double diffusivity);
/* Still water warmer or colder than the front along an upright wall of a height, m: Churchill & Chu 1975 carried over to mass by
 * (Pr / Sc)^(1/3). INFINITY when nothing drives it. m. */
double front_film_thermal(double bulk_temperature, double height, double diffusivity);
/* Pumped past the front at a speed, m/s, over a height: flow along a wall (film_along), carried over to mass in the same way. m. */
double front_film_pumped(double speed, double height, double diffusivity);
/* Still water that holds minerals (kg/m3): the film, made heavy by what the ice rejects, sinks once its Rayleigh number reaches 1000
 * (600 to 1700). INFINITY without minerals. m, of air. */
double front_film_solutal(double minerals, double diffusivity);

#define FRONT_FILM_LEVEL 0.7 /* |normal_z| from which a front counts as level */

/* W/kg that air blown through the water leaves in it: gas speed times g, 2 L/min on 0.15 m2 (judgement). */
#define FRONT_FILM_AIR_POWER (2e-3 / 60.0 / 0.15 * 9.81)

typedef struct {
  motion_kind kind;
  double stirring;    /* W/kg                                              */
  double speed;       /* m/s, MOTION_STIRRED by a pump; 0: by a stirrer    */
  bool aerated;       /* air is blown through: FRONT_FILM_AIR_POWER        */
  double minerals;    /* kg/m3 as poured                                   */
  double height;      /* m of the body of water                            */
  double thickness;   /* m: given outright; NAN: computed                  */
  double factor;      /* multiplies it: 1                                  */
  double diffusivity; /* m2/s                                              */
} front_film_setting;
/* m; bulk_temperature in degC. normal_z: upward part of the unit vector from ice to water (+1: ice below). Under ice (below -0.7) water
 * colder than 4 degC lies still; above ice (beyond 0.7) the heavy film stays where it is. Never thicker than 3 mm in water that may
 * move (1.5 to 8, judgement), 8 mm where none moves. */
double front_film_at(const front_film_setting *s, double bulk_temperature, double normal_z);

#endif
