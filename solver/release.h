/* When the ice lets go of its mould: a film of water lies between them everywhere.
 *
 * The film at a piece of the wall is the liquid volume of the node beside it over the sampled area of the wall there. The ice is released when
 * the thinnest film on the whole interface reaches what is asked (0.3 to 1 mm, default 0.5: judgement). */
#ifndef LASTWATER_RELEASE_H
#define LASTWATER_RELEASE_H

#include "materials/phase_curve.h"
#include "solver/adjacency.h"

#define RELEASE_FILM 0.5e-3 /* m, the default */

typedef struct {
  double thinnest;    /* m; INFINITY when the body touches no mould */
  double mean;        /* m, weighted by area                       */
  double area;        /* m2 of ice against mould                    */
  double position[3]; /* m, where it is thinnest: the last place    */
} release_film;

/* The ice of a body as it stands. */
typedef struct {
  const double *temperature, *liquid_fraction; /* [num_nodes] degC, by mass */
  const phase_curve *curve;
} release_ice;

/* is_mould[num_parts] 1: this part's wall (thin or meshed, or held) is the mould. Pieces of wall of one node count together.
 *
 * A node melts once its mean is at the freezing point, its surface sooner: a node of depth d (volume over wall area) that passes the heat q (W/m2) on to
 * the ice behind is colder than its surface by q d / (2 k) in the mean. So much warmer it counts, and what that lies above the freezing point as ice that
 * has melted at the surface: liquid d + (T + q d / (2 k)) c d / L, not below 0. */
status release_film_now(release_film *out, const mesh *m, const adjacency *a, int body, const uint8_t *is_mould, const release_ice *ice, message *msg);

/* The hand formula: half a space of ice at `temperature` < 0 degC, `flux` W/m2 into it from time 0. Surface at 0 degC after
 *     t1 = (pi/4) (k T/q)^2 / alpha   (Carslaw & Jaeger 1959, 2.9),
 * film of thickness s after t1 + x^2 - t0, where the heat that the ice still takes falls as if it had stood at 0 degC since t1 - t0:
 *     B = 2 k |T| / sqrt(pi alpha), t0 = (k T/q)^2 / (pi alpha), q x^2 - B x + C = 0, C = B sqrt(t0) - q t0 - rho L s.
 * k 2.22 W/(m K), alpha 1.18e-6 m2/s, rho L 306 MJ/m3; both times in s, without the mould's own heat. The ice takes a little less than that:
 * time stepping on a fine grid (tests/verification/test_release.c) gives 4 % less time to 0.5 mm at -10 degC and 3 kW/m2. */
typedef struct { double melts_at, released_at; } release_estimate;
release_estimate release_by_hand(double temperature, double flux, double film);

#endif
