/* The liquids of a rig while it marches: strength of each bath, and how strongly each liquid stirs itself.
 *
 * Both change slowly: they are brought up to date between steps and frozen within one (design 3.1, 3.2). */
#ifndef LASTWATER_LIQUIDS_H
#define LASTWATER_LIQUIDS_H

#include "solver/adjacency.h"
#include "solver/network.h"

typedef struct liquids liquids;

typedef struct {        /* a bath as it stands */
  double mass_fraction; /* of the liquid                        */
  double overall;       /* of all that is in the tub, ice too   */
  double ice_fraction;  /* by mass of the whole bath            */
  double onset;         /* degC at the present liquid strength  */
  double water_taken;   /* kg from the room's air since the start; below 0: lost to it */
} bath_state;

/* Borrows mesh, adjacency, rig and network. */
status liquids_create(liquids **out, const mesh *m, const adjacency *a, const rig *r, network *net, message *msg);
void liquids_destroy(liquids **l);

/* The curve in force for a part; NULL for a held part. */
const phase_curve *liquids_curve(const liquids *l, int part);

/* What drives the liquids in a stage: stirrers and pumps, the air blown through aerated water. Where it stands, what it moved moves by itself. */
void liquids_drive(liquids *l, bool stirrers_stand, bool air_off);
/* Salt, kg without water, and `rest` kg of what else is in its bags, which counts as water, are put into a bath. The mesh keeps its mass, as with
 * moisture; the bath's enthalpy is the caller's. */
status liquids_add_salt(liquids *l, size_t bath, double salt, double rest, message *msg);

/* Brings strengths and motion up to date for a state at `time`, s. Motion is worked out anew when `always`, or when the frozen share
 * of some liquid moved by 1 % or its mean temperature by 2 % of its distance from freezing (0.02 to 0.25 K) since the last time.
 * Called after every accepted step. */
status liquids_update(liquids *l, double time, const double *enthalpy, bool always, message *msg);
/* The longest step that keeps motion from lagging further behind than that, s, going by the last one; INFINITY: any. */
double liquids_step_limit(const liquids *l);

/* Tells a bath the heat, J since the start, that moisture has brought to its open surface: that much water came with it and thins the brine.
 * The mesh keeps its mass: the bath stands for one a little larger, of the same strength. To be followed by liquids_update. */
status liquids_take_moisture(liquids *l, size_t bath, double heat, const double *enthalpy, message *msg);
bath_state liquids_bath(const liquids *l, size_t bath, const double *enthalpy);
/* Salt found in a still, mixed bath over all that was put into it, minus 1: must stay within 1e-9. NAN for others, where every kilogram keeps its own. */
double liquids_salt_error(const liquids *l, size_t bath, const double *enthalpy);
/* How many motion factors met their ceiling at the last update (reported, not silent). */
size_t liquids_num_capped(const liquids *l);

/* What a checkpoint must hold: [liquids_num_memory] doubles, read and written in place. */
size_t liquids_num_memory(const liquids *l);
double *liquids_memory(liquids *l);
/* After the memory was written back: rebuilds what follows from it. */
status liquids_restored(liquids *l, const double *enthalpy, message *msg);

#endif
