/* A plane front followed step by step, and what it does with air and minerals: the plain method, written straight from its
 * equations and sharing nothing with solver/, as a judge of the pass for clear ice.
 *
 * Quasi-steady ice (Stefan); the water ahead is one temperature, gives its heat to the front through its own film and, before
 * there is ice, to the cold side. At every step of 2 s, w = V rho_ice / rho_water, E = exp(-w film / D), S = bulk / (E
 * saturation) (Burton, Prim & Slichter 1953, k = 0), chi = clamp((S - 2.5) / 2.5, 0, 1), captured = chi max(0, (bulk - 1.3
 * saturation E) / (1 - E)); bubbles as cylinders below 5 um/s, spaced by 3 D / w; minerals 3 % kept, 30 % above 1.5 kg/m3 at the
 * front. No bubble leaves the front, none is under pressure of its own. */
#ifndef LASTWATER_TESTS_CLOUDING_PLANE_H
#define LASTWATER_TESTS_CLOUDING_PLANE_H

#include <stddef.h>

typedef struct {
  double depth;                   /* m of water; it is rho_water / rho_ice times as deep when frozen             */
  double cold, h;                 /* K below 0 degC; W/(m2 K) from there to the ice                              */
  double warm;                    /* degC of the water at first                                                  */
  double h_water;                 /* W/(m2 K) from the water to the front; NAN: clouding_plane_still             */
  double air;                     /* over that in balance at 0 degC                                              */
  double film;                    /* m; NAN: film_of                                                             */
  double (*film_of)(double bulk); /* m, at a temperature of the water in degC                         */
  double minerals;                /* kg/m3                                                                       */
  double breathing;               /* s in which the air of the water comes to balance with the room; 0: never    */
  double renewed;                 /* frozen share at which all water makes way for fresh; 0: never               */
} clouding_plane;

typedef struct {
  double onset, above_3, above_10, above_30; /* frozen share; NAN: never                              */
  double clear, optical_depth;               /* share of the thickness below 1/m; through all of it   */
  double minerals;                           /* frozen share at which they exceed 1.5 kg/m3 in front  */
  double hours;
  double *time, *speed;     /* [num] s, m/s: as the front passes the middle of each of num even slices  */
  double *bulk_time, *bulk; /* [num_bulk] s, degC of the water, every 60 s                              */
  size_t num_bulk;
} clouding_plane_found;

/* Release it. */
void clouding_plane_follow(clouding_plane_found *found, const clouding_plane *c, size_t num);
void clouding_plane_release(clouding_plane_found *found);

/* Still water beside an upright front 0.3 m high, W/(m2 K): Churchill & Chu 1975 with the density of water (Gebhart & Mollendorf
 * 1977), computed elsewhere at ten temperatures, even in between; the value at 0 degC is the one that belongs to a film of 1.1
 * mm. */
double clouding_plane_still(double bulk);
/* Film of air that goes with it, at most 1.1 mm, that of water which only its minerals move. */
double clouding_plane_still_film(double bulk);

#endif
