/* Heat transfer between a surface and a fluid that moves: published correlations, nothing fitted.
 *
 * Nusselt numbers take dimensionless groups; the functions that give W/(m2 K) take a fluid and lengths in m. Temperatures degC. */
#ifndef LASTWATER_FILM_H
#define LASTWATER_FILM_H

#include "materials/brine.h"

/* Isothermal vertical wall, natural convection, over its height: Churchill & Chu 1975 (Int. J. Heat Mass Transfer 18:1323). */
double film_nusselt_vertical(double rayleigh, double prandtl);
/* Horizontal tube, natural convection, over its diameter: Churchill & Chu 1975 (Int. J. Heat Mass Transfer 18:1049). */
double film_nusselt_tube(double rayleigh, double prandtl);
/* The same by Morgan 1975 (Adv. Heat Transfer 11:199), five ranges up to Ra 1e12. */
double film_nusselt_tube_morgan(double rayleigh);
/* Tube in crossflow, over its diameter: Churchill & Bernstein 1977 (J. Heat Transfer 99:300); Re Pr > 0.2. */
double film_nusselt_crossflow(double reynolds, double prandtl);
/* Flow along a wall, over its length, laminar and turbulent together: Gnielinski 1975 as in the VDI Heat Atlas, from memory; Re 10..1e7. */
double film_nusselt_along(double reynolds, double prandtl);
/* Unstable horizontal layer, over its depth: Globe & Dropkin 1959 (J. Heat Transfer 81:24), from memory; 1 below Ra 1700. */
double film_nusselt_layer(double rayleigh, double prandtl);

typedef struct {
  double density;       /* kg/m3     */
  double specific_heat; /* J/(kg K)  */
  double conductivity;  /* W/(m K)   */
  double viscosity;     /* Pa s      */
} film_fluid;
/* Liquid water at 0.1 MPa and brine, by the property functions of materials/; water's density is the one below. */
film_fluid film_water(double temperature);
/* Dry air at 101325 Pa, -40..60 degC: ideal gas density; viscosity by Sutherland's formula, c 1006 J/(kg K), Prandtl number 0.71 (from memory). */
film_fluid film_air(double temperature);
film_fluid film_brine(brine_salt salt, double mass_fraction, double temperature);
double film_prandtl(const film_fluid *f);
/* g (drho / rho) length^3 / (nu alpha); drho in kg/m3, >= 0. */
double film_rayleigh(const film_fluid *f, double density_difference, double length);

/* Density of liquid water, kg/m3, with its maximum at 4.03 degC: Gebhart & Mollendorf 1977 (Deep-Sea Res. 24:831), from memory. */
double film_water_density(double temperature);
/* The density difference, kg/m3 >= 0, that drives water of a bulk temperature along a vertical surface. For a surface at 0 degC: near 6 degC the upward
 * and the downward flow cancel in the mean but not in the heat; the floor of 0.35 of the stronger of the two is an engineering
 * estimate after the measured minimum between 5 and 6 degC (Merk 1953; Bendell & Gebhart 1976), +-30 %. */
double film_water_density_difference(double surface_temperature, double bulk_temperature);

/* W/(m2 K): water of a bulk temperature against a vertical surface of a height (m). 0 when both are equally warm. */
double film_water_natural(double surface_temperature, double bulk_temperature, double height);
/* W/(m2 K): fluid against a vertical wall / horizontal tube whose surface layer differs in density by density_difference (kg/m3). */
double film_vertical(const film_fluid *f, double density_difference, double height);
double film_tube(const film_fluid *f, double density_difference, double diameter);
/* W/(m2 K): across a tube or pot of a diameter at a speed (m/s). */
double film_crossflow(const film_fluid *f, double speed, double diameter);
/* W/(m2 K): along a wall of a length at a speed. */
double film_along(const film_fluid *f, double speed, double length);
/* W/(m2 K) at any surface of a stirred body that dissipates `stirring` W/kg: Calderbank & Moo-Young 1961 (Chem. Eng. Sci. 16:39),
 * h = 0.13 (eps nu)^(1/4) Pr^(-2/3) rho c, from memory; an upper estimate. */
double film_stirred(const film_fluid *f, double stirring);
/* Natural and forced together: (a^3 + b^3)^(1/3). */
double film_mixed(double natural, double forced);

#endif
