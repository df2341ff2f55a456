/* What a case comes to before anything is simulated: weights, loads, levels, lift, cautions. Used by `check` as text and as JSON.
 *
 * SI units, degC; masses that are compared with what a person may lift are also given in kg by the printers' choice. NAN: does not apply. */
#ifndef LASTWATER_CASE_FACTS_H
#define LASTWATER_CASE_FACTS_H

#include "io/case_file.h"

/* kg: what one person may lift under ideal conditions (NIOSH lifting equation, load constant; from memory). */
#define CASE_FACTS_LIFT_LIMIT 23.0

enum { CASE_FACTS_CAUTION = 320, CASE_FACTS_MOST_CAUTIONS = 24 };

typedef struct {
  double volume, mass; /* m3, kg of what it is made of; mass NAN for a held part */
} case_part_facts;

typedef struct {
  double headspace_liquid, headspace_frozen; /* m below the rim                                                        */
  double frozen_volume;                      /* m3                                                                     */
  double mould_mass;                         /* kg of the vessel; NAN when held                                        */
  int bath;                                  /* bath its vessel stands in, -1                                          */
  double displaced;                          /* m3 of brine pushed aside by vessel and contents                        */
  double up_force;                           /* N, net, positive: it floats and must be held down; NAN without a bath  */
} case_body_facts;

typedef struct {
  double onset;             /* degC, where it begins to freeze                      */
  double freeboard;         /* m below the rim                                      */
  double surface;           /* m2 of bare brine                                      */
  double litres_to_rim;     /* m3 that still fit                                     */
  double salt;              /* kg of anhydrous salt                                  */
} case_bath_facts;

typedef struct {
  double volume_inside;     /* m3 of refrigerant space                              */
  double area;              /* m2, outside                                           */
} case_coil_facts;

typedef struct {
  case_part_facts *parts;   /* [case.num_parts]    */
  case_body_facts *bodies;  /* [rig.num_bodies]    */
  case_bath_facts *baths;   /* [rig.num_baths]     */
  case_coil_facts *coils;   /* [rig.num_coils]     */
  double mass, floor_area, floor_load; /* kg, m2, kg/m2 of everything on what stands lowest */
  double floor_touching, floor_aired; /* W/(m2 K) of a wide floor on ground of 2 W/(m K) under that, touching it, and across air (ground.h) */
  size_t num_cells;
  double memory, duration;  /* bytes, s: about, on a machine with two cores */
  size_t num_cautions;
  char (*cautions)[CASE_FACTS_CAUTION]; /* belong to this rig */
} case_facts;

status case_facts_create(case_facts **out, const case_file *c, message *msg);
void case_facts_destroy(case_facts **f); /* NULL-safe */

#endif
