/* Where two things meet: heat through half cells, contacts, films, with the conductivity that the surface itself has.
 *
 * On each side stands a node (Kirchhoff potential u over the distance d to its surface), a stirred liquid (one temperature and
 * a film) or an environment. With both surfaces at temperatures T_0, T_1 the heat from side 0 to side 1, W, is
 *     q = (A_0/d_0) (u_0 - u(T_0)) = (T_0 - T_1) / R = (A_1/d_1) (u(T_1) - u_1).
 * u(T) is replaced by its tangent at the surface, u(T) = k (T - tau0): then each side offers a temperature
 * tau = u/k + offset behind a resistance, the sides act in series, and q is affine in u_0 and u_1. surface_balance finds the
 * tangents that agree with the surface temperatures they give (Newton's method on a piecewise linear function: exact after
 * the branch is right when conductivity is constant in each phase).
 *
 * Liquid in motion has its factor F at a surface on which liquid stands, and none where it would be colder than freezing. With F the surface is the
 * warmer, so that near the freezing point both may hold, and from one to the other the heat leaps: a node whose neighbours bring what lies between would
 * be taken to and fro. Between them brine has ice on the surface, as thick as its film lets through: the ice's outer face is at the freezing point,
 *     q = (F A_0/d_0) (u_0 - u(T_f)),
 * whatever stands behind, and a surface at rest, where the liquid does not move round the ice, is what is left when that is less:
 *     q = max(q at rest, min(q with F, (F A_0/d_0) (u_0 - u(T_f)))).
 * It joins the heat with F where the surface is at the freezing point, and the heat at rest where all of the way to the node would be ice. The layer's own heat
 * is left out, as it is that of the node. It is told as a tangent again, with the resistances at rest, q being the same for every tau_1. */
#ifndef LASTWATER_SURFACE_H
#define LASTWATER_SURFACE_H

#include <stdbool.h>

#include "materials/moist_air.h"
#include "materials/phase_curve.h"

typedef enum { SURFACE_END_NODE, SURFACE_END_STIRRED, SURFACE_END_ENVIRONMENT } surface_end_kind;

typedef struct {
  surface_end_kind kind;
  const phase_curve *curve; /* node, stirred */
  double potential;         /* W/m, of the node */
  double temperature;       /* degC, of the node or the environment */
  double reach;             /* node: distance / area, 1/m; stirred: 1 / (h area), K/W; environment: resistance, K/W */
  double factor;            /* node: liquid in motion divides its reach by this while the surface is liquid, >= 1 */
  bool melts;               /* node: ice that melts at its surface; warmed to the freezing point that stays there, behind a film too thin to matter,
                             * however cold the ice within still is */
  bool lays_ice;            /* node: brine, whose ice lies on a surface colder than freezing while the liquid moves (above); not where the ice is followed otherwise */
  const moist_air_room *moist; /* environment: NULL, or air whose moisture settles on a surface below the dew point; its convection is what the
                                * film, 1 / (reach area), has of it at the surface's temperature */
  double area;              /* m2, with moist */
  bool wet;                 /* with moist: the surface is liquid itself and dries when the air is dry */
} surface_end;

typedef struct {
  double slope, offset; /* tau = slope * potential + offset, degC; slope = 1/k, 0 for an environment */
  double resistance;    /* K/W between tau and the surface */
  double surface;       /* degC, temperature of the surface */
  double moisture, moisture_share; /* of the heat Q that this end gives, W, moisture brings moisture + moisture_share * Q */
} surface_side;

/* Fills side[2] for the heat between the ends through `resistance`, K/W. The total resistance must be above 0. */
void surface_balance(const surface_end end[2], double resistance, surface_side side[2]);

/* For loops over many surfaces: a node at rest, of constant properties in each phase, before a wall or anything else that is one temperature. */
typedef struct {
  double freezing_temperature, solid_conductivity, liquid_conductivity;
} surface_plain;

static inline bool surface_plain_is_solid(const surface_plain *p, double temperature, int leaning)
{
  return temperature < p->freezing_temperature || (temperature == p->freezing_temperature && leaning < 0);
}

/* side: of the node. The same bits as surface_balance; false: that takes more than two rounds, nothing was filled. */
static inline bool surface_plain_balance(const surface_plain *p, double potential, double temperature, double reach, double resistance,
                                         double other_temperature, surface_side *side)
{
  int leaning = temperature >= other_temperature ? -1 : 1;
  for (int round = 0; round < 2; round++) {
    const bool solid = surface_plain_is_solid(p, temperature, leaning);
    const double k = solid ? p->solid_conductivity : p->liquid_conductivity, slope = 1.0 / k, own = reach / k;
    const double offered = slope * potential + p->freezing_temperature, q = (offered - other_temperature) / (own + resistance);
    const double surface = offered - q * own;
    const int new_leaning = q > 0.0 ? -1 : q < 0.0 ? 1 : leaning;
    if (surface_plain_is_solid(p, surface, new_leaning) == solid || p->solid_conductivity == p->liquid_conductivity) {
      *side = (surface_side){.slope = slope, .offset = p->freezing_temperature, .resistance = own, .surface = surface};
      return true;
    }
    temperature += surface - temperature;
    leaning = new_leaning;
  }
  return false;
}

#endif
