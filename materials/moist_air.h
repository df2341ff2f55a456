/* Moist air: how much water it holds, where it dews, and what its moisture gives to a cold surface. */
#ifndef LASTWATER_MOIST_AIR_H
#define LASTWATER_MOIST_AIR_H

/* Saturation pressure, Pa, over water (-45..60 degC) and over ice (-65..0 degC): Magnus form with the coefficients of
 * Sonntag 1990, Z. Meteorol. 70:340, within 0.6 % (from memory) (611.2 exp(17.62 t/(243.12+t)), 611.2 exp(22.46 t/(272.62+t))). */
double moist_air_saturation_water(double temperature);
double moist_air_saturation_ice(double temperature);
/* Over what a surface of that temperature carries: ice below 0 degC, water above. */
double moist_air_saturation(double temperature);

/* Vapour pressure, Pa, of air at a relative humidity 0..1 (of water, as hygrometers state it also below 0 degC). */
double moist_air_vapour_pressure(double temperature, double relative_humidity);
/* Temperature at which air of that vapour pressure (> 0, Pa) is saturated over water, degC. */
double moist_air_dew_point(double vapour_pressure);
/* kg of water per m3 of air, and kg per kg of dry air at a total pressure in Pa. */
double moist_air_absolute_humidity(double vapour_pressure, double temperature);
double moist_air_humidity_ratio(double vapour_pressure, double pressure);

typedef struct {
  double convection;        /* W/(m2 K), the convective part of the film alone, without radiation */
  double temperature;       /* degC */
  double relative_humidity; /* 0..1 */
  double pressure;          /* Pa absolute */
} moist_air_room;

/* What of a film, W/(m2 K), convection and radiation together, is convection: less the radiation of a surface of emissivity 0.95 in a room of its own
 * temperature, eps sigma (Ta^2 + Ts^2) (Ta + Ts) (Incropera & DeWitt, ch. 1), in K; a weaker film is all radiation. */
double moist_air_convective_part(double film, double room_temperature, double surface_temperature);

/* Heat that moisture gives to a surface, W/m2: q = h_c / (rho cp Le^(2/3)) L_v (rho_v,air - rho_v,surface), Le^(2/3) = 0.90 (Chilton &
 * Colburn 1934), L_v 2.50 MJ/kg on water, 2.83 on frost. Negative when the surface dries (evaporates, sublimes). */
double moist_air_latent_flux(const moist_air_room *room, double surface_temperature);
/* -dq/dT_surface at a fixed mass transfer coefficient, > 0, W/(m2 K): what to add to a film coefficient. At 0 degC (a melting surface) water is meant. */
double moist_air_latent_coefficient(const moist_air_room *room, double surface_temperature);
/* Water taken up by the surface, kg/(m2 s), the same formula without L_v. */
double moist_air_condensation(const moist_air_room *room, double surface_temperature);

#endif
