/* What a freezing front does with the air and the minerals dissolved in the water before it.
 *
 * Ice takes up next to nothing: both pile up in the film of still water before the front and are carried off from there. Where the air
 * at the front exceeds what water holds by enough, bubbles form and are frozen in. One place of the front, no history; SI units.
 *
 *   w = V rho_ice / rho_water, E = exp(-w film / D)               Burton, Prim & Slichter 1953 (J. Chem. Phys. 21:1987), k = 0
 *   S = bulk / (E saturation)                                     supersaturation at the front
 *   chi = clamp((S - onset) / (full - onset), 0, 1)               share of the front that bubbles (judgement)
 *   captured = chi max(0, (bulk - hold saturation E) / (1 - E))    the same film with the front held at hold * saturation
 *   spacing = clamp(spacing_factor D / w, 30 um, 8 mm)            diffusion scaling, a factor 3 uncertain */
#ifndef LASTWATER_FRONT_GAS_H
#define LASTWATER_FRONT_GAS_H

#include <stdbool.h>

typedef struct {
  double diffusivity;     /* m2/s, of air: 1.0e-9 (0.8e-9 to 1.2e-9)                                   */
  double onset;           /* S of the first bubbles: 2.5 (1.5 to 5)                                    */
  double full;            /* S at which every site is active: 5                                        */
  double hold;            /* S between bubbles: 1.3 (1.0 to 1.75)                                       */
  double spacing_factor;  /* 3 (1 to 8)                                                                */
  double surface_tension; /* N/m: a bubble is under this more pressure, 4 sigma / d; 0.0757             */
} front_gas_constants;
front_gas_constants front_gas_defaults(void);

/* The film before a place of the front that grows at a speed (m/s of ice, > 0); thickness > 0, m. */
typedef struct {
  double shut; /* E     */
  double open; /* 1 - E */
} front_gas_layer;
front_gas_layer front_gas_layer_of(const front_gas_constants *c, double speed, double thickness);

typedef struct {
  double supersaturation;  /* S                                                                */
  double share;            /* chi                                                              */
  double captured;         /* m3 STP per kg of ice                                             */
  double slope;            /* d captured / d bulk, kg of water per kg of ice                   */
} front_gas_capture;
/* bulk, saturation: m3 STP/kg. */
front_gas_capture front_gas_at(const front_gas_constants *c, const front_gas_layer *layer, double bulk, double saturation);

typedef struct {
  double fraction;   /* m3 of bubbles per m3                                                                     */
  double spacing;    /* m                                                                                        */
  double diameter;   /* m: of cylinders along the growth below 5 um/s (Bari & Hallett 1974), of spheres above      */
  double number;     /* 1/m3                                                                                     */
  double extinction; /* 1/m: 1.5 fraction / diameter, geometric optics                                            */
} front_gas_bubbles;
/* The bubbles that hold `trapped` (m3 STP per kg of ice, > 0) when the share chi > 0 of the front bubbles; pressure in Pa. Inside, the
 * gas stands under pressure + 4 sigma / diameter: with y = fraction / fraction without that, and e = 4 sigma / (pressure * diameter
 * without it), y + e y^(1-n) = 1, diameter ~ y^n: a square in y^(1/2) for cylinders, a cube in y^(1/3) for spheres. */
front_gas_bubbles front_gas_bubbles_of(const front_gas_constants *c, double trapped, double share, double speed, double pressure);

/* Of the new gas, the share that leaves the front as free bubbles (judgement): a front that faces up holds them less than one that
 * faces down. normal_z: upward part of the unit vector from ice to water. */
double front_gas_detached(double normal_z, bool agitated);

/* c_i / c_0 before a front that ran a length in water that nothing moves: tau = integral of w^2 dt / D.
 * Smith, Tiller & Rutter 1955 (Can. J. Phys. 33:723), limit k -> 0. */
double front_gas_stagnant(double tau);
/* Speed of ice, m/s, up to which it stays clear. */
double front_gas_clear_speed(const front_gas_constants *c, double bulk, double saturation, double film);
/* Share of visible light that a slab of a depth (m) sends back: tau' = 0.26 extinction depth, because bubbles scatter mostly forward
 * (Mullen & Warren 1988, J. Geophys. Res. 93:8403, from memory), R = 0.75 tau' / (1 + 0.75 tau'). */
double front_gas_reflectance(double extinction, double depth);

/* ---- minerals */
#define FRONT_GAS_SALT_DIFFUSIVITY 0.7e-9 /* m2/s: NaCl 0.73e-9, calcium bicarbonate 0.5e-9 to 0.6e-9 at 0 degC */
/* kg/m3 at a planar front above which it breaks up into cells and shuts in brine: Mullins & Sekerka 1964 (J. Appl. Phys. 35:444),
 * capillarity and the liquid's gradient dropped, c* = rho_ice L D / ((k_ice + k_water) m); m in K per kg/m3 (0.05). */
double front_gas_salt_limit(double diffusivity, double liquidus_slope);
/* Minerals at the front over those of the bulk; the film is that of air, thinned by (D_salt / D_air)^(1/3). */
double front_gas_salt_rise(double speed, double film, double air_diffusivity);

#endif
