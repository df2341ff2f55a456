/* Freezing times by hand formulas, beside a simulation or instead of one in a hurry. Times in s, lengths in m, temperatures degC. */
#ifndef LASTWATER_ESTIMATE_H
#define LASTWATER_ESTIMATE_H

typedef enum { ESTIMATE_PLANK, ESTIMATE_CAN_ICE, ESTIMATE_PHAM } estimate_formula;
/* One sentence: what the formula leaves out. */
const char *estimate_leaves_out(estimate_formula which);

typedef struct {
  double density, latent_heat, conductivity; /* kg/m3, J/kg, W/(m K) of the ice                                */
  double freezing_temperature, surroundings; /* degC                                                           */
  double film;                               /* W/(m2 K); INFINITY: surface at the temperature of surroundings  */
  double wall_resistance;                    /* m2 K/W of the mould's wall, 0: bare                             */
} estimate_setting;

/* Shape factors for Plank: t = rho L / dT (P D (1/h + R_wall) + R D^2 / k), D the full thickness or diameter or shortest side. */
typedef struct { double P, R; } estimate_shape;
extern const estimate_shape estimate_slab;     /* 1/2, 1/8  */
extern const estimate_shape estimate_cylinder; /* 1/4, 1/16; also a square rod */
extern const estimate_shape estimate_sphere;   /* 1/6, 1/24; also a cube */
/* A brick of sides D, b1 D, b2 D, b1 and b2 >= 1 in either order (INFINITY allowed): Plank 1941 as in the ASHRAE Refrigeration Handbook,
 * chapter Cooling and freezing times of foods, formula from memory. */
estimate_shape estimate_brick(double b1, double b2);

/* Plank 1913 / 1941. NAN unless the surroundings are below freezing. */
double estimate_plank(estimate_shape shape, double thickness, const estimate_setting *s);

/* Trade rule for a long 1:2 can in brine, 7 a^2 / (32 - T) h with a in inches and T in degF: 6028 a^2 / (-T) h in m and degC.
 * Common practice; a is the mean thickness. NAN unless the brine is below 0 degC. */
double estimate_can_ice(double thickness, double brine_temperature);

/* Pham 1986 (J. Food Technol. 21:209), from memory, for pure water: mean freezing temperature = freezing point = final temperature.
 * dimensions 1 slab, 2 cylinder, 3 sphere; half_thickness is half of D. liquid_heat: J/(kg K). */
double estimate_pham(int dimensions, double half_thickness, double initial_temperature, double liquid_heat,
                     const estimate_setting *s);

#endif
