/* Strength of the liquid in a `mixed` bath: ice is pure but for the brine it holds, and the rest of the salt is in the liquid.
 *
 * The strength w is the root of the salt balance  w * sum over nodes of share(H; w) * density * V = salt,  share the liquid a node's
 * salt lives in (its liquid fraction, at least the brine held by ice). As long as no node is colder than its held brine this is
 * w = salt / (mass - ice). */
#ifndef LASTWATER_BATH_STRENGTH_H
#define LASTWATER_BATH_STRENGTH_H

#include <stdint.h>

#include "materials/brine.h"

typedef struct {
  brine_salt salt;
  brine_liquidus source;
  double density;         /* kg/m3 of the fill: turns volume into mass, fixed for the run         */
  double held_brine;      /* share of brine held in ice                                            */
  double salt_mass;       /* kg in the whole bath                                                  */
  size_t num;             /* nodes of the bath                                                     */
  const int32_t *node;    /* [num] their indices                                                   */
  const double *volume;   /* [..] m3 by node index                                                 */
  const double *enthalpy; /* [..] J/m3 by node index                                               */
} bath_strength_request;

typedef struct {
  double mass_fraction; /* of the liquid                                                            */
  double ice_mass;      /* kg = mass - salt-bearing liquid                                           */
  double mass;          /* kg of the bath                                                            */
  double excess_salt;   /* kg that even liquid at the eutectic cannot hold (bath frozen through), else 0 */
} bath_strength;

/* Finds the strength to 1e-12 of the salt, starting near `guess` (the last one). STATUS_FAILED: no strength between nothing and the
 * eutectic balances the salt, or the balance did not close; the message says by how much. */
status bath_strength_find(bath_strength *out, const bath_strength_request *request, double guess, message *msg);

/* Salt (kg) that the nodes carry when the liquid has strength w; NAN (and a message) when w has no ice line. */
double bath_strength_salt(const bath_strength_request *request, double mass_fraction, message *msg);

#endif
