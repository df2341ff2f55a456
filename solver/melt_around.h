/* What a bare piece of ice stands in: air, still or moving, and water under it or round it. Heat to its surface, W/m2.
 *
 * Air:   q = h_c (T_air - T_s) + emissivity sigma (T_air^4 - T_s^4) + latent heat of the moisture (moist_air.h).
 *        h_c of still air over the height of the piece (Churchill & Chu 1975), of wind along its width (Gnielinski 1975), both together by
 *        cubes; on faces that look up half of the still part, where cold air lies (judgement: 1-3 against 3.5-5 W/(m2 K), common practice).
 * Water: q = h (T_water - T_s), h of natural flow along the wetted height with water's density maximum at 4 degC (film.h). */
#ifndef LASTWATER_MELT_AROUND_H
#define LASTWATER_MELT_AROUND_H

#include <stdbool.h>

typedef struct {
  double temperature;       /* degC                                                                        */
  double relative_humidity; /* 0..1                                                                        */
  double pressure;          /* Pa absolute                                                                 */
  double wind;              /* m/s, 0: still                                                               */
  double emissivity;        /* 0..1: 0.97 for wet ice; 0: no radiation                                     */
  double film;              /* W/(m2 K): dry film, convection and radiation together, in place of both; NAN: worked out */
  bool moisture;            /* water of the air settles on the ice (or the ice dries)                      */
} melt_air;

typedef struct {
  bool present;
  bool fixed;               /* stays at its temperature (a lake); else it cools, and from 0 degC on it freezes */
  double mass;              /* kg, unless fixed                                                            */
  double temperature;       /* degC                                                                        */
  double film;              /* W/(m2 K); NAN: worked out                                                   */
  bool floating;            /* the piece floats upright; else it is held with the water at `level`          */
  double level;             /* m                                                                           */
  double room_conductance;  /* W/K between the water and the air                                           */
} melt_pool;

/* Sizes of the piece that the films depend on, m. */
typedef struct {
  double height, width, wetted_height;
} melt_size;

typedef struct {
  double dry, moisture; /* W/m2: convection with radiation; latent */
  double water;         /* W/m2 */
} melt_flux;

double melt_around_total(const melt_flux *q);

/* W/(m2 K): convective film of the air alone, for a surface temperature and a unit normal's upward component. */
double melt_around_air_film(const melt_air *air, const melt_size *size, double surface_temperature, double upward);
double melt_around_water_film(const melt_pool *pool, const melt_size *size, double surface_temperature);
/* Heat from air (films given) to a surface; and from water. */
melt_flux melt_around_air(const melt_air *air, double air_film, double surface_temperature);
melt_flux melt_around_water(const melt_pool *pool, double water_film, double surface_temperature);

#endif
