/* How strongly a liquid that moves by itself multiplies conduction, without solving its flow (stirred ones are one temperature: network.h).
 *
 * Sideways every connected pocket of liquid carries heat as if its conductivity were
 *     k_eff = max(k, C h V / A),
 * h the film at its upright surfaces for the pocket's mean temperature and height, V its liquid volume, A the area of those surfaces
 * (walls, and the ice front rebuilt from liquid fractions, never the staircase); C matches the slowest cooling mode of the conduction
 * problem with k_eff to that of a mixed pocket behind a film: 0.405 = 4 / pi^2 for a slab or a ring, 0.69 = 4 / 2.405^2 for a long cylinder. In
 * (x, y, z) C lies between the two as 2 (V / A)^2 over the mean square of the level way from the pocket's middle, at most 1: 1 for a cylinder, 0.75
 * for a square bar (C 0.62, by its own mode 0.81), 0.23 for one of 1:4 (0.47; 0.60), nothing for a slab without end (the interpolation is ours).
 * Where some surfaces of a pocket of brine are warmer and some colder than its mean, heat passes through it from film to film: with
 *     k_through = V / (A / 2)^2 / (1 / (h_w A_w) + 1 / (h_c A_c))
 * a slab carries what the two films in series do. The two are weighted by the share s of the heat at the surfaces that the pocket itself gives,
 * s = |sum of A (T - T_s)| / sum of A |T - T_s|.
 * Upwards only where density grows upward (unstable): Nusselt number of the unstable layer (Globe & Dropkin 1959), else 1. Water has its
 * density maximum at 4 degC; brine's density follows temperature and strength.
 * In slush the excess over 1 is multiplied by (1 - ice share / coherency)^2, and it fades in pockets thinner than 5 mm (V / A). */
#ifndef LASTWATER_CONVECTION_H
#define LASTWATER_CONVECTION_H

#include "solver/film.h"
#include "solver/pockets.h"
#include "solver/rig.h"

/* A factor this large leaves the liquid next to no resistance of its own: beyond it only the cost of the march would grow.
 * Every region that meets it is counted. */
#define CONVECTION_CEILING 200.0

typedef struct convection convection;
status convection_create(convection **out, const mesh *m, const adjacency *a, message *msg); /* borrows both */
void convection_destroy(convection **c);

typedef struct {
  int part;
  const motion *flow;
  bool brine;                    /* else water                                                                  */
  brine_salt salt;               /* brine: which, how strong (of the liquid when mixed, overall when closed)       */
  salt_mode mode;
  double mass_fraction;
  double freezing_temperature;   /* degC: of the ice front that faces the liquid                                  */
  const double *temperature;     /* [num_nodes] degC                                                              */
  const double *liquid_fraction; /* [num_nodes] by mass                                                           */
} convection_request;

typedef struct {
  size_t num_regions;  /* connected pockets of liquid                                        */
  size_t num_capped;   /* of these: factors that met the ceiling                              */
  size_t num_unknown;  /* of these: temperature or strength outside the property tables: left at 1 */
} convection_report;

/* Writes horizontal[] and vertical[] (each >= 1) for the nodes of the part; others are untouched. vertical[node] serves the face
 * above the node. Overrides in `flow` (horizontal_factor, vertical_factor, film_coefficient) take the place of what they name. */
status convection_factors(convection *c, const convection_request *request, double *horizontal, double *vertical,
                          convection_report *report, message *msg);

#endif
